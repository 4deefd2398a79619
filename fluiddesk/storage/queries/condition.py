"""How every compartment stands, in one statement."""

from collections.abc import Collection, Iterable, Sequence
from typing import Any, Final

from sqlalchemy import Select, Subquery, and_, case, func, null, select, type_coerce
from sqlalchemy.types import Text

from fluiddesk.domain.fleet import MachineState
from fluiddesk.domain.samples import AWAITED
from fluiddesk.storage.queries.boxes import FEW
from fluiddesk.storage.records.rows import ConditionRecord
from fluiddesk.storage.session import Session
from fluiddesk.storage.tables.derived import CurrentConditionRow, MachineUsageRow
from fluiddesk.storage.tables.fleet import (
    CompartmentRow,
    MachineRow,
    MachineTransferRow,
    SiteRow,
)
from fluiddesk.storage.tables.sampling import SampleRow

CONDITION_COLUMNS: Final[tuple[str, ...]] = (
    "site_id", "site", "machine_id", "machine", "machine_kind", "model", "machine_state",
    "compartment_id", "kind", "position", "interval_hours", "interval_days", "severity", "trust",
    "taken_on", "true_hours", "fluid_hours", "direction", "headline", "reasons", "first_seen_on",
    "hours_now", "usage_as_of", "hours_per_day", "sample_id", "previous_severity", "criticality",
    "fluid_code", "awaited_on", "awaited_hours",
)  # fmt: skip
"""What stands where in a row of ``ConditionQuery.rows``.

Days are ISO text on both databases, identifiers bytes. Everything from ``severity`` to
``first_seen_on``, ``sample_id`` and ``previous_severity`` is ``None`` for a compartment that has
never been sampled, the usage ``None`` for a machine whose meters were never read. ``criticality``
is the machine's. ``awaited_on`` and ``awaited_hours`` are of the newest sample that was drawn and
has no report yet.
"""

_CONDITION: Final = (
    "site_id", "compartment_id", "sample_id", "severity", "trust", "taken_on", "true_hours",
    "fluid_hours", "direction", "previous_severity", "reasons", "headline", "assessed_at",
    "first_seen_on",
)  # fmt: skip

_TOLD_OF_ALL: Final = "SELECT compartment_id, reasons, headline FROM current_condition"

_OF_THE_RECORD: Final = ("site_id", "compartment_id", "sample_id")


class ConditionQuery:
    """Reads and writes the maintained table of how compartments stand."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def rows(self, compartments: Collection[bytes] | None = None) -> list[tuple[Any, ...]]:
        """Every compartment in use, in the order of ``CONDITION_COLUMNS``; by site and machine.

        Args:
            compartments: only these, where given; those of sold machines too.
        """
        dialect = self._session.connection.dialect
        statement = _statement(is_sqlite=self._session.is_sqlite)
        if compartments is not None:
            box = CompartmentRow
            only = statement.where(
                self._session.any_site(box.site_id), box.id.in_(list(compartments))
            )
            return [tuple(row) for row in self._session.connection.execute(only)]
        statement = statement.where(MachineRow.state != MachineState.SOLD.value)
        compiled = statement.compile(dialect=dialect, compile_kwargs={"literal_binds": True})
        return self._session.rows(str(compiled))

    def told_of(self, compartment: bytes) -> tuple[str, str] | None:
        """The reasons and the headline of a compartment; ``None`` where none stand."""
        row = CurrentConditionRow
        wanted = select(row.reasons, row.headline).where(
            self._session.any_site(row.site_id), row.compartment_id == compartment
        )
        found = self._session.connection.execute(wanted).first()
        return None if found is None else (str(found.reasons), str(found.headline))

    def told(self, compartments: Collection[bytes]) -> dict[bytes, tuple[str, str]]:
        """The reasons and the headline that stand for each of these compartments."""
        if len(compartments) > FEW:
            chosen = set(compartments)
            every = self._session.rows(_TOLD_OF_ALL)
            return {key: (reasons, line) for key, reasons, line in every if key in chosen}
        row = CurrentConditionRow
        wanted = select(row.compartment_id, row.reasons, row.headline).where(
            self._session.any_site(row.site_id), row.compartment_id.in_(list(compartments))
        )
        found = self._session.connection.execute(wanted)
        return {key: (reasons, line) for key, reasons, line in found}

    def save(self, records: Iterable[ConditionRecord]) -> None:
        """Write how compartments stand, in place of what stood there.

        A box that goes on at another site stands the same, until it has a sample of its own there.
        """
        rows = [
            (one.site, one.compartment, one.sample, int(one.severity), int(one.trust),
             one.taken_on, one.true_hours, one.fluid_hours, int(one.direction),
             None if one.previous_severity is None else int(one.previous_severity), one.reasons,
             one.headline, one.assessed_at, one.first_seen_on)
            for one in records
        ]  # fmt: skip
        self._session.put("current_condition", _CONDITION, rows)
        self.carry_on([row[1] for row in rows])

    def carry_on(self, compartments: Collection[bytes]) -> None:
        """Let boxes that were handed over to another site stand there as they stand here."""
        chosen = set(compartments)
        while chosen:
            pairs = [
                found
                for found in self._session.connection.execute(_going_on())
                if found.before in chosen
            ]
            if not pairs:
                return
            names = [name for name in _CONDITION if name not in _OF_THE_RECORD]
            stood = self._standing_of([found.before for found in pairs], names)
            self._session.put(
                "current_condition",
                (*_OF_THE_RECORD, *names),
                [
                    (found.site_id, found.after, None, *stood[found.before])
                    for found in pairs
                    if found.before in stood
                ],
            )
            chosen = {found.after for found in pairs}

    def _standing_of(
        self, compartments: Collection[bytes], names: Sequence[str]
    ) -> dict[bytes, tuple[Any, ...]]:
        row = CurrentConditionRow
        columns = [getattr(row, name) for name in names]
        wanted = select(row.compartment_id, *columns).where(
            self._session.any_site(row.site_id), row.compartment_id.in_(list(compartments))
        )
        found = self._session.connection.execute(wanted)
        return {key: tuple(values) for key, *values in found}


def _going_on() -> Select[*tuple[Any, ...]]:
    """Boxes whose machine went to another site, with the box that goes on from them.

    Only those that have no sample of their own yet: they stand by the earlier record's.
    """
    moved, now = MachineTransferRow, CurrentConditionRow
    earlier, later = CompartmentRow.__table__.alias(), CompartmentRow.__table__.alias()
    before, after = earlier.c, later.c
    return (
        select(before.id.label("before"), after.site_id, after.id.label("after"))
        .select_from(moved)
        .join(earlier, and_(before.site_id == moved.site_id, before.machine_id == moved.machine_id))
        .join(
            later,
            and_(
                after.site_id == moved.to_site_id,
                after.machine_id == moved.to_machine_id,
                after.kind == before.kind,
                after.position == before.position,
            ),
        )
        .outerjoin(now, and_(now.site_id == after.site_id, now.compartment_id == after.id))
        .where(now.sample_id.is_(None))
    )


def _awaited() -> Subquery:
    """The newest sample of each compartment that was drawn and has no report yet; few rows."""
    row = SampleRow
    return (
        select(
            row.site_id,
            row.compartment_id,
            func.max(row.taken_on).label("taken_on"),
            func.max(row.true_hours).label("true_hours"),
        )
        .where(
            row.site_id.in_(select(SiteRow.site_id)),
            row.state.in_([state.value for state in AWAITED]),
        )
        .group_by(row.site_id, row.compartment_id)
        .subquery()
    )


def _statement(*, is_sqlite: bool) -> Select[*tuple[Any, ...]]:
    now, box, usage = CurrentConditionRow, CompartmentRow, MachineUsageRow

    def day(column: Any) -> Any:
        text = type_coerce(column, Text) if is_sqlite else func.to_char(column, "YYYY-MM-DD")
        return case((column.is_(None), null()), else_=text) if not is_sqlite else text

    awaited = _awaited()
    return (
        select(
            box.site_id, SiteRow.name, box.machine_id, MachineRow.code, MachineRow.kind,
            MachineRow.model, MachineRow.state, box.id, box.kind, box.position,
            box.interval_hours, box.interval_days, now.severity, now.trust, day(now.taken_on),
            now.true_hours, now.fluid_hours, now.direction, now.headline, now.reasons,
            day(now.first_seen_on), usage.hours_now, day(usage.as_of), usage.hours_per_day,
            now.sample_id, now.previous_severity, MachineRow.criticality, box.fluid_code,
            day(awaited.c.taken_on), awaited.c.true_hours,
        )
        .join(MachineRow, and_(MachineRow.site_id == box.site_id, MachineRow.id == box.machine_id))
        .join(SiteRow, SiteRow.site_id == box.site_id)
        .outerjoin(now, and_(now.site_id == box.site_id, now.compartment_id == box.id))
        .outerjoin(
            usage, and_(usage.site_id == box.site_id, usage.machine_id == box.machine_id)
        )
        .outerjoin(
            awaited, and_(awaited.c.site_id == box.site_id, awaited.c.compartment_id == box.id)
        )
        .where(box.retired.is_(False))
        .order_by(box.site_id, MachineRow.code, box.kind, box.position)
    )  # fmt: skip
