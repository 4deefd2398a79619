"""What became of forecasts, and how well they fared."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from statistics import median
from typing import Final

import numpy as np

from fluiddesk.domain.fleet import Certainty, EventKind
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.compartment_history.facts import AnalyteSeries
from fluiddesk.services.compartment_history.forecast_facts import ForecastScore
from fluiddesk.services.compartment_history.story import BoxStory
from fluiddesk.storage import ForecastRecord, ForecastTally

FEWEST_TO_SCORE: Final = 10
"""With fewer that are known no share is told (common practice, no source)."""
CROSSED, NOT_CROSSED, CUT_OFF, OPEN = "crossed", "not_crossed", "cut_off", "open"
FROM_CHANGE: Final = "From the change of the fluid on"
"""How the remark of a forecast begins that was made for a fill not sampled yet."""
AFTERWARDS: Final = "Worked out afterwards."
"""How the remark of a forecast ends that was not made when its sample was."""

Mark = tuple[str, float | None]
"""What came, and the machine's hours when the limit was reached."""


def outcome_of(
    made: ForecastRecord, story: BoxStory, series: Sequence[AnalyteSeries]
) -> Mark | None:
    """What became of one forecast by the samples on record; ``None`` while nothing is known.

    Reached: a later believed sample of the same fill stands at the bound; the hour lies on a
    straight line between the two samples around it. Not reached: the box ran past the 90 % point
    without. Cut off: the fluid was changed, a component fitted or the limit moved before.
    """
    own = next((one for one in series if one.analyte.code == made.analyte), None)
    keys = [row.tobytes() for row in story.columns.sample_id]
    if own is None or made.p90 is None or made.bound is None or made.sample not in keys:
        return None
    start = keys.index(made.sample)
    fill = int(story.columns.fill[start]) + int(is_of_new_fill(made))
    ended = _ended_at(story, fill, after=made.at_hours)
    upward = float(own.values[start]) < made.bound
    last_hours, last_value = made.at_hours, float(own.values[start])
    for place in _later(story, own, start, fill=fill, until=ended):
        hours, value = float(story.columns.hours[place]), float(own.values[place])
        reached = value >= made.bound if upward else value <= made.bound
        if reached and own.signs[place] != Sign.BELOW:
            return CROSSED, _crossed_at(last_hours, last_value, hours, value, made.bound)
        last_hours, last_value = hours, value
    ran = (last_hours if ended is None else ended) - made.at_hours
    if ran > made.p90:
        return NOT_CROSSED, None
    return (CUT_OFF, None) if ended is not None or _limit_moved(made, own) else None


def is_of_new_fill(made: ForecastRecord) -> bool:
    """Whether it was made for a fill that began after its sample."""
    return made.why.startswith(FROM_CHANGE)


def _ended_at(story: BoxStory, fill: int, *, after: float) -> float | None:
    """The machine's hours when the fill ended by a change or a component; ``None`` while it runs.

    Where the change has no hours, those of the last sample of the fill.
    """
    columns = story.columns
    ends = [one for one in (_fitted_after(story, after),) if one is not None]
    own = columns.hours[columns.fill <= fill]
    known = own[np.isfinite(own)]
    last = max(float(known.max()) if len(known) else after, after)
    later = [one for one in story.fills if one.number > fill]
    if later:
        begun = later[0].starts_at_hours
        ends.append(last if begun is None else max(begun, after))
    elif story.change_since is not None and fill == int(columns.fill[-1]):
        begun = story.changed_at_hours
        ends.append(last if begun is None else max(begun, after))
    return min(ends, default=None)


def _later(
    story: BoxStory, own: AnalyteSeries, start: int, *, fill: int, until: float | None
) -> Iterator[int]:
    """Places of the later believed samples of the fill that have a number."""
    columns = story.columns
    for place in range(start + 1, len(columns)):
        hours = float(columns.hours[place])
        told = (
            columns.trust[place] != Trust.REJECTED
            and np.isfinite(hours)
            and int(columns.fill[place]) == fill
            and own.signs[place] <= Sign.ABOVE
        )
        if told and (until is None or hours <= until):
            yield place


def _crossed_at(
    from_hours: float, from_value: float, to_hours: float, to_value: float, bound: float
) -> float:
    rise = to_value - from_value
    share = (bound - from_value) / rise if rise else 1.0
    return from_hours + float(np.clip(share, 0.0, 1.0)) * (to_hours - from_hours)


def _fitted_after(story: BoxStory, hours: float) -> float | None:
    fitted = [
        one.place_hours
        for one in story.events
        if one.kind is EventKind.COMPONENT_FIT
        and one.certainty is not Certainty.DENIED
        and one.place_hours is not None
        and one.place_hours > hours
    ]
    return min(fitted, default=None)


def _limit_moved(made: ForecastRecord, series: AnalyteSeries) -> bool:
    """Whether no limit in force has that bound for that band any more."""
    bounds = [
        bound
        for band in series.bands
        for severity, bound in zip(
            (Severity.WATCH, Severity.ACT, Severity.URGENT),
            (band.watch, band.act, band.urgent),
            strict=True,
        )
        if bound is not None and int(severity) == made.severity
    ]
    return not any(np.isclose(bound, made.bound or 0.0) for bound in bounds)


def score_of(tally: ForecastTally | None, scope: str) -> ForecastScore:
    """How past forecasts with numbers fared.

    One that ran past its band without reaching the limit counts as outside of it; one that was cut
    off says nothing.
    """
    if tally is None:
        score = ForecastScore(scope=scope)
        return replace(score, sentence=_score_sentence(score, 0))
    crossed = len(tally.errors)
    known = crossed + tally.outcomes.get(NOT_CROSSED, 0)
    enough = known >= FEWEST_TO_SCORE and crossed > 0
    score = ForecastScore(
        scope=scope,
        marked=known,
        crossed=crossed,
        inside=tally.inside / known if enough else None,
        median_error_hours=median(tally.errors) if enough else None,
        cut_off=tally.outcomes.get(CUT_OFF, 0),
        open=tally.outcomes.get(OPEN, 0),
        afterwards=tally.afterwards,
    )
    return replace(score, sentence=_score_sentence(score, tally.inside))


def _score_sentence(score: ForecastScore, inside: int) -> str:
    made = score.marked + score.cut_off + score.open
    kind = score.scope.lower()
    if not made:
        return f"No forecast with numbers has been kept for this kind of box yet ({kind})."
    told = (
        f"{made} {'forecast' if made == 1 else 'forecasts'} kept for this kind of box ({kind}): "
        f"{score.crossed} reached the limit, {score.marked - score.crossed} ran past the band, "
        f"{score.cut_off} cut off by a change, {score.open} open"
    )
    if score.afterwards:
        told += f" ({score.afterwards} worked out afterwards)"
    if score.inside is None or score.median_error_hours is None:
        return f"{told}. It takes {FEWEST_TO_SCORE} known ones to say how good they were."
    way = "later" if score.median_error_hours > 0 else "earlier"
    return (
        f"{told}. {inside} of {score.marked} came inside the 8 in 10 band, in the middle "
        f"{abs(score.median_error_hours):.0f} h {way} than foretold."
    )
