"""A raised limit stays raised until it is cleared: vectorised over boxes, limits and samples.

Raised at once. Lowered only after two successive trusted samples short of 0.85 of the bound, or one
after a recorded repair with at least half the usual fluid hours. A fluid change alone clears no
alarm of wear or contamination: the metals vanish and the fault stays; it does clear one of the
fluid's own condition. (Common practice, no source.)

A level v holds at sample t when the last sample that reached it is newer than the last one that
broke it. That needs two running maxima and no loop over samples.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.limits.bands import NOT_JUDGED, STEPS, Bands
from fluiddesk.domain.severity import Severity

Rows = NDArray[np.intp]
NO_LIMIT = np.int8(-2)
"""Stands in a band where the box has no such limit on that day."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Timeline:
    """Facts of n samples that decide what clears; rows of one box together, in the order taken.

    Attributes:
        box: which box each belongs to.
        taken_on: day ordinals.
        fill: number of the fill.
        repaired_on: day of the newest repair up to the sample; 0 for none.
        long_enough: whether the fill ran long enough for one sample to clear after a repair.
        counts: whether the sample is trusted, so that it raises and clears.
        is_rejected: whether it says nothing at all.
    """

    box: NDArray[np.int32]
    taken_on: NDArray[np.int32]
    fill: NDArray[np.int32]
    repaired_on: NDArray[np.int32]
    long_enough: NDArray[np.bool_]
    counts: NDArray[np.bool_]
    is_rejected: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """How limits stand after each sample.

    Attributes:
        held: shape (n, k), the band each limit stands in by trusted samples up to and with this
            one; -1 where none says anything.
        row, column: shape (p,), where a limit stands in a worse band than the sample itself tells.
        raised_in: shape (p,), the fill in which it last reached that band.
    """

    held: Bands
    row: Rows
    column: Rows
    raised_in: NDArray[np.int32]


def standing(
    own: Bands,
    keep: Bands,
    *,
    timeline: Timeline,
    always_counts: NDArray[np.bool_],
    fluid_clears: NDArray[np.bool_],
) -> Standing:
    """Bands with what earlier samples raised and nothing has cleared.

    Args:
        own: shape (n, k), the band each sample by itself puts each limit in; -1 none, ``NO_LIMIT``
            where the box had no such limit that day, which ends what stood.
        keep: shape (n, k), the band at the bounds for clearing; never lower than ``own``. -1 says
            nothing, 0 clears also where ``own`` is not judged.
        timeline: the samples' days, fills and trust.
        always_counts: shape (k,), limits that a suspect sample raises too (it never clears).
        fluid_clears: shape (k,), limits that a fluid change clears.
    """
    held = np.maximum(own, NOT_JUDGED)
    doubted = np.flatnonzero(~timeline.counts)
    held[doubted] = np.where(always_counts, held[doubted], NOT_JUDGED)
    raised = held > Severity.NORMAL
    if not raised.any():
        nowhere = np.zeros(0, dtype=np.intp)
        return Standing(held=held, row=nowhere, column=nowhere, raised_in=nowhere.astype(np.int32))
    rows, columns, pair = _rows_of_raised(raised, timeline.box)
    itself = own[rows, columns]
    found, fill = _follow(
        rows,
        pair,
        own=itself,
        keep=keep[rows, columns],
        timeline=timeline,
        always_counts=always_counts[columns],
        fluid_clears=fluid_clears[columns],
    )
    stands = np.flatnonzero(found > Severity.NORMAL)
    held[rows[stands], columns[stands]] = np.maximum(
        held[rows[stands], columns[stands]], found[stands]
    )
    over = np.flatnonzero((found > Severity.NORMAL) & (found > itself))
    return Standing(held=held, row=rows[over], column=columns[over], raised_in=fill[over])


def _rows_of_raised(raised: NDArray[np.bool_], box: NDArray[np.int32]) -> tuple[Rows, Rows, Rows]:
    """The samples of each pair of limit and box from the first that raised it on, pair by pair.

    Before that one nothing stands and nothing clears.
    """
    begins = np.diff(box, prepend=box[0] - 1) != 0
    starts = np.flatnonzero(begins)
    stops = np.append(starts[1:], len(box))
    # Columns lie together in memory: pairs go down one limit after the other.
    column, row = np.nonzero(raised.T)
    which = (np.cumsum(begins) - 1)[row]
    is_first = (np.diff(which, prepend=-1) != 0) | (np.diff(column, prepend=-1) != 0)
    first = row[is_first]
    size = stops[which[is_first]] - first
    pair = np.repeat(np.arange(len(first)), size)
    rows = np.arange(len(pair)) + np.repeat(first - (np.cumsum(size) - size), size)
    return rows, np.repeat(column[is_first], size), pair


def _follow(
    rows: Rows,
    pair: Rows,
    *,
    own: Bands,
    keep: Bands,
    timeline: Timeline,
    always_counts: NDArray[np.bool_],
    fluid_clears: NDArray[np.bool_],
) -> tuple[Bands, NDArray[np.int32]]:
    """The band that stands at each row, and the fill in which it was last reached."""
    ends = own == NO_LIMIT
    trusted = timeline.counts[rows]
    judged = ~ends & (keep != NOT_JUDGED) & ~timeline.is_rejected[rows]
    clears = judged & trusted
    fires = judged & (trusted | always_counts)
    place = np.arange(len(rows))
    tells = clears | (fires & (own > Severity.NORMAL))
    both = _with_previous(np.where(trusted, keep, np.int8(Severity.URGENT)), tells, pair)
    day, fill = timeline.taken_on[rows], timeline.fill[rows]
    repaired, long_enough = timeline.repaired_on[rows], timeline.long_enough[rows]
    level = np.zeros(len(rows), dtype=np.int8)
    raised_in = np.full(len(rows), -1, dtype=np.int32)
    # What reaches a worse band has reached the milder one: each step looks at fewer samples.
    at = place
    for step in STEPS:
        worse = fires[at] & (own[at] >= step)
        last_fire = np.maximum.accumulate(np.where(worse, at, -1))
        since = (last_fire >= 0) & (pair[np.maximum(last_fire, 0)] == pair[at])
        at, fired = at[since], last_fire[since]
        if not len(at):
            break
        below = clears[at] & (keep[at] < step)
        broken = both[at] < step
        broken |= long_enough[at] & (repaired[at] > 0) & (repaired[at] >= day[fired])
        broken |= fluid_clears[at] & (fill[at] > fill[fired])
        last_break = np.maximum.accumulate(np.where((below & broken) | ends[at], at, -1))
        stands = fired > last_break
        level[at[stands]] = step
        raised_in[at[stands]] = fill[fired[stands]]
    return level, raised_in


def _with_previous(keep: Bands, tells: NDArray[np.bool_], pair: Rows) -> Bands:
    """The higher of a sample's band and that of the telling sample before it in the same pair."""
    at = np.flatnonzero(tells)
    told = keep[at]
    same = np.diff(pair[at], prepend=-1) == 0
    # Before the first one anything may have been: it clears nothing by itself.
    before = np.where(same, np.roll(told, 1), np.int8(Severity.URGENT))
    both = np.full(len(keep), np.int8(Severity.URGENT), dtype=np.int8)
    both[at] = np.maximum(told, before)
    return both
