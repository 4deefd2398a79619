"""Sites, machines, meters, compartments and events: domain values to rows and back."""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from sqlalchemy import Row, Select, select, update

from fluiddesk.domain.errors import NotFoundError
from fluiddesk.domain.fleet import Compartment, Machine, MachineState, Meter
from fluiddesk.domain.fluids.product import FluidProduct
from fluiddesk.domain.identity import CompartmentId, MachineId, SiteId
from fluiddesk.storage.records.audit import AuditRecords
from fluiddesk.storage.records.catalogue import CatalogueRecords
from fluiddesk.storage.records.events import EventRecords
from fluiddesk.storage.records.rows import (
    EventRecord,
    MeterReadingRecord,
    MeterRecord,
    ReferenceRecord,
    SiteRecord,
    UsageRecord,
)
from fluiddesk.storage.session import Session, canonical_json
from fluiddesk.storage.tables.derived import MachineUsageRow
from fluiddesk.storage.tables.fleet import CompartmentRow, MachineRow, MeterRow, SiteRow

_MACHINE = (
    "site_id", "id", "code", "kind", "model", "state", "criticality", "serial", "in_service_on",
    "cost_per_down_hour", "machine_uuid",
)  # fmt: skip
_COMPARTMENT = (
    "site_id", "id", "machine_id", "kind", "position", "fluid_code", "capacity_l",
    "residue_share", "interval_hours", "interval_days", "filter_micron",
)  # fmt: skip
_METER = (
    "site_id", "id", "machine_id", "kind", "fitted_on", "removed_on", "start_value", "end_value",
    "hours_before", "rolls_over_at",
)  # fmt: skip
_METER_READING = (
    "site_id", "id", "machine_id", "meter_id", "read_on", "value", "true_hours", "source",
)  # fmt: skip
_USAGE = (
    "site_id", "machine_id", "hours_now", "as_of", "hours_per_day", "hours_per_day_spread",
    "readings",
)  # fmt: skip


class FleetRecords:
    """Reads and changes the fleet of every site in the store."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._audit = AuditRecords(session)
        self._events = EventRecords(session)
        self._catalogue = CatalogueRecords(session)

    def sites(self) -> list[SiteRecord]:
        """Every site, by number."""
        found = self._session.connection.execute(
            select(SiteRow.__table__).order_by(SiteRow.site_id)
        )
        return [
            SiteRecord(
                site=SiteId(one.site_id),
                name=one.name,
                time_zone=one.time_zone,
                dust_shares=json.loads(one.dust_shares),
                version=one.version,
            )
            for one in found
        ]

    def add_site(self, site: SiteRecord) -> None:
        """Add a site. Its number never changes."""
        shares = canonical_json(dict(site.dust_shares))
        row = (site.site, site.name, site.time_zone, shares)
        self._session.load("site", ("site_id", "name", "time_zone", "dust_shares"), [row])
        self._audit.append(site.site, f"site {site.name}", None, {"time_zone": site.time_zone})

    def machines(self) -> list[Machine]:
        """Every machine, by site and code."""
        wanted = select(MachineRow.__table__).order_by(MachineRow.site_id, MachineRow.code)
        return [_machine(found) for found in self._session.connection.execute(wanted)]

    def machine(self, code: str, *, site: SiteId | None = None) -> Machine:
        """The machine with this code; letter case matters only where two differ by nothing else.

        Raises:
            NotFoundError: when no machine, or one at more than one site, has this code.
        """
        wanted = code.strip().casefold()
        known = [one for one in self.machines() if site is None or one.site == site]
        found = [one for one in known if one.code == code.strip()] or [
            one for one in known if one.code.casefold() == wanted
        ]
        if not found:
            raise NotFoundError(
                f'There is no machine "{code}". Check its number in the fleet list.'
            )
        if len(found) > 1:
            raise NotFoundError(f'"{code}" is a machine at {len(found)} sites. Name the site too.')
        return found[0]

    def machine_version(self, machine: Machine) -> int:
        """The version of a machine's record; give it back when saving an edit."""
        wanted = select(MachineRow.version).where(
            MachineRow.site_id == machine.site, MachineRow.id == machine.id
        )
        return int(self._session.connection.execute(wanted).scalar_one())

    def add_machine(
        self,
        machine: Machine,
        *,
        in_service_on: date | None = None,
        cost_per_down_hour: float | None = None,
    ) -> None:
        """Add a machine."""
        row = (
            machine.site, machine.id, machine.code, machine.kind, machine.model,
            machine.state.value, machine.criticality, machine.serial, in_service_on,
            cost_per_down_hour, machine.id,
        )  # fmt: skip
        self._session.load("machine", _MACHINE, [row])
        self._audit.append(machine.site, f"machine {machine.code}", None, _told(machine))

    def edit_machine(self, machine: Machine, *, version: int | None) -> None:
        """Save an edited machine.

        Raises:
            StaleEditError: when somebody else has changed it since ``version`` was read.
        """
        old = next((one for one in self.machines() if one.id == machine.id), None)
        values = {
            "code": machine.code,
            "kind": machine.kind,
            "model": machine.model,
            "serial": machine.serial,
            "state": machine.state.value,
            "criticality": machine.criticality,
        }
        name = f"machine {machine.code}"
        key = {"site_id": machine.site, "id": machine.id}
        self._session.edit(
            MachineRow.metadata.tables["machine"], key, values, version=version, name=name
        )
        self._audit.append(machine.site, name, None if old is None else _told(old), _told(machine))

    def meters(self, machine: MachineId) -> list[Meter]:
        """A machine's meters in the order in which they were fitted."""
        return [record.meter for record in self.meter_records(machine)]

    def meter_records(self, machine: MachineId) -> list[MeterRecord]:
        """A machine's meters with their identifiers, in the order in which they were fitted."""
        wanted = select(MeterRow.__table__).where(
            self._session.any_site(MeterRow.site_id), MeterRow.machine_id == machine
        )
        found = self._session.connection.execute(wanted.order_by(MeterRow.fitted_on, MeterRow.id))
        return [
            MeterRecord(
                id=one.id,
                machine=MachineId(one.machine_id),
                removed_on=one.removed_on,
                end_value=one.end_value,
                meter=Meter(
                    fitted_on=one.fitted_on,
                    start_value=one.start_value,
                    hours_before=one.hours_before,
                    unit=one.kind,
                    rolls_over_at=one.rolls_over_at,
                ),
            )
            for one in found
        ]

    def add_meter(
        self, machine: Machine, meter: Meter, *, ends_last_at: float | None = None
    ) -> bytes:
        """Add a meter and return its identifier; the one before ends that day."""
        made = self._session.new_id()
        before = [one for one in self.meter_records(machine.id) if one.removed_on is None]
        for last in before:
            self._session.connection.execute(
                update(MeterRow)
                .where(MeterRow.site_id == machine.site, MeterRow.id == last.id)
                .values(removed_on=meter.fitted_on, end_value=ends_last_at)
            )
        row = (
            machine.site, made, machine.id, meter.unit, meter.fitted_on, None, meter.start_value,
            None, meter.hours_before, meter.rolls_over_at,
        )  # fmt: skip
        self._session.load("meter", _METER, [row])
        told = {"fitted_on": meter.fitted_on.isoformat(), "start_value": meter.start_value}
        self._audit.append(machine.site, f"meter of machine {machine.code}", None, told)
        return made

    def add_meter_readings(self, readings: Iterable[MeterReadingRecord]) -> int:
        """Add meter readings; their true hours are the caller's."""
        new_id = self._session.new_id
        rows = (
            (one.site, new_id(), one.machine, one.meter, one.read_on, float(one.value),
             float(one.true_hours), one.source)
            for one in readings
        )  # fmt: skip
        return self._session.load("meter_reading", _METER_READING, rows)

    def meter_readings(self, machine: MachineId) -> list[MeterReadingRecord]:
        """A machine's meter readings that are not voided, by day."""
        return self._events.meter_readings(machine)

    def compartments(self) -> list[Compartment]:
        """Every compartment in use, by site, machine and kind."""
        row = CompartmentRow
        wanted = _compartments().order_by(row.site_id, row.machine_id, row.kind, row.position)
        return [_compartment(found) for found in self._session.connection.execute(wanted)]

    def compartments_of(self, machine: MachineId) -> list[Compartment]:
        """The compartments of one machine in use, by kind and position."""
        row = CompartmentRow
        wanted = _compartments().where(
            self._session.any_site(row.site_id), row.machine_id == machine
        )
        found = self._session.connection.execute(wanted.order_by(row.kind, row.position))
        return [_compartment(one) for one in found]

    def compartment(self, compartment: CompartmentId) -> Compartment:
        """One compartment, in use or not.

        Raises:
            NotFoundError: when there is none.
        """
        row = CompartmentRow
        found = self._session.connection.execute(
            select(row.__table__).where(self._session.any_site(row.site_id), row.id == compartment)
        ).first()
        if found is None:
            raise NotFoundError(f"There is no compartment {compartment.hex()} in this store.")
        return _compartment(found)

    def add_compartment(
        self, compartment: Compartment, *, filter_micron: float | None = None
    ) -> None:
        """Add a compartment."""
        self.add_compartments([compartment], filter_micron=filter_micron)
        name = f"compartment {compartment.name(compartment.kind)}"
        told = {"fluid": compartment.fluid, "capacity_l": compartment.capacity_l}
        self._audit.append(compartment.site, name, None, told)

    def add_compartments(
        self, compartments: Sequence[Compartment], *, filter_micron: float | None = None
    ) -> None:
        """Add many compartments, without a line in the audit trail for each."""
        rows = [
            (one.site, one.id, one.machine, one.kind, one.position, one.fluid,
             float(one.capacity_l), float(one.residue_share), one.interval_hours,
             one.interval_days, filter_micron)
            for one in compartments
        ]  # fmt: skip
        self._session.load("compartment", _COMPARTMENT, rows)

    def edit_compartment(self, compartment: Compartment, *, version: int | None) -> None:
        """Save an edited compartment.

        Raises:
            StaleEditError: when somebody else has changed it since ``version`` was read.
        """
        old = self.compartment(compartment.id)
        values = {
            "fluid_code": compartment.fluid,
            "capacity_l": compartment.capacity_l,
            "residue_share": compartment.residue_share,
            "interval_hours": compartment.interval_hours,
            "interval_days": compartment.interval_days,
        }
        name = f"compartment {compartment.name(compartment.kind)}"
        key = {"site_id": compartment.site, "id": compartment.id}
        table = CompartmentRow.metadata.tables["compartment"]
        self._session.edit(table, key, values, version=version, name=name)
        before = {
            "fluid_code": old.fluid,
            "capacity_l": old.capacity_l,
            "residue_share": old.residue_share,
            "interval_hours": old.interval_hours,
            "interval_days": old.interval_days,
        }
        self._audit.append(compartment.site, name, before, values)

    def compartment_version(self, compartment: Compartment) -> int:
        """The version of a compartment's record; give it back when saving an edit."""
        wanted = select(CompartmentRow.version).where(
            CompartmentRow.site_id == compartment.site, CompartmentRow.id == compartment.id
        )
        return int(self._session.connection.execute(wanted).scalar_one())

    def events(self, compartment: CompartmentId) -> list[EventRecord]:
        """A compartment's events in force, by day; see ``EventRecords.of_compartment``."""
        return self._events.of_compartment(compartment)

    def all_events(self) -> list[EventRecord]:
        """Every event in force of every compartment, by compartment and day."""
        return self._events.all()

    def add_event(self, event: EventRecord, *, supersedes: bytes | None = None) -> bytes:
        """Add an event, in place of an older one if need be. Returns its identifier."""
        made = self._events.add(replace(event, id=event.id or self._session.new_id()), supersedes)
        told = {
            "kind": event.kind.value,
            "on": event.happened_on.isoformat(),
            "litres": event.litres,
            "certainty": event.certainty.value,
        }
        old = None if supersedes is None else supersedes.hex()
        self._audit.append(event.site, f"event {made.hex()}", old, told)
        return made

    def fluids(self) -> list[FluidProduct]:
        """Every fluid with its references, by code."""
        return self._catalogue.fluids()

    def references(self) -> dict[int, ReferenceRecord]:
        """Every new-fluid reference by its number."""
        return self._catalogue.references()

    def usage(self) -> dict[MachineId, UsageRecord]:
        """How much each machine has run and runs."""
        found = self._session.connection.execute(select(MachineUsageRow.__table__))
        return {
            MachineId(one.machine_id): UsageRecord(
                site=SiteId(one.site_id),
                machine=MachineId(one.machine_id),
                hours_now=one.hours_now,
                as_of=one.as_of,
                hours_per_day=one.hours_per_day,
                hours_per_day_spread=one.hours_per_day_spread,
                readings=one.readings,
            )
            for one in found
        }

    def save_usage(self, records: Iterable[UsageRecord]) -> None:
        """Write how much machines run, in place of what stood there."""
        rows = [
            (one.site, one.machine, float(one.hours_now), one.as_of, float(one.hours_per_day),
             float(one.hours_per_day_spread), int(one.readings))
            for one in records
        ]  # fmt: skip
        self._session.put("machine_usage", _USAGE, rows)


def _compartments() -> Select[*tuple[Any, ...]]:
    return select(CompartmentRow.__table__).where(CompartmentRow.retired.is_(False))


def _machine(found: Row[*tuple[Any, ...]]) -> Machine:
    return Machine(
        site=SiteId(found.site_id),
        id=MachineId(found.id),
        code=found.code,
        kind=found.kind,
        model=found.model,
        state=MachineState(found.state),
        criticality=found.criticality,
        serial=found.serial,
    )


def _compartment(found: Row[*tuple[Any, ...]]) -> Compartment:
    return Compartment(
        site=SiteId(found.site_id),
        id=CompartmentId(found.id),
        machine=MachineId(found.machine_id),
        kind=found.kind,
        position=found.position,
        fluid=found.fluid_code,
        capacity_l=found.capacity_l,
        residue_share=found.residue_share,
        interval_hours=found.interval_hours,
        interval_days=found.interval_days,
    )


def _told(machine: Machine) -> Mapping[str, object]:
    return {
        "code": machine.code,
        "kind": machine.kind,
        "model": machine.model,
        "state": machine.state.value,
        "criticality": machine.criticality,
        "serial": machine.serial,
    }
