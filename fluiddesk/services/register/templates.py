"""A machine with all the boxes that its kind usually has, made in one step."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime
from typing import Final

from fluiddesk.domain.identity import CompartmentId, MachineId
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.register.boxes import put_compartment, put_point
from fluiddesk.services.register.derive import FLEET_ONLY
from fluiddesk.services.register.facts import (
    CompartmentFacts,
    MachineFacts,
    MeterFacts,
    PointFacts,
)
from fluiddesk.services.register.machines import put_machine
from fluiddesk.services.register.meters import put_first_meter
from fluiddesk.services.register.saving import Saved
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, RecordKind

_FLUID_CLASSES: Final[Mapping[str, str]] = {
    "engine": "engine_oil",
    "coolant": "coolant",
    "fuel": "diesel_fuel",
    "gear": "gear_oil",
    "hydraulic": "hydraulic",
    "transmission": "transmission_oil",
}
"""How the class of the fluid begins that a group of boxes holds (common practice, no source)."""
_FLUSH_ML: Final = 100.0
"""Drawn off before the sample (common practice, no source): replace it by the point's own."""
_AT_A_VALVE: Final = "live valve"


def add_machine_by_template(
    place: Workplace,
    facts: MachineFacts,
    *,
    fluids: Mapping[str, str] | None = None,
    meter: MeterFacts | None = None,
    today: date,
    moment: datetime,
) -> Saved:
    """Add a machine with its boxes, their sampling points and its meter in one step.

    Args:
        place: where to work.
        facts: the new machine.
        fluids: compartment kind to fluid code, where not the usual one (see ``usual_fluids``).
        meter: its meter; one in hours that showed 0 when it went into service where left out.
        today: the day of the desk.
        moment: when it is saved.

    Raises:
        RegisterFaultsError: naming each wrong field; nothing is saved then.
    """
    with place.store.transaction(who=place.who, moment=moment) as desk:
        saved = put_machine(desk, place.catalogue, facts, today=today)
        made = replace(facts, id=MachineId(saved.row))
        return put_boxes(desk, place.catalogue, made, fluids=fluids, meter=meter, today=today)


def put_boxes(
    desk: Desk,
    catalogue: Catalogue,
    facts: MachineFacts,
    *,
    fluids: Mapping[str, str] | None,
    meter: MeterFacts | None,
    today: date,
) -> Saved:
    """Add the usual boxes, points and meter of a machine that is saved already."""
    chosen = {**usual_fluids(desk, catalogue), **(fluids or {})}
    for box in template_boxes(catalogue, facts, chosen):
        saved = put_compartment(desk, catalogue, box, today=today)
        kind = catalogue.compartment_kinds[box.kind].sampling_point
        if kind:
            point = _point(box, CompartmentId(saved.row), kind)
            put_point(desk, catalogue, point, today=today)
    first = meter or MeterFacts(
        site=facts.site, machine=facts.id, fitted_on=facts.in_service_on or today
    )
    put_first_meter(desk, catalogue, replace(first, site=facts.site, machine=facts.id), today=today)
    return Saved(changes=FLEET_ONLY, key=facts.id)


def usual_fluids(desk: Desk, catalogue: Catalogue) -> dict[str, str]:
    """For each compartment kind the fluid most boxes of it hold, else one of the fitting class.

    Kinds for which the register has no fitting fluid are left out.
    """
    counts: dict[str, Counter[str]] = {}
    for box in desk.fleet.compartments():
        counts.setdefault(box.kind, Counter())[box.fluid] += 1
    retired = {row["code"] for row in desk.register.all(RecordKind.FLUID) if row["retired"]}
    known = [one for one in desk.fleet.fluids() if one.code not in retired]
    order = {code: place for place, code in enumerate(catalogue.fluids)}
    known.sort(key=lambda one: (order.get(one.code, len(order)), one.code))
    answer = {}
    for kind in catalogue.compartment_kinds.values():
        begins = _FLUID_CLASSES.get(kind.group, kind.group)
        fitting = [one.code for one in known if one.fluid_class.startswith(begins)]
        used = counts.get(kind.code)
        if used:
            answer[kind.code] = used.most_common(1)[0][0]
        elif fitting:
            answer[kind.code] = fitting[0]
    return answer


def template_boxes(
    catalogue: Catalogue, facts: MachineFacts, fluids: Mapping[str, str]
) -> tuple[CompartmentFacts, ...]:
    """The boxes usual for a machine's kind, not yet saved.

    Capacities, residue shares and intervals are those of the catalogue, to be replaced by the
    figures of the machine's manual.

    Args:
        catalogue: the kinds.
        facts: the machine.
        fluids: compartment kind to fluid code; a kind that is not named gets no fluid yet.
    """
    kind = catalogue.machine_kinds[facts.kind]
    boxes = []
    for (code, position), litres in zip(kind.boxes, kind.capacities_l, strict=True):
        usual = catalogue.compartment_kinds[code]
        boxes.append(
            CompartmentFacts(
                site=facts.site,
                machine=facts.id,
                kind=code,
                position=position,
                fluid=fluids.get(code, ""),
                capacity_l=usual.capacity_l if litres is None else litres,
                residue_share=usual.residue_share,
                interval_hours=usual.interval_hours,
                interval_days=usual.interval_days,
                name=catalogue.box_name(code, position),
            )
        )
    return tuple(boxes)


def _point(box: CompartmentFacts, compartment: CompartmentId, kind: str) -> PointFacts:
    return PointFacts(
        site=box.site,
        compartment=compartment,
        kind=kind,
        run_state="running_idle" if kind == _AT_A_VALVE else "shut_down",
        flush_ml=_FLUSH_ML,
    )
