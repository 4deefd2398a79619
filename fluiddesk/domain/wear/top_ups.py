"""Dated single top-ups: the level of a box followed from one to the next.

Between top-ups the level follows ``balance.py``. A top-up of a litres makes up for a litres lost
just before it, so that C becomes C - (a/V)(phi C - C0). Every step is a straight line in the metal
made per hour, so that the level at the end is ``without + per_made * made``: one division gives
the rate. For a box with no other loss this is G t = M (C - Cs) + rho sum a (phi Ci - C0).
"""

from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.wear.balance import filled_share
from fluiddesk.domain.wear.inputs import (
    FloatArray,
    Numbers,
    WearInputError,
    checked,
    same_length,
)

IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class TopUps:
    """Dated top-ups, one row each, in any order.

    Attributes:
        at_hours: hours from the start of the stretch to the top-up.
        litres: litres added, and lost before.
        fresh: level in the oil added, mg/kg; one figure or a column.
        stretch: which row of the other columns each belongs to; all to the first where not given.
    """

    at_hours: FloatArray
    litres: FloatArray
    fresh: Numbers = 0.0
    stretch: IntArray | None = None

    def __len__(self) -> int:
        return len(self.at_hours)


NO_TOP_UPS: Final = TopUps(at_hours=np.zeros(0), litres=np.zeros(0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Path:
    """The level at the end of each stretch, and at each top-up, as a line in the metal made."""

    without: FloatArray
    per_made: FloatArray
    stretch: IntArray
    before_without: FloatArray = field(default_factory=lambda: np.zeros(0))
    before_per_made: FloatArray = field(default_factory=lambda: np.zeros(0))
    kept: FloatArray = field(default_factory=lambda: np.zeros(0))
    added: FloatArray = field(default_factory=lambda: np.zeros(0))

    def at_top_ups(self, made: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The level just before and just after each top-up, in the order they were given."""
        rate = made.reshape(-1)[self.stretch] if len(self.stretch) else np.zeros(0)
        before = self.before_without + self.before_per_made * rate
        return before, before * self.kept + self.added


def follow(
    top_ups: TopUps,
    *,
    start: FloatArray,
    hours: FloatArray,
    volume_l: FloatArray,
    loss_share: FloatArray,
    loss: FloatArray,
    brought: FloatArray,
) -> Path:
    """The path of the level through all top-ups of each stretch.

    Args:
        top_ups: the dated top-ups.
        start: level at the start, mg/kg.
        hours: length of each stretch.
        volume_l: litres in the box.
        loss_share: share of metal that leaves with lost oil.
        loss: what is lost evenly of the metal, per hour.
        brought: what even make-up brings, mg/kg per hour.

    Raises:
        WearInputError: a top-up lies outside its stretch, or is larger than the box.
    """
    grown = filled_share(loss, hours)
    if not len(top_ups):
        without = start * np.exp(-loss * hours) + brought * grown
        return Path(without=without, per_made=grown, stretch=np.zeros(0, dtype=np.int64))
    shape = np.broadcast_shapes(
        start.shape, hours.shape, volume_l.shape, loss_share.shape, loss.shape, brought.shape
    )
    flat = [
        np.broadcast_to(one, shape).reshape(-1)
        for one in (start, hours, volume_l, loss_share, loss, brought)
    ]
    without, per_made, path = _step_by_step(top_ups, *flat)
    return Path(
        without=without.reshape(shape),
        per_made=per_made.reshape(shape),
        stretch=path.stretch,
        before_without=path.before_without,
        before_per_made=path.before_per_made,
        kept=path.kept,
        added=path.added,
    )


def _step_by_step(
    top_ups: TopUps,
    start: FloatArray,
    hours: FloatArray,
    volume_l: FloatArray,
    loss_share: FloatArray,
    loss: FloatArray,
    brought: FloatArray,
) -> tuple[FloatArray, FloatArray, Path]:
    stretch, at_hours, litres, fresh = _checked(top_ups, hours=hours, volume_l=volume_l)
    gone = litres / volume_l[stretch]
    kept, added = 1.0 - loss_share[stretch] * gone, gone * fresh
    order = np.lexsort((at_hours, stretch))
    rank = _rank(stretch[order])
    without, per_made, clock = start.copy(), np.zeros_like(start), np.zeros_like(start)
    before_without, before_per_made = np.zeros_like(gone), np.zeros_like(gone)
    for turn in range(int(rank.max()) + 1):
        row = order[rank == turn]
        box = stretch[row]
        step = at_hours[row] - clock[box]
        shrunk, grown = np.exp(-loss[box] * step), filled_share(loss[box], step)
        before_without[row] = without[box] * shrunk + brought[box] * grown
        before_per_made[row] = per_made[box] * shrunk + grown
        without[box] = before_without[row] * kept[row] + added[row]
        per_made[box] = before_per_made[row] * kept[row]
        clock[box] = at_hours[row]
    shrunk, grown = np.exp(-loss * (hours - clock)), filled_share(loss, hours - clock)
    path = Path(
        without=without,
        per_made=per_made,
        stretch=stretch,
        before_without=before_without,
        before_per_made=before_per_made,
        kept=kept,
        added=added,
    )
    return without * shrunk + brought * grown, per_made * shrunk + grown, path


def _checked(
    top_ups: TopUps, *, hours: FloatArray, volume_l: FloatArray
) -> tuple[IntArray, FloatArray, FloatArray, FloatArray]:
    at_hours = checked("the hours of a top-up", top_ups.at_hours, at_least=0)
    litres = checked("the litres of a top-up", top_ups.litres, at_least=0)
    fresh = checked("the level in the oil added (mg/kg)", top_ups.fresh, at_least=0)
    stretch = np.zeros(len(at_hours), dtype=np.int64)
    if top_ups.stretch is not None:
        stretch = np.asarray(top_ups.stretch, dtype=np.int64)
    same_length(hours=at_hours, litres=litres, fresh=fresh, stretch=stretch)
    astray = (stretch < 0) | (stretch >= len(hours))
    _refuse(astray, stretch.astype(np.float64), "belongs to stretch {:g}, which is not there")
    _refuse(at_hours > hours[stretch], at_hours, "at {:g} h lies after the sample")
    _refuse(litres > volume_l[stretch], litres, "of {:g} L is larger than the box")
    return stretch, at_hours, litres, np.broadcast_to(fresh, at_hours.shape)


def _refuse(wrong: NDArray[np.bool_], value: FloatArray, what: str) -> None:
    if wrong.any():
        row = int(np.flatnonzero(wrong)[0])
        raise WearInputError(
            f"Top-up {row + 1} {what.format(value[row])}. Correct it, or leave it out."
        )


def _rank(box: IntArray) -> IntArray:
    """0 for the first row of each box, 1 for its second, and so on; rows of a box together."""
    place = np.arange(len(box))
    begins = np.flatnonzero(np.diff(box, prepend=box[0] - 1))
    counted: IntArray = place - np.repeat(begins, np.diff(np.append(begins, len(box))))
    return counted
