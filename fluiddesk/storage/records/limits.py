"""Limit sets: drafted, put in force, retired; the limits of a set in force are never edited."""

import json
from typing import Any, Final
from weakref import WeakKeyDictionary

from sqlalchemy import Engine, Row, delete, insert, select

from fluiddesk.domain.errors import NotFoundError, OperatorError
from fluiddesk.domain.limits.interval_rule import IntervalRule
from fluiddesk.domain.limits.limit_set import Limit, LimitKind, LimitSet, LimitSetState, Scope
from fluiddesk.storage.records.audit import NO_SITE, AuditRecords
from fluiddesk.storage.session import Session, canonical_json
from fluiddesk.storage.tables.catalogue import IntervalRuleRow, LimitRow, LimitSetRow

_LIMIT: Final = (
    "limit_set_number", "place", "machine_kind", "model", "compartment_kind", "compartment",
    "fluid_class", "analyte", "kind", "direction", "watch", "act", "urgent", "source", "set_by",
    "boundary", "group_name", "act_needs", "urgent_needs", "note", "is_off", "companion",
    "least_change", "off_until", "derivation",
)  # fmt: skip
_INTERVAL: Final = (
    "limit_set_number", "place", "machine_kind", "model", "compartment_kind", "compartment",
    "interval_hours", "interval_days", "window_share", "convention", "source", "set_by", "note",
)  # fmt: skip


_Rows = tuple[tuple[Limit, ...], tuple[IntervalRule, ...]]
_KEPT: Final[WeakKeyDictionary[Engine, dict[tuple[int, int], _Rows]]] = WeakKeyDictionary()
"""By store, the rows of each set and version that was read before."""


class LimitRecords:
    """Reads and saves limit sets."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._audit = AuditRecords(session)

    def limit_sets(self) -> list[LimitSet]:
        """Every limit set with its limits and interval rules, by number.

        A set that was read before in the same version is not read again: sets are long, change
        seldom, and are asked for with every box that is opened.
        """
        connection = self._session.connection
        kept = _KEPT.setdefault(connection.engine, {})
        sets = connection.execute(select(LimitSetRow.__table__).order_by(LimitSetRow.number)).all()
        missing = [one.number for one in sets if (one.number, one.version) not in kept]
        fresh = self._rows(missing) if missing else {}
        answer = []
        for one in sets:
            key = (one.number, one.version)
            own = kept[key] if key in kept else fresh[one.number]
            # What an unfinished transaction wrote may be taken back, and is not kept.
            if connection.get_execution_options().get("is_reading", False):
                kept[key] = own
            answer.append(_limit_set(one, own))
        return answer

    def heads(self) -> list[LimitSet]:
        """Every limit set without its limits and interval rules: states, days and settings."""
        ordered = select(LimitSetRow.__table__).order_by(LimitSetRow.number)
        return [_limit_set(one, ((), ())) for one in self._session.connection.execute(ordered)]

    def _rows(self, numbers: list[int]) -> dict[int, _Rows]:
        limits: dict[int, list[Limit]] = {number: [] for number in numbers}
        intervals: dict[int, list[IntervalRule]] = {number: [] for number in numbers}
        wanted = select(LimitRow.__table__).where(LimitRow.limit_set_number.in_(numbers))
        ordered = wanted.order_by(LimitRow.limit_set_number, LimitRow.place)
        for found in self._session.connection.execute(ordered):
            limits[found.limit_set_number].append(_limit(found))
        rule = IntervalRuleRow
        rules = select(rule.__table__).where(rule.limit_set_number.in_(numbers))
        for found in self._session.connection.execute(rules.order_by(rule.place)):
            intervals[found.limit_set_number].append(_interval(found))
        return {number: (tuple(limits[number]), tuple(intervals[number])) for number in numbers}

    def one(self, number: int) -> LimitSet:
        """One limit set.

        Raises:
            NotFoundError: when there is none of this number.
        """
        found = next((one for one in self.limit_sets() if one.number == number), None)
        if found is None:
            raise NotFoundError(f"There is no limit set {number}. See `fluiddesk limits sets`.")
        return found

    def versions(self) -> dict[int, int]:
        """The version of every set's record, by number."""
        pairs = self._session.connection.execute(select(LimitSetRow.number, LimitSetRow.version))
        return {found.number: found.version for found in pairs}

    def version(self, number: int) -> int:
        """The version of a set's record; give it back when changing it."""
        wanted = select(LimitSetRow.version).where(LimitSetRow.number == number)
        found = self._session.connection.execute(wanted).scalar()
        if found is None:
            raise NotFoundError(f"There is no limit set {number}.")
        return int(found)

    def save(self, limit_set: LimitSet, *, program: str = "", version: int | None = None) -> None:
        """Save a new set, or a draft anew.

        Args:
            limit_set: the set with all its limits.
            program: the version of the program whose rules it was written for.
            version: the version of the draft that was read.

        Raises:
            OperatorError: when a set of this number is in force or retired: draft a new one.
            StaleEditError: when somebody else has changed the draft since.
        """
        old = next((one for one in self.limit_sets() if one.number == limit_set.number), None)
        if old is not None and old.state is not LimitSetState.DRAFT:
            raise OperatorError(
                f"Limit set {old.number} is {old.state.value.replace('_', ' ')} and is not "
                "edited any more. Copy it into a new draft."
            )
        name = f"limit set {limit_set.number}"
        values = {
            "name": limit_set.name,
            "state": limit_set.state.value,
            "valid_from": limit_set.valid_from,
            "valid_until": limit_set.valid_until,
            "author": limit_set.author,
            "note": limit_set.note,
            "program": program,
            "settings": canonical_json(dict(limit_set.settings)),
            "based_on": limit_set.based_on,
        }
        if old is None:
            stamped = {**values, "number": limit_set.number, **self._session.stamps()}
            self._session.connection.execute(insert(LimitSetRow).values(**stamped))
        else:
            self._edit(limit_set.number, values, version)
            # A draft has judged nothing yet; its rows may be written anew.
            for table in (LimitRow, IntervalRuleRow):
                own = table.limit_set_number == limit_set.number
                self._session.connection.execute(delete(table).where(own))
        rows = [_row(limit_set.number, place, one) for place, one in enumerate(limit_set.limits)]
        self._session.load("limit_row", _LIMIT, rows)
        rules = [_rule(limit_set.number, *pair) for pair in enumerate(limit_set.intervals)]
        self._session.load("interval_rule", _INTERVAL, rules)
        before = None if old is None else {"limits": len(old.limits), "name": old.name}
        self._audit.append(NO_SITE, name, before, {"limits": len(rows), "name": limit_set.name})

    def set_state(self, number: int, state: LimitSetState, *, version: int | None = None) -> None:
        """Put a set in force or retire it.

        Raises:
            StaleEditError: when somebody else has changed it since ``version`` was read.
        """
        wanted = select(LimitSetRow.state).where(LimitSetRow.number == number)
        old = self._session.connection.execute(wanted).scalar()
        self._edit(number, {"state": state.value}, version)
        self._audit.append(NO_SITE, f"limit set {number}", {"state": old}, {"state": state.value})

    def set_held(
        self,
        limit_set: LimitSet,
        *,
        version: int | None = None,
    ) -> None:
        """Write when a set holds and what is said of it, its rows left as they are.

        Args:
            limit_set: the set with its new state, days and note.
            version: the version that was read.

        Raises:
            StaleEditError: when somebody else has changed it since.
        """
        before = self.one(limit_set.number)
        values = {
            "state": limit_set.state.value,
            "valid_from": limit_set.valid_from,
            "valid_until": limit_set.valid_until,
            "note": limit_set.note,
        }
        self._edit(limit_set.number, values, version)
        told = [_held(one) for one in (before, limit_set)]
        self._audit.append(NO_SITE, f"limit set {limit_set.number}", *told)

    def note_row(self, number: int, told: str, old: object, new: object) -> None:
        """Put one change of a draft's row in the audit trail."""
        self._audit.append(NO_SITE, f"limit set {number}, {told}", old, new)

    def _edit(self, number: int, values: dict[str, Any], version: int | None) -> None:
        table = LimitSetRow.metadata.tables["limit_set"]
        self._session.edit(
            table, {"number": number}, values, version=version, name=f"limit set {number}"
        )


def _row(number: int, place: int, limit: Limit) -> tuple[Any, ...]:
    scope = limit.scope
    return (
        number, place, scope.machine_kind, scope.model, scope.compartment_kind,
        scope.compartment, scope.fluid_class, limit.analyte, limit.kind.value, limit.direction,
        limit.watch, limit.act, limit.urgent, limit.source, limit.set_by, limit.boundary,
        limit.group, limit.act_needs, limit.urgent_needs, limit.note, limit.is_off,
        limit.companion, limit.least_change, limit.off_until, limit.derivation,
    )  # fmt: skip


def _rule(number: int, place: int, rule: IntervalRule) -> tuple[Any, ...]:
    scope = rule.scope
    return (
        number, place, scope.machine_kind, scope.model, scope.compartment_kind, scope.compartment,
        rule.interval_hours, rule.interval_days, rule.window_share, rule.convention, rule.source,
        rule.set_by, rule.note,
    )  # fmt: skip


def _held(limit_set: LimitSet) -> dict[str, str | None]:
    until = limit_set.valid_until
    return {
        "state": limit_set.state.value,
        "valid_from": limit_set.valid_from.isoformat(),
        "valid_until": None if until is None else until.isoformat(),
        "note": limit_set.note,
    }


def _limit(found: Row[*tuple[Any, ...]]) -> Limit:
    return Limit(
        scope=Scope(
            machine_kind=found.machine_kind,
            model=found.model,
            compartment_kind=found.compartment_kind,
            compartment=found.compartment,
            fluid_class=found.fluid_class,
        ),
        analyte=found.analyte,
        kind=LimitKind(found.kind),
        direction=found.direction,
        watch=found.watch,
        act=found.act,
        urgent=found.urgent,
        source=found.source,
        set_by=found.set_by,
        boundary=found.boundary,
        group=found.group_name,
        act_needs=found.act_needs,
        urgent_needs=found.urgent_needs,
        note=found.note,
        is_off=found.is_off,
        companion=found.companion,
        least_change=found.least_change,
        off_until=found.off_until,
        derivation=found.derivation,
    )


def _interval(found: Row[*tuple[Any, ...]]) -> IntervalRule:
    return IntervalRule(
        scope=Scope(
            machine_kind=found.machine_kind,
            model=found.model,
            compartment_kind=found.compartment_kind,
            compartment=found.compartment,
        ),
        interval_hours=found.interval_hours,
        interval_days=found.interval_days,
        window_share=found.window_share,
        convention=found.convention,
        source=found.source,
        set_by=found.set_by,
        note=found.note,
    )


def _limit_set(found: Row[*tuple[Any, ...]], rows: _Rows) -> LimitSet:
    return LimitSet(
        number=found.number,
        name=found.name,
        state=LimitSetState(found.state),
        valid_from=found.valid_from,
        valid_until=found.valid_until,
        author=found.author,
        note=found.note,
        limits=rows[0],
        intervals=rows[1],
        settings=json.loads(found.settings),
        based_on=found.based_on,
    )
