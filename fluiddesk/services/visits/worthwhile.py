"""The most worthwhile next bottles: where one more sample is likeliest to save a failure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.sampling.due import DueState
from fluiddesk.domain.sampling.visits import LIVE_POINT_MINUTES, TUBE_POINT_MINUTES
from fluiddesk.domain.sampling.worthwhile import (
    LONGEST_INTERVALS,
    catch_now,
    worthwhile_order,
)
from fluiddesk.domain.severity import Severity
from fluiddesk.services.fault_figures import fault_figures, figures_of_kind
from fluiddesk.services.fleet_condition import FleetCondition, fleet_condition
from fluiddesk.services.visits.working_order import PointFacts, default_points, point_of
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import RecordKind

EARLIEST_SHARE: Final = 0.5
"""Share of its interval after which a bottle may be worth filling (own choice)."""

_HOURS_IN_A_DAY_WITHOUT_METER: Final = 8.0
_SHOWN: Final = (DueState.DUE, DueState.OVERDUE, DueState.NOT_YET)


@dataclass(frozen=True, slots=True, kw_only=True)
class WorthLine:
    """One bottle and what it is worth.

    ``chance``: faults it would tell of in time; ``worth_per_minute``: that times what the failure
    costs, a minute of crew time. ``why``: the figures behind it, in words.
    """

    compartment_id: CompartmentId
    site: str
    machine: str
    compartment: str
    severity: Severity
    since_share: float
    chance: float
    worth_per_minute: float
    must: bool
    why: str


def worthwhile_bottles(
    place: Workplace, *, today: date, count: int | None = None
) -> tuple[WorthLine, ...]:
    """Boxes past half their interval, in the order in which their bottles are worth filling.

    A box that would pass twice its interval comes first. The ranking rests on the starting figures
    in ``resources/programme/worth.toml``, the box's verdict, the machine's hours and its cost of
    standing still where the register has one.

    Args:
        place: where to look.
        today: the day.
        count: at most so many; all where it is ``None``.
    """
    fleet = fleet_condition(place, today=today)
    with place.store.reading() as desk:
        points = default_points(desk.register.all(RecordKind.POINT))
        costs = {
            row["id"]: row["cost_per_down_hour"] for row in desk.register.all(RecordKind.MACHINE)
        }
        turnaround = [
            row["turnaround_days"]
            for row in desk.register.all(RecordKind.LABORATORY)
            if row["turnaround_days"] is not None and not row["retired"]
        ]
    days = float(np.median(turnaround)) if turnaround else float(fault_figures()["answer"]["days"])
    return _ranked(place, fleet, points, costs, answer_days=days)[:count]


def _ranked(
    place: Workplace,
    fleet: FleetCondition,
    points: Mapping[bytes, PointFacts],
    costs: Mapping[bytes, float | None],
    *,
    answer_days: float,
) -> tuple[WorthLine, ...]:
    columns = _columns(fleet)
    share = columns.since / columns.interval
    states = np.isin(fleet.due.state, [int(one) for one in _SHOWN])
    chosen = np.flatnonzero(states & (share >= EARLIEST_SHARE) & ~fleet.is_awaited)
    if not len(chosen):
        return ()
    likelier = _by_severity(fleet.severity[chosen])
    groups = [figures_of_kind(place.catalogue, fleet.rows[index].kind) for index in chosen.tolist()]
    caught = catch_now(
        faults_per_hour=likelier * np.array([one["faults_per_1000_h"] for one in groups]) / 1000.0,
        hours_since_sample=columns.since[chosen],
        shows_hours=np.array([one["shows_hours"] for one in groups]),
        answer_hours=columns.per_day[chosen] * answer_days,
        sensitivity=np.array([one["sensitivity"] for one in groups]),
    )
    cost = _failure_cost(fleet, chosen, groups, costs)
    minutes = np.array(
        [_minutes(place, fleet, points, index) for index in chosen.tolist()], dtype=np.float64
    )
    # A week on, so that nothing slips past twice its interval before the next plan.
    soon = columns.since[chosen] + 7.0 * columns.per_day[chosen]
    order = worthwhile_order(
        caught=caught,
        failure_cost=cost,
        minutes=minutes,
        hours_since_sample=soon,
        interval_hours=columns.interval[chosen],
    )
    told = _Told(
        share[chosen],
        caught,
        caught * cost / minutes,
        soon >= LONGEST_INTERVALS * columns.interval[chosen],
        likelier,
    )
    return tuple(_line(place, fleet, int(chosen[at]), told, at) for at in order.tolist())


def _failure_cost(
    fleet: FleetCondition,
    chosen: NDArray[np.intp],
    groups: Sequence[Mapping[str, float]],
    costs: Mapping[bytes, float | None],
) -> NDArray[np.float64]:
    usual = float(fault_figures()["standing"]["cost_per_hour"])
    hourly = [costs.get(fleet.rows[index].machine_id) or usual for index in chosen.tolist()]
    standing = np.array([one["standing_hours"] for one in groups], dtype=np.float64)
    return np.array(hourly, dtype=np.float64) * standing


@dataclass(frozen=True, slots=True)
class _Told:
    """What is said of each bottle; shape (n,) each."""

    share: NDArray[np.float64]
    caught: NDArray[np.float64]
    worth: NDArray[np.float64]
    must: NDArray[np.bool_]
    likelier: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _Columns:
    """Hours since the last sample, hours of the interval, hours a day; shape (n,) each."""

    since: NDArray[np.float64]
    interval: NDArray[np.float64]
    per_day: NDArray[np.float64]


def _columns(fleet: FleetCondition) -> _Columns:
    """A box that is due by the calendar alone is told in the hours its machine runs meanwhile."""
    rows = fleet.rows
    per_day = np.array([row.hours_per_day for row in rows], dtype=np.float64)
    per_day = np.where(per_day > 0, per_day, _HOURS_IN_A_DAY_WITHOUT_METER)
    by_meter = np.array([row.interval_hours for row in rows], dtype=np.float64)
    by_days = np.array([row.interval_days for row in rows], dtype=np.float64) * per_day
    interval = np.fmin(by_meter, by_days)
    left = fleet.due.hours_left
    age = np.where(fleet.age_days >= 0, fleet.age_days, 0).astype(np.float64)
    since = np.where(np.isnan(left), age * per_day, by_meter - left)
    known = ~np.isnan(interval) & (interval > 0)
    return _Columns(np.maximum(since, 0.0), np.where(known, interval, np.inf), per_day)


def _by_severity(severity: NDArray[np.int8]) -> NDArray[np.float64]:
    words = ("no_verdict", "normal", "watch", "act", "urgent")
    table = np.array([float(fault_figures()["likelier"][word]) for word in words])
    return table[severity.astype(np.intp) + 1]


def _minutes(
    place: Workplace, fleet: FleetCondition, points: Mapping[bytes, PointFacts], index: int
) -> float:
    row = fleet.rows[index]
    point = point_of(row.compartment_id, row.kind, points, place.catalogue)
    return LIVE_POINT_MINUTES if point.is_live else TUBE_POINT_MINUTES


def _line(place: Workplace, fleet: FleetCondition, index: int, told: _Told, at: int) -> WorthLine:
    row = fleet.rows[index]
    severity = Severity(int(fleet.severity[index]))
    share, likelier, must = float(told.share[at]), float(told.likelier[at]), bool(told.must[at])
    why = f"{share:.1f} intervals since the last sample"
    why += f"; {severity.word}, so a fault is {likelier:g} times as likely" if likelier > 1 else ""
    return WorthLine(
        compartment_id=CompartmentId(row.compartment_id),
        site=row.site,
        machine=row.machine,
        compartment=place.catalogue.box_name(row.kind, row.position),
        severity=severity,
        since_share=share,
        chance=float(told.caught[at]),
        worth_per_minute=float(told.worth[at]),
        must=must,
        why=f"would pass twice its interval; {why}" if must else why,
    )
