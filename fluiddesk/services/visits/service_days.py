"""The days on which machines stand for service anyway, as they are kept."""

from datetime import datetime

from fluiddesk.domain.identity import MachineId, SiteId
from fluiddesk.services.register.saving import write_record
from fluiddesk.services.visits.facts import ServiceDate
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import RecordKey, RecordKind


def service_dates(place: Workplace) -> tuple[ServiceDate, ...]:
    """Every service day that was not taken back, by day."""
    with place.store.reading() as desk:
        rows = desk.register.all(RecordKind.SERVICE_DATE)
    found = [
        ServiceDate(
            site=SiteId(row["site_id"]),
            id=row["id"],
            machine=MachineId(row["machine_id"]),
            planned_on=row["planned_on"],
            note=row["note"],
            version=row["version"],
        )
        for row in rows
        if not row["dropped"]
    ]
    return tuple(sorted(found, key=lambda one: (one.planned_on, one.id)))


def save_service_date(place: Workplace, service: ServiceDate, *, moment: datetime) -> bytes:
    """Add a day on which a machine stands for service, or change one; returns its identifier."""
    with place.store.transaction(who=place.who, moment=moment) as desk:
        key = RecordKey(RecordKind.SERVICE_DATE, service.site, service.id or desk.new_id())
        machine = RecordKey(RecordKind.MACHINE, service.site, service.machine)
        code = desk.register.row(machine, name="machine")["code"]
        values = {
            "machine_id": service.machine,
            "planned_on": service.planned_on,
            "note": service.note.strip(),
            "dropped": service.dropped,
        }
        name = f"service of {code} on {service.planned_on.isoformat()}"
        write_record(desk, key, values, version=service.version, name=name)
    return bytes(key.key)  # type: ignore[arg-type]
