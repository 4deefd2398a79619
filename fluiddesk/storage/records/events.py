"""What happened to compartments and what meters showed: added and superseded, never overwritten."""

from collections.abc import Iterable
from typing import Any, Final

from sqlalchemy import Row, select, update

from fluiddesk.domain.errors import NotFoundError
from fluiddesk.domain.fleet import Certainty, EventKind
from fluiddesk.domain.identity import CompartmentId, MachineId, SiteId
from fluiddesk.storage.records.rows import EventRecord, MeterReadingRecord
from fluiddesk.storage.session import Session
from fluiddesk.storage.tables.fleet import CompartmentEventRow, MeterReadingRow

_EVENT: Final = (
    "site_id", "id", "compartment_id", "kind", "happened_on", "true_hours", "litres",
    "fluid_code", "certainty", "source", "superseded_by", "note",
)  # fmt: skip


class EventRecords:
    """Reads and adds events and meter readings."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def of_compartment(self, compartment: CompartmentId) -> list[EventRecord]:
        """A compartment's events that no other one superseded, denied ones included, by day."""
        row = CompartmentEventRow
        wanted = select(row.__table__).where(
            self._session.any_site(row.site_id),
            row.compartment_id == compartment,
            row.superseded_by.is_(None),
        )
        found = self._session.connection.execute(wanted.order_by(row.happened_on, row.id))
        return [_event(one) for one in found]

    def all(self) -> list[EventRecord]:
        """Every event that no other one superseded, by compartment and day."""
        row = CompartmentEventRow
        wanted = select(row.__table__).where(row.superseded_by.is_(None))
        ordered = wanted.order_by(row.site_id, row.compartment_id, row.happened_on, row.id)
        return [_event(one) for one in self._session.connection.execute(ordered)]

    def add(self, event: EventRecord, supersedes: bytes | None = None) -> bytes:
        """Add an event with its identifier; the older one stays, marked as superseded.

        Raises:
            NotFoundError: when there is no event in force to supersede.
        """
        self._session.load("compartment_event", _EVENT, _rows([event]))
        if supersedes is not None:
            row = CompartmentEventRow
            changed = self._session.connection.execute(
                update(row)
                .where(row.site_id == event.site, row.id == supersedes, row.superseded_by.is_(None))
                .values(superseded_by=event.id)
            )
            if changed.rowcount != 1:
                raise NotFoundError(f"Event {supersedes.hex()} is not in force any more.")
        return event.id

    def meter_readings(self, machine: MachineId) -> list[MeterReadingRecord]:
        """A machine's meter readings that are not voided, by day."""
        row = MeterReadingRow
        wanted = select(row.__table__).where(
            self._session.any_site(row.site_id),
            row.machine_id == machine,
            row.voided_reason.is_(None),
        )
        return [
            MeterReadingRecord(
                site=SiteId(one.site_id),
                machine=MachineId(one.machine_id),
                read_on=one.read_on,
                value=one.value,
                true_hours=one.true_hours,
                source=one.source,
                meter=one.meter_id,
            )
            for one in self._session.connection.execute(wanted.order_by(row.read_on, row.id))
        ]


def _rows(events: Iterable[EventRecord]) -> list[tuple[Any, ...]]:
    return [
        (one.site, one.id, one.compartment, one.kind.value, one.happened_on, one.true_hours,
         one.litres, one.fluid, one.certainty.value, one.source, one.superseded_by, one.note)
        for one in events
    ]  # fmt: skip


def _event(found: Row[*tuple[Any, ...]]) -> EventRecord:
    return EventRecord(
        site=SiteId(found.site_id),
        id=found.id,
        compartment=CompartmentId(found.compartment_id),
        kind=EventKind(found.kind),
        happened_on=found.happened_on,
        certainty=Certainty(found.certainty),
        source=found.source,
        true_hours=found.true_hours,
        litres=found.litres,
        fluid=found.fluid_code,
        note=found.note,
        superseded_by=found.superseded_by,
    )
