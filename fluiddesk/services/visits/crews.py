"""Who goes out to sample, and how many hours a day they have for it."""

from datetime import datetime

from fluiddesk.domain.identity import SiteId
from fluiddesk.services.register.saving import Faults, write_record
from fluiddesk.services.visits.facts import Crew
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import RecordKey, RecordKind


def save_crew(place: Workplace, crew: Crew, *, moment: datetime) -> bytes:
    """Add a crew (version 0) or change one; returns its identifier.

    Raises:
        RegisterFaultsError: the name is missing or the hours a day are not from 0 to 24.
        StaleRecordError: somebody else saved it since it was read.
    """
    faults = Faults(f"Crew {crew.name or 'without a name'}")
    faults.needs_text("name", crew.name, "The name of the crew")
    faults.needs_number("hours_per_day", crew.hours_per_day, "Hours a day", above=True, high=24)
    with place.store.transaction(who=place.who, moment=moment) as desk:
        same = [
            one
            for one in desk.register.all(RecordKind.CREW, site_id=crew.site)
            if one["name"] == crew.name.strip() and one["id"] != crew.id
        ]
        if same:
            faults.add("name", crew.name, f'There is a crew "{crew.name}" already. Choose a name.')
        faults.refuse()
        key = RecordKey(RecordKind.CREW, crew.site, crew.id or desk.new_id())
        values = {
            "name": crew.name.strip(),
            "hours_per_day": float(crew.hours_per_day),
            "retired": crew.retired,
        }
        write_record(desk, key, values, version=crew.version, name=f"crew {crew.name}")
    return bytes(key.key)  # type: ignore[arg-type]  # crews are named by an identifier


def crews(place: Workplace) -> tuple[Crew, ...]:
    """Every crew, by site and name."""
    with place.store.reading() as desk:
        rows = desk.register.all(RecordKind.CREW)
    found = [
        Crew(
            site=SiteId(row["site_id"]),
            id=row["id"],
            name=row["name"],
            hours_per_day=row["hours_per_day"],
            retired=row["retired"],
            version=row["version"],
        )
        for row in rows
    ]
    return tuple(sorted(found, key=lambda one: (one.site, one.name)))
