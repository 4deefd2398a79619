"""The days on which machines stand for service anyway, as they are kept."""

from fluiddesk.domain.identity import MachineId, SiteId
from fluiddesk.services.visits.facts import ServiceDate
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import RecordKind


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
