"""The base-number clock of the fill in the box: when the reserve is used up."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.limits.limit_set import LimitKind
from fluiddesk.domain.severity import Severity
from fluiddesk.domain.wear.balance import after
from fluiddesk.domain.wear.base_number import base_number_clock
from fluiddesk.domain.wear.fill_history import levels_of, starts_of
from fluiddesk.services.compartment_history.facts import AnalyteSeries
from fluiddesk.services.compartment_history.forecast_facts import BaseNumberFacts
from fluiddesk.services.compartment_history.hours_left import Clock
from fluiddesk.services.compartment_history.story import BoxStory

CODES: Final = ("base_number_d2896", "base_number_d4739")
ACID: Final = "acid_number"
_STEP_HOURS: Final = 5.0
_LOOK_AHEAD: Final = 4000.0


def base_number_facts(
    story: BoxStory, series: Sequence[AnalyteSeries], clock: Clock
) -> tuple[BaseNumberFacts | None, str]:
    """The clock, or why there is none.

    The limit is the higher of the one in force (Act, where it has one) and the level at which the
    acid number meets the base number.
    """
    last = int(story.wear.last[-1])
    level, _ = levels_of(story.columns)
    own = _tested(story, series, level[last])
    if own is None:
        return None, "The base number was not tested for at the last sample."
    column = story.columns.analytes.index(own.analyte.number)
    now, hours = float(level[last, column]), float(story.wear.hours[-1])
    start = float(starts_of(story.wear, story.traits, story.analytes)[0][-1, column])
    fresh = float(story.fresh[last, column])
    if not np.isfinite([now, hours, start, fresh]).all() or start <= 0:
        return None, (
            "Not enough to say: it needs a base number in this fill, the new fluid's base number "
            "and the hours on the fluid."
        )
    limit, text = _limit(own)
    if limit is None:
        return None, "No limit on the base number is in force."
    exchange = story.loss_l_per_h / story.capacity_l
    crossing = _acid_crossing(story, series, start=start, now=now, fresh=fresh, exchange=exchange)
    if crossing is not None and limit < crossing < start:
        limit, text = crossing, "where the acid number meets it"
    fill = _Fill(start=start, now=now, hours=hours, fresh=fresh, exchange=exchange)
    if story.change_since is not None:
        share = story.residue_share
        fill = _after_change(fill, share * now + (1 - share) * fresh)
    if limit >= fill.start:
        return None, "The limit of the base number is not below its level after the change."
    return _facts(story, fill, clock, limit=limit, text=text), ""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fill:
    """A base number after the change and at some hours later, and how it is freshened."""

    start: float
    now: float
    hours: float
    fresh: float
    exchange: float


def _tested(
    story: BoxStory, series: Sequence[AnalyteSeries], level: NDArray[np.float64]
) -> AnalyteSeries | None:
    """The curve of the method that the last believed sample was tested by."""
    by_code = {one.analyte.code: one for one in series}
    numbers = story.columns.analytes
    for code in CODES:
        if code in by_code and np.isfinite(level[numbers.index(by_code[code].analyte.number)]):
            return by_code[code]
    return None


def _after_change(fill: _Fill, start: float) -> _Fill:
    """A fill that was not sampled yet, used up as fast as the one before it."""
    used = base_number_clock(
        start=fill.start, now=fill.now, hours=fill.hours, limit=0.0, fresh=fill.fresh,
        exchange=fill.exchange,
    ).used_per_hour  # fmt: skip
    now = after(
        np.asarray(start), made=np.asarray(-used), fresh=np.asarray(fill.exchange * fill.fresh),
        loss=np.asarray(fill.exchange), hours=np.asarray(fill.hours),
    )  # fmt: skip
    return replace(fill, start=start, now=max(float(now), 0.0))


def _facts(
    story: BoxStory, fill: _Fill, clock: Clock, *, limit: float, text: str
) -> BaseNumberFacts:
    found = base_number_clock(
        start=fill.start, now=fill.now, hours=fill.hours, limit=limit, fresh=fill.fresh,
        exchange=fill.exchange,
    )  # fmt: skip
    is_new = story.change_since is not None
    at = story.changed_at_hours if is_new else float(story.columns.hours[story.wear.last[-1]])
    since = 0.0
    if clock.hours_now is not None and at is not None and np.isfinite(at):
        since = max(clock.hours_now - at, 0.0)
    # The hours of a new fill count from its change, those of a sampled one from the sample.
    ran = since - fill.hours if is_new else since
    left = found.hours_left - ran
    ends_on = None
    if np.isfinite(left) and clock.hours_per_day:
        ends_on = clock.today + timedelta(days=round(max(left, 0.0) / clock.hours_per_day))
    return BaseNumberFacts(
        used_per_1000_h=1000 * found.used_per_hour,
        value=fill.start if is_new else fill.now,
        limit=limit,
        limit_text=text,
        hours_left=left,
        straight_line_hours_left=found.straight_line_hours_left - ran,
        ends_on=ends_on,
    )


def _limit(series: AnalyteSeries) -> tuple[float | None, str]:
    """The highest bound downward of the band that asks for action, or of the next one there is."""
    for severity in (Severity.ACT, Severity.URGENT, Severity.WATCH):
        bounds = [
            (bound, f"{severity.word} limit")
            for band in series.bands
            if band.direction == "down" and band.kind in _OF_VALUES
            for bound in ((band.watch, band.act, band.urgent)[severity - Severity.WATCH],)
            if bound is not None
        ]
        if bounds:
            return max(bounds)
    return None, ""


_OF_VALUES: Final = frozenset({LimitKind.LEVEL, LimitKind.CHANGE, LimitKind.CHANGE_PERCENT})


def _acid_crossing(
    story: BoxStory,
    series: Sequence[AnalyteSeries],
    *,
    start: float,
    now: float,
    fresh: float,
    exchange: float,
) -> float | None:
    """The base number at which the acid number meets it, both going on as in this fill."""
    acid = next((one for one in series if one.analyte.code == ACID), None)
    if acid is None:
        return None
    column = story.columns.analytes.index(acid.analyte.number)
    last = int(story.wear.last[-1])
    level = float(levels_of(story.columns)[0][last, column])
    begun = float(starts_of(story.wear, story.traits, story.analytes)[0][-1, column])
    hours = float(story.wear.hours[-1])
    if not np.isfinite([level, begun]).all() or level >= now:
        return None
    used = base_number_clock(
        start=start, now=now, hours=hours, limit=0.0, fresh=fresh, exchange=exchange
    ).used_per_hour
    ahead = np.arange(0.0, _LOOK_AHEAD, _STEP_HOURS)
    reserve = after(
        np.asarray(now), made=np.asarray(-used), fresh=np.asarray(exchange * fresh),
        loss=np.asarray(exchange), hours=ahead,
    )  # fmt: skip
    acidity = level + (level - begun) / hours * ahead
    met = np.flatnonzero(acidity >= reserve)
    return float(reserve[met[0]]) if len(met) else None
