"""What became of a due event: every one has exactly one outcome.

On time: in the window (``window.py``). Late: after it, up to half an interval past the due point.
Missed: no sample by then, or by the next due point. Excused: the machine owed no sample during the
whole window. Not usable: taken, but rejected, lost or too little. The window is that of US Army
TB 43-0211; the other rules are common practice, no source.
"""

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.sampling.window import LATE_SHARE, is_inside
from fluiddesk.domain.wear.inputs import FloatArray, WearInputError, checked, same_length

BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]


class Outcome(IntEnum):
    """What became of a due event."""

    OPEN = 0
    """Not settled: a sample may still come in time, or late."""
    EARLY = 1
    ON_TIME = 2
    LATE = 3
    MISSED = 4
    EXCUSED = 5
    UNUSABLE = 6

    @property
    def word(self) -> str:
        """The word shown to people."""
        return _WORDS[self]


_WORDS = {
    Outcome.OPEN: "Open",
    Outcome.EARLY: "Too early",
    Outcome.ON_TIME: "On time",
    Outcome.LATE: "Late",
    Outcome.MISSED: "Missed",
    Outcome.EXCUSED: "Excused",
    Outcome.UNUSABLE: "Not usable",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class OutcomeColumns:
    """What became of n due events.

    Attributes:
        outcome: shape (n,), values of ``Outcome``.
        timing: the same, a sample that cannot be used told by when it was taken.
        late_by: how far past the due point the sample was taken, as a share of the interval; 0
            where it was not late.
    """

    outcome: NDArray[np.int8]
    timing: NDArray[np.int8]
    late_by: FloatArray

    @property
    def is_taken(self) -> BoolArray:
        """Whether a sample was taken, on time or late."""
        return np.isin(self.timing, (Outcome.ON_TIME, Outcome.LATE))


def outcome_columns(
    *,
    due: FloatArray,
    half: FloatArray,
    interval: FloatArray,
    sampled_at: FloatArray,
    now: FloatArray,
    is_excused: BoolArray,
    is_usable: BoolArray,
    next_due: FloatArray | None = None,
) -> OutcomeColumns:
    """Judge n due events, all on one axis: hours on the meter, or days.

    A sample inside the window makes the event on time, excuse or not; one before the window makes
    it too early.

    Args:
        due: the due points.
        half: half of each window (``half_width_hours``, or ``half_width_days`` rounded inwards).
        interval: of each event, above 0.
        sampled_at: where the sample for this event was taken, NaN where there is none.
        now: where the axis stands today.
        is_excused: whether the machine owed no sample during the whole window.
        is_usable: whether the sample led to a verdict, or still may.
        next_due: the due point after each; where it comes before half an interval has passed, the
            event is missed from there.

    Raises:
        WearInputError: a figure is not finite, or an interval not above 0.

    >>> at = np.array([1240.0, 1290.0, np.nan])
    >>> found = outcome_columns(due=np.full(3, 1250.0), half=np.full(3, 25.0),
    ...     interval=np.full(3, 250.0), sampled_at=at, now=np.full(3, 1400.0),
    ...     is_excused=np.zeros(3, bool), is_usable=np.ones(3, bool))
    >>> [Outcome(int(one)).word for one in found.outcome]
    ['On time', 'Late', 'Missed']
    """
    point = checked("the due point", due)
    reach = checked("half of the window", half, at_least=0)
    length = checked("the interval", interval, above=0)
    today = checked("today's point", now)
    if np.isinf(sampled_at).any():
        raise WearInputError(
            "A sample was taken at an infinite point. Correct it, or leave it out."
        )
    same_length(due=point, half=reach, interval=length, sampled=sampled_at, now=today)
    low, high = point - reach, point + reach
    last = np.round(np.maximum(point + LATE_SHARE * length, high), 6)
    if next_due is not None:
        last = np.fmin(last, next_due)

    on_time = is_inside(sampled_at, low=low, high=high)
    early = ~on_time & (sampled_at < low)
    late = ~on_time & (sampled_at > high) & (np.round(sampled_at, 6) <= last)
    timing = np.where(np.round(today, 6) > last, Outcome.MISSED, Outcome.OPEN).astype(np.int8)
    # A sample later than that was taken for another event.
    timing[~np.isnan(sampled_at)] = Outcome.MISSED
    timing[late] = Outcome.LATE
    timing[is_excused & (today > high)] = Outcome.EXCUSED
    timing[early] = Outcome.EARLY
    timing[on_time] = Outcome.ON_TIME
    taken = np.isin(timing, (Outcome.ON_TIME, Outcome.LATE))
    return OutcomeColumns(
        outcome=np.where(taken & ~is_usable, Outcome.UNUSABLE, timing).astype(np.int8),
        timing=timing,
        late_by=np.where(timing == Outcome.LATE, (sampled_at - point) / length, 0.0),
    )


def outcome(
    *,
    due: float,
    half: float,
    interval: float,
    sampled_at: float | None,
    now: float,
    is_excused: bool = False,
    is_usable: bool = True,
) -> Outcome:
    """Judge one due event; the words of ``outcome_columns``, no sample as None.

    >>> outcome(due=1250.0, half=25.0, interval=250.0, sampled_at=1275.0, now=1400.0).word
    'On time'
    """
    taken = np.nan if sampled_at is None else sampled_at
    found = outcome_columns(
        due=np.array([due]),
        half=np.array([half]),
        interval=np.array([interval]),
        sampled_at=np.array([taken], dtype=np.float64),
        now=np.array([now]),
        is_excused=np.array([is_excused]),
        is_usable=np.array([is_usable]),
    )
    return Outcome(int(found.outcome[0]))


def is_excused_throughout(
    *,
    box: IntArray,
    low: FloatArray,
    high: FloatArray,
    span_box: IntArray,
    span_from: FloatArray,
    span_to: FloatArray,
) -> BoolArray:
    """Whether a box owed no sample during the whole of each window.

    Spans of one box that touch or overlap count as one: standing down and then sold is one absence.

    Args:
        box: which box each due event belongs to.
        low: first point of each window.
        high: last point of each window.
        span_box: which box each span belongs to, in any order.
        span_from: first point of the span.
        span_to: last point of the span, infinite where it still lasts.

    >>> is_excused_throughout(box=np.array([4, 4]), low=np.array([10.0, 50.0]),
    ...     high=np.array([20.0, 60.0]), span_box=np.array([4, 4]),
    ...     span_from=np.array([5.0, 15.0]), span_to=np.array([15.0, 55.0])).tolist()
    [True, False]
    """
    same_length(window_low=low, window_high=high)
    same_length(span_from=span_from, span_to=span_to)
    if not len(span_box):
        return np.zeros(len(box), dtype=np.bool_)
    order = np.lexsort((span_from, span_box))
    owner, begin, end = span_box[order], span_from[order], span_to[order]
    reached = _furthest_so_far(owner, end)
    is_new = np.append(True, (owner[1:] != owner[:-1]) | (begin[1:] > reached[:-1]))
    first = np.flatnonzero(is_new)
    owner, begin, end = owner[first], begin[first], np.maximum.reduceat(reached, first)
    # Spans and windows in one line, spans first where they begin together: the span before a
    # window in the line is the only one that can cover it.
    where = np.lexsort(
        (
            np.repeat([0, 1], [len(begin), len(low)]),
            np.concatenate([begin, low]),
            np.concatenate([owner, box]),
        )
    )
    span = np.where(where < len(begin), where, -1)
    before = np.maximum.accumulate(span)
    found = np.empty(len(where), dtype=np.int64)
    found[where] = before
    mine = found[len(begin) :]
    covered: BoolArray = (mine >= 0) & (owner[mine] == box) & (end[mine] >= high)
    return covered


def _furthest_so_far(owner: IntArray, end: FloatArray) -> FloatArray:
    """The largest end among the spans of one box up to each; spans of a box stand together."""
    reached = end.copy()
    begins = np.flatnonzero(np.append(True, owner[1:] != owner[:-1]))
    place = np.arange(len(owner)) - np.repeat(begins, np.diff(np.append(begins, len(owner))))
    for turn in range(1, int(place.max()) + 1):
        row = np.flatnonzero(place == turn)
        reached[row] = np.maximum(reached[row], reached[row - 1])
    return reached
