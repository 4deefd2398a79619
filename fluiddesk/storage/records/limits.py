"""Limit sets: drafted, put in force, retired; the limits of a set in force are never edited."""

from typing import Any, Final
from weakref import WeakKeyDictionary

from sqlalchemy import Engine, Row, delete, insert, select

from fluiddesk.domain.errors import NotFoundError, OperatorError
from fluiddesk.domain.limits.limit_set import Limit, LimitKind, LimitSet, LimitSetState, Scope
from fluiddesk.storage.records.audit import NO_SITE, AuditRecords
from fluiddesk.storage.session import Session
from fluiddesk.storage.tables.catalogue import LimitRow, LimitSetRow

_LIMIT: Final = (
    "limit_set_number", "place", "machine_kind", "model", "compartment_kind", "compartment",
    "fluid_class", "analyte", "kind", "direction", "watch", "act", "urgent", "source", "set_by",
    "boundary", "group_name", "act_needs", "urgent_needs", "note", "is_off",
)  # fmt: skip


_KEPT: Final[WeakKeyDictionary[Engine, dict[tuple[int, int], tuple[Limit, ...]]]] = (
    WeakKeyDictionary()
)
"""By store, the limits of each set and version that was read before."""


class LimitRecords:
    """Reads and saves limit sets."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._audit = AuditRecords(session)

    def limit_sets(self) -> list[LimitSet]:
        """Every limit set with its limits, by number.

        A set that was read before in the same version is not read again: sets are long, change
        seldom, and are asked for with every box that is opened.
        """
        connection = self._session.connection
        kept = _KEPT.setdefault(connection.engine, {})
        sets = connection.execute(select(LimitSetRow.__table__).order_by(LimitSetRow.number)).all()
        missing = [one.number for one in sets if (one.number, one.version) not in kept]
        limits = self._limits(missing) if missing else {}
        answer = []
        for one in sets:
            key = (one.number, one.version)
            own = kept[key] if key in kept else limits.get(one.number, ())
            # What an unfinished transaction wrote may be taken back, and is not kept.
            if connection.get_execution_options().get("is_reading", False):
                kept[key] = own
            answer.append(_limit_set(one, own))
        return answer

    def _limits(self, numbers: list[int]) -> dict[int, tuple[Limit, ...]]:
        limits: dict[int, list[Limit]] = {}
        wanted = select(LimitRow.__table__).where(LimitRow.limit_set_number.in_(numbers))
        ordered = wanted.order_by(LimitRow.limit_set_number, LimitRow.place)
        for found in self._session.connection.execute(ordered):
            limits.setdefault(found.limit_set_number, []).append(_limit(found))
        return {number: tuple(own) for number, own in limits.items()}

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
        }
        if old is None:
            stamped = {**values, "number": limit_set.number, **self._session.stamps()}
            self._session.connection.execute(insert(LimitSetRow).values(**stamped))
        else:
            self._edit(limit_set.number, values, version)
            # A draft has judged nothing yet; its rows may be written anew.
            self._session.connection.execute(
                delete(LimitRow).where(LimitRow.limit_set_number == limit_set.number)
            )
        rows = [_row(limit_set.number, place, one) for place, one in enumerate(limit_set.limits)]
        self._session.load("limit_row", _LIMIT, rows)
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
    )  # fmt: skip


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
    )


def _limit_set(found: Row[*tuple[Any, ...]], limits: tuple[Limit, ...]) -> LimitSet:
    return LimitSet(
        number=found.number,
        name=found.name,
        state=LimitSetState(found.state),
        valid_from=found.valid_from,
        valid_until=found.valid_until,
        author=found.author,
        note=found.note,
        limits=limits,
    )
