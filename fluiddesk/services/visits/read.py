"""The visits as they are kept, with what is due on each box today."""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from fluiddesk.domain.identity import CompartmentId, MachineId, SampleId, SiteId
from fluiddesk.domain.samples import SampleReason
from fluiddesk.domain.sampling.due import NEVER, DueState
from fluiddesk.domain.severity import Severity
from fluiddesk.services.fleet_condition import BoxRow, FleetCondition, fleet_condition
from fluiddesk.services.visits.facts import BoxOutcome, Visit, VisitBox, VisitState
from fluiddesk.services.visits.working_order import PointFacts, default_points, point_of
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, RecordKind

OPEN_VISITS: Final = frozenset({VisitState.PLANNED, VisitState.ISSUED})


@dataclass(frozen=True, slots=True)
class _Stock:
    """The rows a visit is made of, by what they are looked up by."""

    boxes: Mapping[bytes, Sequence[Mapping[str, Any]]]
    machines: Mapping[bytes, Mapping[str, Any]]
    compartments: Mapping[bytes, Mapping[str, Any]]
    sites: Mapping[int, str]
    crews: Mapping[bytes, str]
    points: Mapping[bytes, PointFacts]
    codes: Mapping[SampleId, str]
    due: Mapping[bytes, tuple[FleetCondition, int, BoxRow]]


def visits(
    place: Workplace,
    *,
    today: date,
    states: Collection[VisitState] = OPEN_VISITS,
    ids: Collection[bytes] | None = None,
) -> tuple[Visit, ...]:
    """The visits in some states (or with some identifiers), by day, site, area and machine."""
    fleet = fleet_condition(place, today=today)
    with place.store.reading() as desk:
        rows = [
            row
            for row in desk.register.all(RecordKind.VISIT)
            if (row["id"] in ids if ids is not None else row["state"] in states)
        ]
        stock = _stock(desk, rows, fleet)
    made = [_visit(row, stock, place) for row in rows]
    return tuple(
        sorted(made, key=lambda one: (one.planned_on, one.site, one.area, one.machine, one.id))
    )


def _stock(desk: Desk, rows: Sequence[Mapping[str, Any]], fleet: FleetCondition) -> _Stock:
    wanted = {row["id"] for row in rows}
    boxes: dict[bytes, list[Mapping[str, Any]]] = defaultdict(list)
    for box in desk.register.all(RecordKind.VISIT_BOX):
        if box["visit_id"] in wanted:
            boxes[box["visit_id"]].append(box)
    samples = [
        SampleId(box["sample_id"])
        for some in boxes.values()
        for box in some
        if box["sample_id"] is not None
    ]
    return _Stock(
        boxes=boxes,
        machines={one["id"]: one for one in desk.register.all(RecordKind.MACHINE)},
        compartments={one["id"]: one for one in desk.register.all(RecordKind.COMPARTMENT)},
        sites={int(one.site): one.name for one in desk.fleet.sites()},
        crews={one["id"]: one["name"] for one in desk.register.all(RecordKind.CREW)},
        points=default_points(desk.register.all(RecordKind.POINT)),
        codes={key: one.bottle_code for key, one in desk.sampling.samples(samples).items()},
        due={row.compartment_id: (fleet, at, row) for at, row in enumerate(fleet.rows)},
    )


def _visit(row: Mapping[str, Any], stock: _Stock, place: Workplace) -> Visit:
    machine = stock.machines[row["machine_id"]]
    ordered = sorted(stock.boxes.get(row["id"], ()), key=lambda one: int(one["place"]))
    boxes = tuple(_box(one, stock, place) for one in ordered)
    day: date = row["planned_on"]
    windows = [one.window for one in boxes if one.window and one.outcome is BoxOutcome.OPEN]
    first = max((one[0] for one in windows), default=day)
    last = min((one[1] for one in windows), default=day)
    return Visit(
        id=row["id"],
        site_id=SiteId(row["site_id"]),
        site=stock.sites[row["site_id"]],
        machine_id=MachineId(row["machine_id"]),
        machine=machine["code"],
        machine_kind=machine["kind"],
        area=machine["area"],
        planned_on=day,
        first_day=first,
        last_day=last,
        state=VisitState(row["state"]),
        boxes=boxes,
        minutes=row["minutes"] or 0.0,
        crew_id=row["crew_id"],
        crew=stock.crews.get(row["crew_id"], ""),
        done_on=row["done_on"],
        note=row["note"],
        version=row["version"],
    )


def _box(row: Mapping[str, Any], stock: _Stock, place: Workplace) -> VisitBox:
    compartment = stock.compartments[row["compartment_id"]]
    due_on, window, state, severity = _due(stock, row["compartment_id"])
    point = point_of(row["compartment_id"], compartment["kind"], stock.points, place.catalogue)
    sample = None if row["sample_id"] is None else SampleId(row["sample_id"])
    return VisitBox(
        id=row["id"],
        compartment_id=CompartmentId(row["compartment_id"]),
        compartment=place.catalogue.box_name(compartment["kind"], compartment["position"]),
        kind=compartment["kind"],
        place=row["place"],
        reason=SampleReason(row["reason"]),
        outcome=BoxOutcome(row["outcome"]),
        why_not=row["why_not"],
        sample_id=sample,
        bottle_code=stock.codes.get(sample, "") if sample else "",
        fluid=compartment["fluid_code"],
        due_on=due_on or row["due_on"],
        window=window,
        state=state,
        severity=severity,
        point_kind=point.kind,
        before_change=_before_change(stock, row["compartment_id"]),
        version=row["version"],
    )


def _before_change(stock: _Stock, compartment: bytes) -> str:
    """The planned fluid change that the box's next sample is drawn before, in words."""
    found = stock.due.get(compartment)
    return "" if found is None else found[0].before_change(found[1])


def _due(
    stock: _Stock, compartment: bytes
) -> tuple[date | None, tuple[date, date] | None, DueState | None, Severity]:
    """What is due on a box today; nothing for a box that is no longer in use."""
    found = stock.due.get(compartment)
    if found is None:
        return None, None, None, Severity.NO_VERDICT
    fleet, at, _ = found
    due, severity = fleet.due, Severity(int(fleet.severity[at]))
    state = DueState(int(due.state[at]))
    if int(due.due_on[at]) == NEVER:
        return None, None, state, severity
    window = (
        date.fromordinal(int(due.window_from[at])),
        date.fromordinal(int(due.window_to[at])),
    )
    return date.fromordinal(int(due.due_on[at])), window, state, severity
