"""Reads where bottles are and how long each leg takes, by lane."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any, Final

import numpy as np

from fluiddesk.domain.errors import NotFoundError
from fluiddesk.domain.identity import normal_bottle_code
from fluiddesk.domain.samples import SampleState
from fluiddesk.domain.sampling.turnaround import turnaround
from fluiddesk.services.custody.facts import (
    BottleOut,
    Custody,
    KnownBy,
    Leg,
    ShipmentFacts,
    Step,
    TrailStep,
)
from fluiddesk.services.presumed_lost import (
    DAY_S,
    day_number,
    lane_limits,
    leg_figures,
    usual_way_days,
)
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, RecordKind

LEGS: Final = (
    ("taken_handed_in", Step.TAKEN, Step.HANDED_IN),
    ("handed_in_shipped", Step.HANDED_IN, Step.SHIPPED),
    ("shipped_received", Step.SHIPPED, Step.RECEIVED),
    ("received_reported", Step.RECEIVED, Step.REPORTED),
    ("reported_keyed", Step.REPORTED, Step.KEYED),
)
_OUT: Final = (SampleState.TAKEN, SampleState.SHIPPED, SampleState.RECEIVED)
_ORDER: Final = (Step.ISSUED, Step.TAKEN, Step.HANDED_IN, Step.SHIPPED, Step.RECEIVED)
_EVERYWHERE: Final = ""


@dataclass(slots=True)
class _Trail:
    """The moments of one bottle, in days since 1970, and how it travelled."""

    moments: dict[Step, float] = field(default_factory=dict)
    shipment: bytes | None = None


def custody(place: Workplace, *, today: date) -> Custody:
    """Every bottle that was drawn and has no report, and how long the legs take.

    A bottle drawn before its hand-overs were kept stands where its sample's state says, since the
    day it was drawn.
    """
    with place.store.reading() as desk:
        trails = _trails(desk)
        shipments = {one["id"]: one for one in desk.register.all(RecordKind.SHIPMENT)}
        legs = _legs(trails, shipments)
        out = _out(desk, place, trails, shipments, lane_limits(desk, today=today), today=today)
    ordered = sorted(out, key=lambda one: (not one.is_presumed_lost, -one.days, one.code))
    return Custody(today=today, out=tuple(ordered), legs=tuple(legs))


def _trails(desk: Desk) -> dict[str, _Trail]:
    trails: dict[str, _Trail] = defaultdict(_Trail)
    for _, code, step, at, _, shipment in desk.programme.custody_steps():
        trail = trails[code]
        trail.moments[Step(step)] = day_number(at)
        trail.shipment = shipment or trail.shipment
    for code, (issued_on, saved_at) in desk.programme_rows.reported_days().items():
        if code in trails:
            if issued_on is not None:
                trails[code].moments[Step.REPORTED] = day_number(issued_on)
            # A keying that was handed over by name counts before the day the row was written.
            trails[code].moments.setdefault(Step.KEYED, day_number(saved_at))
    return trails


def _lane(trail: _Trail, shipments: Mapping[bytes, Mapping[str, Any]]) -> str:
    found = shipments.get(trail.shipment) if trail.shipment else None
    return str(found["laboratory_code"]) if found else _EVERYWHERE


def _legs(trails: Mapping[str, _Trail], shipments: Mapping[bytes, Mapping[str, Any]]) -> list[Leg]:
    lanes = sorted({_lane(one, shipments) for one in trails.values()} | {_EVERYWHERE})
    legs = []
    for name, begin, end in LEGS:
        figures = leg_figures()["leg"][name]
        for lane in lanes:
            spans = np.array(
                [
                    (one.moments[begin], one.moments[end])
                    for one in trails.values()
                    if begin in one.moments
                    and end in one.moments
                    and lane in (_EVERYWHERE, _lane(one, shipments))
                ]
            ).reshape(-1, 2)
            fine = spans[:, 1] >= spans[:, 0]
            if lane and not fine.any():
                continue
            took = turnaround(left_at=spans[fine, 0], came_at=spans[fine, 1])
            legs.append(
                Leg(
                    leg=name,
                    title=figures["title"],
                    lane=lane,
                    median_days=took.median_days,
                    p90_days=took.p90_days,
                    bottles=took.samples,
                    target_days=float(figures["target"]),
                    alarm_days=float(figures["alarm"]),
                    doubtful=int((~fine).sum()),
                )
            )
    return legs


def _out(
    desk: Desk,
    place: Workplace,
    trails: Mapping[str, _Trail],
    shipments: Mapping[bytes, Mapping[str, Any]],
    lanes: Mapping[str, float],
    *,
    today: date,
) -> list[BottleOut]:
    sites = {one.site: one.name for one in desk.fleet.sites()}
    machines = {one.id: one for one in desk.fleet.machines()}
    boxes = {one.id: one for one in desk.fleet.compartments()}
    now = day_number(today)
    found = []
    for sample in desk.sampling.in_states(_OUT):
        if not sample.bottle_code or sample.taken_on is None:
            continue
        trail = trails.get(sample.bottle_code, _Trail())
        station, since = _station(trail, sample.state, day_number(sample.taken_on))
        lane = _lane(trail, shipments)
        days = max(now - since, 0.0)
        # Where no hand-over was kept, only the whole way is known.
        alarm = _alarm(station) if trail.moments else usual_way_days()
        gone = now - trail.moments.get(Step.SHIPPED, since)
        limit = lanes.get(lane, usual_way_days())
        is_away = station in (Step.SHIPPED, Step.RECEIVED)
        box = boxes[sample.compartment]
        found.append(
            BottleOut(
                code=sample.bottle_code,
                sample_id=sample.id,
                site_id=sample.site,
                site=sites[sample.site],
                machine=machines[box.machine].code,
                compartment=place.catalogue.box_name(box.kind, box.position),
                compartment_id=box.id,
                station=station,
                since=datetime.fromtimestamp(since * DAY_S, UTC).date(),
                days=round(days, 1),
                alarm_days=alarm,
                laboratory=lane,
                shipment=trail.shipment,
                is_unaccounted=alarm is not None and days > alarm,
                is_presumed_lost=is_away and gone > limit,
            )
        )
    return found


def _station(trail: _Trail, state: SampleState, taken: float) -> tuple[Step, float]:
    """Where a bottle is and since when; the newest hand-over counts, else the sample's state."""
    kept = [(trail.moments[step], step) for step in _ORDER if step in trail.moments]
    told = {
        SampleState.TAKEN: Step.TAKEN,
        SampleState.SHIPPED: Step.SHIPPED,
        SampleState.RECEIVED: Step.RECEIVED,
    }[state]
    if kept:
        since, step = kept[-1]
        if _ORDER.index(step) >= _ORDER.index(told):
            return step, since
    return told, trail.moments.get(told, taken)


def _alarm(station: Step) -> float | None:
    for name, begin, _ in LEGS:
        if begin is station:
            return float(leg_figures()["leg"][name]["alarm"])
    return None


def trail_of(place: Workplace, typed: str) -> tuple[TrailStep, ...]:
    """Every hand-over of one bottle, in order.

    Raises:
        BottleCodeError: the code was mistyped.
        NotFoundError: nobody issued it.
    """
    code = normal_bottle_code(typed)
    with place.store.reading() as desk:
        if code not in desk.programme_rows.sites_of([code]):
            raise NotFoundError(f"Bottle {code} was never issued. Compare it with the label.")
        steps = desk.programme_rows.steps_of(code)
    return tuple(
        TrailStep(step=Step(step), at=at, known_by=KnownBy(known), who=who, note=note)
        for step, at, known, who, note in steps
    )


def shipments(place: Workplace) -> tuple[ShipmentFacts, ...]:
    """Every shipment, newest first."""
    with place.store.reading() as desk:
        rows: Sequence[Mapping[str, Any]] = desk.register.all(RecordKind.SHIPMENT)
        found = [
            ShipmentFacts(
                id=row["id"],
                site_id=row["site_id"],
                laboratory=row["laboratory_code"],
                carrier=row["carrier"],
                tracking=row["tracking"],
                sent_on=row["sent_on"],
                received_on=row["received_on"],
                manifest_count=row["manifest_count"],
                received_count=row["received_count"],
                codes=tuple(desk.programme_rows.in_shipment(row["id"])),
                version=row["version"],
            )
            for row in rows
        ]
    return tuple(sorted(found, key=lambda one: (one.sent_on, one.id), reverse=True))
