"""The due events of many boxes, from the samples they gave: what was owed, and what answered it.

A sample answers the first due point of which it is not more than half an interval late; the points
before that were missed. What the next is counted from is the box's convention (``window.py``). On
a fixed grid a sample before the window is extra and answers nothing.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.sampling.window import LATE_SHARE, Convention, is_inside
from fluiddesk.domain.wear.inputs import FloatArray, WearInputError, checked, same_length

IntArray = NDArray[np.int64]

NO_SAMPLE: Final = -1

_PLACES: Final = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class DueEvents:
    """Every due event of every box, by box and due point; the last of each box is the current one.

    Attributes:
        box: index of the box each event belongs to.
        due: the due point.
        sample: row of the sample that answers it, ``NO_SAMPLE`` where there is none.
        sampled_at: where that was taken, NaN where there is none.
        is_extra: shape (samples,), samples that answer no due event.
    """

    box: IntArray
    due: FloatArray
    sample: IntArray
    sampled_at: FloatArray
    is_extra: NDArray[np.bool_]


def due_events(
    *,
    sample_box: IntArray,
    taken_at: FloatArray,
    counted_from: FloatArray,
    interval: FloatArray,
    half: FloatArray,
    now: FloatArray,
    convention: Convention,
) -> DueEvents:
    """Work out the due events of n boxes on one axis, hours on the meter or days.

    Args:
        sample_box: index of the box of each routine sample, in any order.
        taken_at: where each was taken.
        counted_from: shape (n,), the point from which each box owes samples.
        interval: shape (n,), above 0.
        half: shape (n,), half of each window.
        now: shape (n,), where the axis stands today.
        convention: what the next due point is counted from.

    Raises:
        WearInputError: a figure is not finite, an interval not above 0, or a sample belongs to no
            box or was taken before its box owed any.

    >>> found = due_events(sample_box=np.array([0, 0]), taken_at=np.array([240.0, 1010.0]),
    ...     counted_from=np.zeros(1), interval=np.array([250.0]), half=np.array([25.0]),
    ...     now=np.array([1100.0]), convention=Convention.GRID)
    >>> found.due.tolist(), found.sample.tolist()
    ([250.0, 500.0, 750.0, 1000.0, 1250.0], [0, -1, -1, 1, -1])
    """
    base = checked("the point counted from", counted_from).copy()
    length = checked("the interval", interval, above=0)
    reach = checked("half of the window", half, at_least=0)
    today = checked("today's point", now)
    taken = checked("the point of a sample", taken_at)
    same_length(counted_from=base, interval=length, half=reach, now=today)
    same_length(box_of_sample=sample_box, point_of_sample=taken)
    _refuse_strangers(sample_box, taken, base)

    order = np.lexsort((taken, sample_box))
    begins = np.searchsorted(sample_box[order], np.arange(len(base)))
    counts = np.bincount(sample_box, minlength=len(base))
    owed: list[tuple[IntArray, FloatArray, IntArray]] = []
    is_extra = np.zeros(len(taken), dtype=np.bool_)
    for turn in range(int(counts.max(initial=0))):
        box = np.flatnonzero(counts > turn)
        row = order[begins[box] + turn]
        number = _answered(taken[row] - base[box], length[box])
        owed.append(_missed(box, base[box], length[box], number))
        due = base[box] + number * length[box]
        inside = is_inside(taken[row], low=due - reach[box], high=due + reach[box])
        early = ~inside & (taken[row] < due)
        if convention is Convention.GRID:
            is_extra[row] = early
            base[box] = np.where(early, due - length[box], due)
            box, due, row = box[~early], due[~early], row[~early]
        elif convention is Convention.ROLLING:
            base[box] = taken[row]
        else:
            base[box] = np.where(inside, due, taken[row])
        owed.append((box, due, row))
    box = np.arange(len(base))
    number = _answered(today - base, length)
    owed.append(_missed(box, base, length, number))
    owed.append((box, base + number * length, np.full(len(box), NO_SAMPLE)))
    return _in_order(owed, taken, is_extra)


def _answered(gap: FloatArray, interval: FloatArray) -> IntArray:
    """Which due point a sample so far from the last one answers: 1 for the next."""
    # Rounded twice, so that neither the difference nor the quotient in binary arithmetic turns the
    # last point at which a sample is merely late into a miss.
    turns = np.round(np.round(gap - LATE_SHARE * interval, _PLACES) / interval, 9)
    return np.maximum(np.ceil(turns), 1).astype(np.int64)


def _missed(
    box: IntArray, base: FloatArray, interval: FloatArray, number: IntArray
) -> tuple[IntArray, FloatArray, IntArray]:
    """The due points before the one answered."""
    passed = number - 1
    which = np.repeat(np.arange(len(box)), passed)
    turn = np.arange(len(which)) - np.repeat(np.cumsum(passed) - passed, passed) + 1
    due = base[which] + turn * interval[which]
    return box[which], due, np.full(len(which), NO_SAMPLE)


def _in_order(
    owed: list[tuple[IntArray, FloatArray, IntArray]],
    taken: FloatArray,
    is_extra: NDArray[np.bool_],
) -> DueEvents:
    box, due, sample = (np.concatenate(column) for column in zip(*owed, strict=True))
    due = np.round(due, _PLACES)
    order = np.lexsort((due, box))
    box, due, sample = box[order], due[order], sample[order]
    at = np.append(taken, np.nan)[sample]  # row -1 is the one that is not there
    return DueEvents(box=box, due=due, sample=sample, sampled_at=at, is_extra=is_extra)


def _refuse_strangers(box: IntArray, taken: FloatArray, counted_from: FloatArray) -> None:
    strange = (box < 0) | (box >= len(counted_from))
    if strange.any():
        row = int(np.flatnonzero(strange)[0])
        raise WearInputError(
            f"Sample {row + 1} belongs to box {box[row]}, which is not there. Correct the box."
        )
    before = taken < counted_from[box]
    if before.any():
        row = int(np.flatnonzero(before)[0])
        raise WearInputError(
            f"Sample {row + 1} was taken at {taken[row]:g}, before its box owed any "
            f"({counted_from[box[row]]:g}). Leave it out, or count from an earlier point."
        )
