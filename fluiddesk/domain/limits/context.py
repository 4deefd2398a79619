"""What besides its own values decides how a sample is judged: what came before and beside it."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.samples import SampleColumns, Sign

FloatColumn = NDArray[np.float64]
SideLevels = Callable[[int], tuple[FloatColumn, NDArray[np.uint8]]]
"""Given an analyte number: the other side's values and signs beside each sample, shape (n,)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgingContext:
    """Facts about n samples of one group, beside ``SampleColumns``; all shape (n,) but the tables.

    Attributes:
        history: number of the life a sample belongs to, rising: a box, anew from each component
            that was fitted. Own levels and ratios never reach across.
        previous: row of the last trusted sample before this one in the same life; -1 for none.
        start: row of the trusted sample the mass balance starts from; -1 where there is none.
        start_share: share of that sample's level left in the fluid at the start of the stretch: 1
            inside a fill, the residue share after a fluid change.
        hours: hours of the stretch; NaN where there is none.
        kept: share of the start's level that is left at the sample, after losses and top-ups.
        brought: share of the fresh fluid's level that make-up has brought since the start.
        per_made: mg/kg at the sample for each mg/kg made per hour.
        interval_hours: the usual hours of a fill; NaN where the box has none.
        fills_since_fit: 0 in the first fill after a component was fitted, 1 in the second; -1 where
            no fit is known.
        repaired_on: day ordinal of the newest repair or fit up to the sample; 0 for none.
        grade: row of ``grade_edges`` that holds for the fluid; -1 where its grade is not known.
        tests: row of ``ordered``, the list of tests that was ordered; -1 where none is known.
        grade_edges: shape (g, 4), least and highest viscosity of a grade at 40 C, then at 100 C, in
            mm2/s; both still inside the grade; NaN where the grade says nothing.
        ordered: the analyte numbers each list of tests orders.
        side: the other side's levels of an analyte number.
    """

    history: NDArray[np.int32]
    previous: NDArray[np.intp]
    start: NDArray[np.intp]
    start_share: FloatColumn
    hours: FloatColumn
    kept: FloatColumn
    brought: FloatColumn
    per_made: FloatColumn
    interval_hours: FloatColumn
    fills_since_fit: NDArray[np.int8]
    repaired_on: NDArray[np.int32]
    grade: NDArray[np.int16]
    tests: NDArray[np.int16]
    grade_edges: FloatColumn
    ordered: tuple[frozenset[int], ...]
    side: SideLevels


def no_context(columns: SampleColumns) -> JudgingContext:
    """The context of samples of which nothing else is known: no kind that needs one is judged."""
    size = len(columns)
    nothing, none = np.full(size, np.nan), np.full(size, -1, dtype=np.intp)

    def no_side(_: int) -> tuple[FloatColumn, NDArray[np.uint8]]:
        return nothing, np.full(size, Sign.NOT_TESTED, dtype=np.uint8)

    return JudgingContext(
        history=columns.compartment.astype(np.int32),
        previous=none,
        start=none,
        start_share=nothing,
        hours=nothing,
        kept=nothing,
        brought=nothing,
        per_made=nothing,
        interval_hours=nothing,
        fills_since_fit=np.full(size, -1, dtype=np.int8),
        repaired_on=np.zeros(size, dtype=np.int32),
        grade=np.full(size, -1, dtype=np.int16),
        tests=np.full(size, -1, dtype=np.int16),
        grade_edges=np.empty((0, 4)),
        ordered=(),
        side=no_side,
    )


def previous_rows(chosen: NDArray[np.bool_], history: NDArray[np.int32]) -> NDArray[np.intp]:
    """The last chosen row before each row in the same history; -1 where there is none.

    Rows of one history stand together, in the order taken.

    >>> previous_rows(np.array([True, False, True, True]), np.array([0, 0, 0, 1])).tolist()
    [-1, 0, 0, -1]
    """
    place = np.arange(len(chosen))
    newest = np.maximum.accumulate(np.where(chosen, place, -1))
    before = np.concatenate([[-1], newest])[: len(chosen)].astype(np.intp)
    begins = np.flatnonzero(np.diff(history, prepend=history[:1] - 1))
    first = np.repeat(begins, np.diff(np.append(begins, len(chosen))))
    before[before < first] = -1
    return before


def newest_at(
    at: NDArray[np.int64],
    groups: NDArray[np.int64],
    *,
    event_at: NDArray[np.int64],
    event_groups: NDArray[np.int64],
    before: bool = False,
) -> NDArray[np.intp]:
    """Place of the newest event of the same group at or before each moment; -1 where none.

    Args:
        at: the moments asked for, day ordinals below one million.
        groups: the group of each, at least 0.
        event_at: the moments of the events; together with their groups in rising order.
        event_groups: the group of each event.
        before: only events strictly before count.
    """
    if not len(event_at):
        return np.full(len(at), -1, dtype=np.intp)
    span = np.int64(1_000_000)
    keys = event_groups * span + event_at
    wanted = groups * span + at
    place = np.searchsorted(keys, wanted, side="left" if before else "right") - 1
    found = (place >= 0) & (event_groups[np.maximum(place, 0)] == groups)
    return np.where(found, place, -1).astype(np.intp)
