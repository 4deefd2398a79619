"""A machine with all the boxes that its kind usually has, made in one step."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime
from typing import Final

from fluiddesk.domain.fleet import HOURS_IN_A_DAY
from fluiddesk.domain.identity import CompartmentId, MachineId
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.register.boxes import put_compartment, put_point
from fluiddesk.services.register.derive import FLEET_ONLY
from fluiddesk.services.register.facts import (
    CompartmentFacts,
    MachineFacts,
    MeterFacts,
    PointFacts,
    ReadingFacts,
)
from fluiddesk.services.register.machines import put_machine
from fluiddesk.services.register.meters import put_first_meter, put_reading
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
    hours_now: float | None = None,
    today: date,
    moment: datetime,
) -> Saved:
    """Add a machine with its boxes, their sampling points and its meter in one step.

    Args:
        place: where to work.
        facts: the new machine.
        fluids: compartment kind to fluid code, where not the usual one (see ``usual_fluids``).
        meter: its meter; see ``usual_meter`` for what is made where it is left out.
        hours_now: what its hour meter shows today.
        today: the day of the desk.
        moment: when it is saved.

    Raises:
        RegisterFaultsError: naming each wrong field; nothing is saved then.
    """
    with place.store.transaction(who=place.who, moment=moment) as desk:
        saved = put_machine(desk, place.catalogue, facts, today=today)
        made = replace(facts, id=MachineId(saved.row))
        put_boxes(desk, place.catalogue, made, fluids=fluids, today=today)
        first = meter or usual_meter(made, hours_now=hours_now, today=today)
        if first is not None:
            first = replace(first, site=made.site, machine=made.id)
            put_first_meter(desk, place.catalogue, first, today=today)
        if hours_now is not None:
            seen = ReadingFacts(site=made.site, machine=made.id, read_on=today, value=hours_now)
            put_reading(desk, place.catalogue, seen, today=today)
        return Saved(changes=FLEET_ONLY, key=made.id)


def usual_meter(facts: MachineFacts, *, hours_now: float | None, today: date) -> MeterFacts | None:
    """An hour meter as far as it is known.

    It showed 0 when the machine went into service, if that can be so by what it shows now. Else it
    is taken up today at what it shows, as the machine's age. ``None`` where neither is known.
    """
    began = facts.in_service_on
    meter = MeterFacts(site=facts.site, machine=facts.id)
    if began is not None:
        most = HOURS_IN_A_DAY * max((today - began).days, 1)
        if hours_now is None or hours_now <= most:
            return replace(meter, fitted_on=began)
    if hours_now is None:
        return None
    return replace(meter, fitted_on=today, start_value=hours_now, hours_before=hours_now)


def put_boxes(
    desk: Desk,
    catalogue: Catalogue,
    facts: MachineFacts,
    *,
    fluids: Mapping[str, str] | None,
    today: date,
) -> None:
    """Add the usual boxes and their points to a machine that is saved already."""
    chosen = {**usual_fluids(desk, catalogue), **(fluids or {})}
    for box in template_boxes(catalogue, facts, chosen):
        saved = put_compartment(desk, catalogue, box, today=today)
        kind = catalogue.compartment_kinds[box.kind].sampling_point
        if kind:
            point = _point(box, CompartmentId(saved.row), kind)
            put_point(desk, catalogue, point, today=today)


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
