"""Visits laid by hand: some boxes on one day, one visit a machine; nothing is saved."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from typing import Any

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.identity import CompartmentId, MachineId, SiteId
from fluiddesk.domain.samples import SampleReason
from fluiddesk.services.fleet_condition import BoxRow, fleet_condition
from fluiddesk.services.visits.facts import Visit, VisitBox, VisitState
from fluiddesk.services.visits.surroundings import Surroundings, surroundings
from fluiddesk.services.visits.working_order import minutes_at, point_of, working_place
from fluiddesk.services.workplace import Workplace


def visits_by_hand(
    place: Workplace, boxes: Sequence[CompartmentId], *, on: date, today: date
) -> tuple[Visit, ...]:
    """One visit to each machine of some boxes, on a day of the planner's choice.

    Raises:
        OperatorError: when no box is given, the day has passed, or a box stands on an open visit.
    """
    if not boxes:
        raise OperatorError("No box is chosen. Choose at least one.")
    if on < today:
        raise OperatorError(
            f"{on.isoformat()} has passed (today is {today.isoformat()}). Choose a day to come."
        )
    wanted = set(boxes)
    rows = [row for row in fleet_condition(place, today=today).rows if row.compartment_id in wanted]
    with place.store.reading() as desk:
        around = surroundings(desk)
    machines: dict[bytes, list[BoxRow]] = defaultdict(list)
    for row in rows:
        if row.compartment_id in around.on_visits:
            name = place.catalogue.box_name(row.kind, row.position)
            raise OperatorError(
                f"{row.machine}, {name} stands on a visit already. Move that visit, or leave the "
                "box out."
            )
        machines[row.machine_id].append(row)
    return tuple(_visit(some, around, place, on) for some in machines.values())


def _visit(rows: Sequence[BoxRow], around: Surroundings, place: Workplace, on: date) -> Visit:
    def order(row: BoxRow) -> Any:
        point = point_of(row.compartment_id, row.kind, around.points, place.catalogue)
        return (*working_place(row.kind, point, place.catalogue), row.position)

    ordered = sorted(rows, key=order)
    points = [
        point_of(row.compartment_id, row.kind, around.points, place.catalogue) for row in ordered
    ]
    first = ordered[0]
    crews = [one for one in around.crews if one["site_id"] == first.site_id]
    crew = crews[0] if len(crews) == 1 else None
    return Visit(
        id=b"",
        site_id=SiteId(first.site_id),
        site=first.site,
        machine_id=MachineId(first.machine_id),
        machine=first.machine,
        machine_kind=first.machine_kind,
        area=around.areas.get(first.machine_id, ""),
        planned_on=on,
        first_day=on,
        last_day=on,
        state=VisitState.PLANNED,
        boxes=tuple(
            VisitBox(
                id=b"",
                compartment_id=CompartmentId(row.compartment_id),
                compartment=place.catalogue.box_name(row.kind, row.position),
                kind=row.kind,
                place=number,
                reason=SampleReason.ROUTINE,
                fluid=row.fluid_code,
            )
            for number, row in enumerate(ordered, start=1)
        ),
        minutes=minutes_at(points),
        crew_id=None if crew is None else crew["id"],
        crew="" if crew is None else crew["name"],
    )
