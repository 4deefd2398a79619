"""Hours until the first limit of a box, from its fills, its sisters and the fill in it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.analytes import Analyte
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.domain.trends.first_passage import (
    AHEAD,
    FEWEST_PAST_FILLS,
    FEWEST_SAMPLES,
    HORIZON_HOURS,
    first_of,
    foretell,
    is_enough,
    quantiles,
)
from fluiddesk.domain.trends.outlook import LUMP_HOURS, Watched
from fluiddesk.domain.trends.prior import FEWEST_SISTERS, FillRates, Group, stacked
from fluiddesk.domain.wear.fill_history import known_fresh, level_sd, levels_of, starts_of
from fluiddesk.services.compartment_history.facts import AnalyteSeries
from fluiddesk.services.compartment_history.fill_rates import BoxRates, since_component
from fluiddesk.services.compartment_history.forecast_facts import AnalyteClock, HoursLeft
from fluiddesk.services.compartment_history.sentences import chance_text
from fluiddesk.services.compartment_history.sisters import Sisters, no_group
from fluiddesk.services.compartment_history.story import BoxStory
from fluiddesk.services.compartment_history.targets import Target, past_urgent, targets_of

FloatArray = NDArray[np.float64]

LEAST_HORIZON: Final = 1000.0
"""A limit is looked for over twice the longest fill of the box, and this many hours at least."""
_UNKNOWN_START: Final = 1e3
_EVEN_CHANCE: Final = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """The machine's meter today, how fast it runs, and the next planned sample.

    ``hours_now`` and ``hours_per_day`` are ``None`` where no meter was read; ``hours_to_due`` is
    ``None`` where no sample is planned, and not above 0 once it is due.
    """

    today: date
    hours_now: float | None
    hours_per_day: float | None
    hours_to_due: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """The chances behind a forecast: for each target by each hour after the last sample.

    ``growth``: the chance that a fault grows in the present fill, for each target.
    """

    targets: tuple[Target, ...]
    chance: FloatArray
    growth: FloatArray
    since: float


def hours_left(
    story: BoxStory,
    rates: BoxRates,
    series: Sequence[AnalyteSeries],
    sisters: Sisters | None,
    clock: Clock,
    *,
    box: CompartmentId,
) -> HoursLeft:
    """Hours until the first limit over all analytes of a box."""
    on = date.fromordinal(int(story.columns.taken_on[-1]))
    since = _hours_since(story, clock)
    past = past_urgent(series)
    if past:
        return _none_left(*past, on, since)
    targets = targets_of(series, story.columns.analytes)
    if not targets:
        why = "Not enough to say: no limit is set for anything that builds up in this box."
        missing = ("a limit on a level of something that builds up or is used up",)
        return HoursLeft(
            counted_from_on=on, is_enough=False, why=why, missing=missing, sentence=why
        )
    targets = [one for one in targets if not one.is_past]
    if not targets:
        why = "No limit further out: every limit of what builds up has been reached."
        return HoursLeft(counted_from_on=on, is_in_sight=False, why=why, sentence=why)
    watched, group, fills = _rows(story, rates, targets, sisters, box=box)
    enough = is_enough(watched, group, fills)
    if not enough.any():
        return _not_enough(story, group, fills, on, since)
    bound = np.array([one.turn * one.bound for one in targets])
    found = foretell(watched, group, fills, limit=bound)
    outcome = Outcome(targets=tuple(targets), chance=found.chance, growth=found.growth, since=since)
    return _told(story, outcome, clock, on)


def _hours_since(story: BoxStory, clock: Clock) -> float:
    """Hours run since the last sample, or since a later change where that is known."""
    last = float(story.columns.hours[-1])
    if story.changed_at_hours is not None:
        last = max(story.changed_at_hours, last) if np.isfinite(last) else story.changed_at_hours
    if clock.hours_now is None or not np.isfinite(last):
        return 0.0
    return max(clock.hours_now - last, 0.0)


# --- what is known, as rows -----------------------------------------------------------------------


def _rows(
    story: BoxStory,
    rates: BoxRates,
    targets: Sequence[Target],
    sisters: Sisters | None,
    *,
    box: CompartmentId,
) -> tuple[Watched, Group, FillRates]:
    """One row a target: the present fill, what sisters say, the box's past fills."""
    own = since_component(story)
    present = len(story.wear) - 1
    is_new = story.change_since is not None
    past = [row for row in own if is_new or row != present]
    fills = [rates.past(one.column, past, turn=one.turn) for one in targets]
    groups = [
        sisters.group(one.analyte.number, without=box, is_signed=one.is_signed, turn=one.turn)
        if sisters is not None
        else no_group(is_signed=one.is_signed)
        for one in targets
    ]
    return (
        _after_change(story, targets) if is_new else _watched(story, targets),
        stacked(groups),
        FillRates(
            rate=np.concatenate([one.rate for one in fills]),
            sd=np.concatenate([one.sd for one in fills]),
            is_bound=np.concatenate([one.is_bound for one in fills]),
        ),
    )


def _watched(story: BoxStory, targets: Sequence[Target]) -> Watched:
    """The samples of the fill in the box, one row a target, turned so that limits lie above."""
    columns, turn = story.columns, np.array([one.turn for one in targets])
    at = [one.column for one in targets]
    number = int(story.wear.number[-1])
    rows = np.flatnonzero((columns.fill == number) & (columns.trust != Trust.REJECTED))
    level, is_bound = levels_of(columns)
    sd = level_sd(level, is_bound, story.analytes)
    start, start_sd = (part[-1, at] for part in starts_of(story.wear, story.traits, story.analytes))
    fresh = known_fresh(story.fresh, story.analytes)[rows[-1], at]
    known = np.isfinite(start) & np.isfinite(columns.fluid_hours[rows[0]])
    values, errors = level[rows][:, at].T, sd[rows][:, at].T
    first = np.array([_first(row) for row in values])
    steps = np.broadcast_to(_steps(story, rows)[None, :], values.shape).copy()
    # Without a known start the first sample is the start: nothing is learned before it.
    steps[~known, 0] = 0.0
    loss = np.array([_loss_between(story, rows, place) for place in range(len(rows))])
    bound = is_bound[rows][:, at].T
    size = len(targets)
    brings = np.where(np.isfinite(fresh), turn * fresh, 0.0)
    has = np.isfinite(fresh)
    even = story.loss_l_per_h / story.capacity_l
    # Below detection bounds from above only what rises; half the bound stands in for what falls.
    return Watched(
        start=np.where(known, turn * start, turn * np.nan_to_num(first)),
        start_sd=np.where(known, start_sd, _UNKNOWN_START * (1.0 + np.abs(np.nan_to_num(first)))),
        step_hours=steps,
        values=turn[:, None] * np.where(bound & (turn > 0)[:, None], 2.0 * values, values),
        sd=np.where(np.isfinite(errors), errors, 1.0),
        is_bound=bound & (turn > 0)[:, None],
        loss=np.where(has[:, None], loss[None, :], 0.0),
        brought=np.where(has[:, None], loss[None, :] * brings[:, None], 0.0),
        loss_ahead=np.where(has, np.full(size, even), 0.0),
        brought_ahead=np.where(has, even * brings, 0.0),
        lump_hours=_lumps(targets),
    )


def _after_change(story: BoxStory, targets: Sequence[Target]) -> Watched:
    """A fill that has not been sampled yet: it starts from what the old fluid left."""
    turn = np.array([one.turn for one in targets])
    at = [one.column for one in targets]
    level, is_bound = levels_of(story.columns)
    sd = level_sd(level, is_bound, story.analytes)
    last = int(story.wear.last[-1])
    share = story.residue_share
    fresh = known_fresh(story.fresh, story.analytes)[last, at]
    start = share * level[last, at] + (1 - share) * fresh
    error = np.hypot(share * sd[last, at], 0.04 * np.abs(level[last, at] - fresh)) + 1e-6
    has = np.isfinite(start)
    even = story.loss_l_per_h / story.capacity_l
    n = len(targets)
    column = (n, 1)
    return Watched(
        start=np.where(has, turn * start, 0.0),
        start_sd=np.where(has, error, 1.0),
        step_hours=np.zeros(column),
        values=np.where(has, turn * start, np.nan)[:, None],
        sd=np.where(has, 10.0 * error, 1.0)[:, None],
        is_bound=np.zeros(column, dtype=bool),
        loss=np.zeros(column),
        brought=np.zeros(column),
        loss_ahead=np.where(has, np.full(n, even), 0.0),
        brought_ahead=np.where(has, even * turn * np.nan_to_num(fresh), 0.0),
        lump_hours=_lumps(targets),
    )


def _lumps(targets: Sequence[Target]) -> FloatArray:
    """Metal and dirt come in lumps; what is used up or drifts does so evenly."""
    return np.array([LUMP_HOURS if one.turn > 0 and not one.is_signed else 0.0 for one in targets])


def _first(row: FloatArray) -> float:
    known = row[np.isfinite(row)]
    return float(known[0]) if len(known) else float("nan")


def _steps(story: BoxStory, rows: NDArray[np.intp]) -> FloatArray:
    """Hours from the change to the first sample, then from sample to sample; never below 0."""
    columns = story.columns
    fluid, hours = columns.fluid_hours[rows], columns.hours[rows]
    between = np.diff(hours)
    between = np.where(np.isfinite(between), between, np.diff(fluid))
    steps = np.concatenate([[fluid[0]], between])
    return np.where(np.isfinite(steps), np.maximum(steps, 0.0), 0.0)


def _loss_between(story: BoxStory, rows: NDArray[np.intp], place: int) -> float:
    """Share of the box made up per hour before one sample of the present fill."""
    columns = story.columns
    end = float(columns.hours[rows[place]])
    start = (
        float(columns.hours[rows[place - 1]])
        if place
        else end - float(columns.fluid_hours[rows[0]])
    )
    if not np.isfinite(end - start) or end <= start:
        return 0.0
    return story.litres_between(start, end) / (end - start) / story.capacity_l


# --- what is said ---------------------------------------------------------------------------------


def _none_left(analyte: Analyte, bound: float, on: date, since: float) -> HoursLeft:
    why = f"None left: {analyte.name_in_text} is past its Urgent limit already."
    return HoursLeft(
        p10=0.0, p50=0.0, p90=0.0, analyte=analyte, severity=Severity.URGENT, bound=bound,
        chance_before_due=1.0, counted_from_on=on, hours_since=since, why=why, sentence=why,
    )  # fmt: skip


def _not_enough(
    story: BoxStory, group: Group, fills: FillRates, on: date, since: float
) -> HoursLeft:
    missing = []
    if not np.isfinite(story.wear.hours).any():
        missing.append("the hours on the fluid: record the fluid changes with their meter reading")
    have = int(fills.count().max(initial=0))
    if have < FEWEST_PAST_FILLS:
        missing.append(f"{FEWEST_PAST_FILLS} past fills with a rate (there are {have})")
    boxes = int(group.boxes.max(initial=0))
    if boxes < FEWEST_SISTERS:
        missing.append(f"or {FEWEST_SISTERS} like boxes with a rate (there are {boxes})")
    missing.append(f"or {FEWEST_SAMPLES} samples in this fill")
    why = f"Not enough to say: it needs {', '.join(missing)}."
    return HoursLeft(
        counted_from_on=on, hours_since=since, is_enough=False, why=why, missing=tuple(missing),
        sentence=why,
    )  # fmt: skip


def _told(story: BoxStory, found: Outcome, clock: Clock, on: date) -> HoursLeft:
    told = np.isfinite(found.chance[:, 0])
    families = np.unique([one.family.value for one in found.targets], return_inverse=True)[1]
    any_ = first_of(found.chance[told], families[told])
    horizon = _horizon(story)
    low, middle, high = (float(one[0]) for one in quantiles(any_[None, :]))
    due = _chance_by(any_, found.since, clock)
    clocks = _clocks(found, clock, horizon)
    base = HoursLeft(
        counted_from_on=on, hours_since=found.since, chance_before_due=due, clocks=clocks
    )
    if not middle <= horizon:
        reached = float(np.interp(horizon, AHEAD, any_))
        why = (
            f"No limit in sight: the chance of reaching any within {horizon:.0f} h of use is "
            f"{100 * reached:.0f} %."
        )
        return replace(base, is_in_sight=False, why=why, sentence=why)
    high = min(high, HORIZON_HOURS)
    at = np.array([np.interp(middle, AHEAD, row) if ok else -1.0
                   for row, ok in zip(found.chance, told, strict=True)])  # fmt: skip
    lead = found.targets[int(np.argmax(at))]
    left = [max(one - found.since, 0.0) for one in (low, middle, high)]
    days = [_day(one, clock) for one in left]
    answer = replace(
        base, p10=left[0], p50=left[1], p90=left[2], on10=days[0], on50=days[1], on90=days[2],
        analyte=lead.analyte, severity=lead.severity, bound=lead.bound,
    )  # fmt: skip
    return replace(answer, sentence=_sentence(answer, lead))


def _horizon(story: BoxStory) -> float:
    longest = float(np.nanmax(np.append(story.columns.fluid_hours, 0.0)))
    return float(np.clip(2.0 * longest, LEAST_HORIZON, HORIZON_HOURS))


def _clocks(found: Outcome, clock: Clock, horizon: float) -> tuple[AnalyteClock, ...]:
    ends = quantiles(found.chance)
    order = np.lexsort((np.nan_to_num(ends[0], nan=np.inf), np.nan_to_num(ends[1], nan=np.inf)))
    clocks = []
    for row in order.tolist():
        target = found.targets[row]
        if np.isnan(found.chance[row, 0]):
            clocks.append(
                AnalyteClock(
                    analyte=target.analyte, severity=target.severity, bound=target.bound,
                    is_in_sight=False, why="Not enough to say: too few fills and like boxes.",
                )
            )  # fmt: skip
            continue
        left = [
            max(float(one[row]) - found.since, 0.0) if np.isfinite(one[row]) else None
            for one in ends
        ]
        in_sight = bool(ends[1][row] <= horizon)
        clocks.append(
            AnalyteClock(
                analyte=target.analyte, severity=target.severity, bound=target.bound,
                p10=left[0] if in_sight else None,
                p50=left[1] if in_sight else None,
                p90=left[2] if in_sight else None,
                chance_before_due=_chance_by(found.chance[row], found.since, clock),
                chance_of_growth=float(found.growth[row]),
                is_in_sight=in_sight,
                why="" if in_sight else f"No limit in sight within {horizon:.0f} h of use.",
            )
        )  # fmt: skip
    return tuple(clocks)


def _chance_by(chance: FloatArray, since: float, clock: Clock) -> float | None:
    """The chance of crossing before the next planned sample."""
    if clock.hours_to_due is None:
        return None
    return float(np.interp(since + max(clock.hours_to_due, 0.0), AHEAD, chance))


def _day(hours: float, clock: Clock) -> date | None:
    if not clock.hours_per_day:
        return None
    return clock.today + timedelta(days=round(hours / clock.hours_per_day))


def _sentence(answer: HoursLeft, lead: Target) -> str:
    """The forecast in one line, as the page shows it."""
    bound = f"{lead.severity.word} at {lead.analyte.text(lead.bound)} {lead.analyte.unit}"
    low, middle, high = answer.p10 or 0.0, answer.p50 or 0.0, answer.p90 or 0.0
    if middle < 1.0:
        told = (
            f"{lead.analyte.name} has likely reached its limit ({bound}) in the "
            f"{answer.hours_since:.0f} h since the sample of {answer.counted_from_on}"
        )
    else:
        when = f", about {answer.on50.isoformat()}" if answer.on50 else ""
        told = (
            f"{lead.analyte.name} is likely the first to reach a limit, {bound}: in "
            f"{middle:.0f} h of use{when}, 8 times in 10 between {low:.0f} and {high:.0f} h"
        )
    if answer.chance_before_due is None or middle < 1.0:
        return f"{told}."
    share = chance_text(answer.chance_before_due)
    return f"{told}; the chance before the next planned sample is {share}."
