"""What happened to one compartment: its events in force, and the components that sat in it."""

from dataclasses import dataclass

from fluiddesk.domain.identity import CompartmentId
from fluiddesk.services.register.components import fit_facts
from fluiddesk.services.register.facts import EventFacts, FitFacts
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import RecordKind


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxRecord:
    """Events that no other one superseded, and component fits; both by day, oldest first."""

    events: tuple[EventFacts, ...]
    fits: tuple[FitFacts, ...]


def box_record(place: Workplace, compartment: CompartmentId) -> BoxRecord:
    """Everything that happened to a compartment.

    Raises:
        NotFoundError: when there is no such compartment.
    """
    with place.store.reading() as desk:
        box = desk.fleet.compartment(compartment)
        events = desk.fleet.events(compartment)
        fits = desk.register.all(RecordKind.FIT, compartment_id=compartment)
        codes = {one.id: one.code for one in desk.fleet.machines()}
    name = place.catalogue.box_name(box.kind, box.position)
    return BoxRecord(
        events=tuple(
            EventFacts(
                site=one.site,
                compartment=one.compartment,
                id=one.id,
                kind=one.kind,
                happened_on=one.happened_on,
                true_hours=one.true_hours,
                litres=one.litres,
                fluid=one.fluid or "",
                certainty=one.certainty,
                source=one.source,
                note=one.note,
            )
            for one in events
        ),
        fits=tuple(
            fit_facts(one, machine_code=codes.get(box.machine, ""), compartment_name=name)
            for one in sorted(fits, key=lambda one: (one["fitted_on"], one["id"]))
        ),
    )
