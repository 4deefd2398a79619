"""The due events of many boxes, from the samples they gave: what was owed, and what answered it.

A sample answers the first due point of which it is not more than half an interval late; the points
before that were missed. What the next is counted from is the box's convention (``window.py``). On
a fixed grid a sample before the window is extra and answers nothing.

An event is held to the interval, window and convention that were in force until its window closed
or its sample was drawn: a change before that moves it, as it moved what was due; a later one leaves
it (common practice, no source). A shorter interval makes a box due on the day of the change at the
earliest.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.sampling.window import LATE_SHARE, Convention, is_inside
from fluiddesk.domain.wear.inputs import FloatArray, WearInputError, same_length

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

NO_SAMPLE: Final = -1

_PLACES: Final = 6
_CODES: Final = {one: code for code, one in enumerate(Convention)}


def convention_codes(conventions: Sequence[Convention]) -> NDArray[np.int8]:
    """Conventions as a column of small numbers.

    >>> convention_codes([Convention.ROLLING, Convention.GRID]).tolist()
    [0, 1]
    """
    return np.array([_CODES[one] for one in conventions], dtype=np.int8)


@dataclass(frozen=True, slots=True, kw_only=True)
class Epochs:
    """The intervals of n boxes as they held; e rows by box and beginning, at least one a box.

    Attributes:
        box: shape (e,), rising.
        begins: shape (e, axes), the point on each axis from which the row holds; the first row of
            a box holds from ever.
        interval: shape (e, axes), NaN where the box owed nothing on that axis.
        half: shape (e, axes), half of each window.
        convention: shape (e,), codes of ``convention_codes``.
    """

    box: IntArray
    begins: FloatArray
    interval: FloatArray
    half: FloatArray
    convention: NDArray[np.int8]


def lasting(interval: FloatArray, half: FloatArray, convention: NDArray[np.int8]) -> Epochs:
    """One interval for each of n boxes that held for all time; columns of shape (n,), one axis."""
    return Epochs(
        box=np.arange(len(interval)),
        begins=np.full((len(interval), 1), -np.inf),
        interval=interval[:, None],
        half=half[:, None],
        convention=convention,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """The samples of n boxes; s rows, those of a box together and in the order drawn.

    Attributes:
        box: shape (s,), rising.
        at: shape (s, axes), where each was drawn; finite on the axes that are counted on.
        axis: shape (s,), the axis on which the count that begins at a sample goes on.
        answers: shape (s,), whether it can answer a due event. One that cannot (a resample) moves
            what is counted from the last sample, and nothing on a grid.
    """

    box: IntArray
    at: FloatArray
    axis: IntArray
    answers: BoolArray


@dataclass(frozen=True, slots=True, kw_only=True)
class DueEvents:
    """Every due event of every box, by box and in their order; m rows.

    Attributes:
        box: index of the box each event belongs to.
        axis: the axis its due point stands on.
        due: the due point.
        epoch: the row of ``Epochs`` it is held to.
        sample: row of the sample that answers it, ``NO_SAMPLE`` where there is none.
        sampled_at: where that was drawn, NaN where there is none.
        is_tail: whether no sample has been drawn that could have answered it or moved it.
        is_owed: whether it is the first of those, one a box: what the box owes now.
        is_extra: shape (s,), samples that answer no due event though they could.
    """

    box: IntArray
    axis: IntArray
    due: FloatArray
    epoch: IntArray
    sample: IntArray
    sampled_at: FloatArray
    is_tail: BoolArray
    is_owed: BoolArray
    is_extra: BoolArray


def due_events(samples: Drawn, epochs: Epochs, *, now: FloatArray) -> DueEvents:
    """Work out the due events of n boxes. The first sample of a box begins its count.

    Args:
        samples: the samples of the boxes; a box without one owes nothing.
        epochs: the intervals as they held.
        now: shape (n, axes), where each axis stands today.

    Raises:
        WearInputError: boxes do not rise, a point that is counted on is not known, an interval is
            not above 0, or a box has no interval.

    >>> found = due_events(
    ...     Drawn(box=np.zeros(3, int), at=np.array([[0.0], [240.0], [1010.0]]),
    ...           axis=np.zeros(3, int), answers=np.ones(3, bool)),
    ...     lasting(np.array([250.0]), np.array([25.0]), convention_codes([Convention.GRID])),
    ...     now=np.array([[1100.0]]))
    >>> found.due.tolist(), found.sample.tolist()
    ([250.0, 500.0, 750.0, 1000.0, 1250.0], [1, -1, -1, 2, -1])
    """
    _check(samples, epochs, now)
    count = _Count(samples, epochs, now)
    active = np.flatnonzero(count.begin < count.end)
    while len(active):
        active = count.step(active)
    return count.events()


@dataclass(frozen=True, slots=True)
class _Laid:
    """The due points that k boxes are counted towards. ``base``: what they are counted from.

    ``is_pending``: whether the interval changes later, before the sample.
    """

    base: FloatArray
    epoch: IntArray
    interval: FloatArray
    half: FloatArray
    is_pending: BoolArray


_Owed = tuple[IntArray, IntArray, FloatArray, IntArray, IntArray, BoolArray]


class _Count:
    """Goes from sample to sample, all boxes at once."""

    def __init__(self, samples: Drawn, epochs: Epochs, now: FloatArray) -> None:
        boxes = np.arange(len(now))
        self._samples, self._epochs, self._now = samples, epochs, now
        self.begin = np.searchsorted(samples.box, boxes)
        self.end = np.searchsorted(samples.box, boxes, side="right")
        self._first = np.searchsorted(epochs.box, boxes)
        self._last = np.searchsorted(epochs.box, boxes, side="right") - 1
        self._has_changes = bool((self._last > self._first).any())
        self._next = self.begin + 1
        self._axis = np.zeros(len(now), dtype=np.int64)
        self._base = np.full(len(now), np.nan)
        has = np.flatnonzero(self.begin < self.end)
        self._restart(has, self.begin[has])
        self._owed: list[_Owed] = []
        self._is_tail: list[NDArray[np.bool_]] = []
        self._is_extra = np.zeros(len(samples.box), dtype=np.bool_)
        self._waits = np.zeros(len(now), dtype=np.bool_)

    def step(self, box: IntArray) -> IntArray:
        """One sample, or one event before a change; the boxes that are not done yet."""
        axis, has = self._axis[box], self._next[box] < self.end[box]
        row = np.where(has, self._next[box], self.begin[box])
        today = np.maximum(self._now[box, axis], self._base[box])
        at = np.where(has, self._samples.at[row, axis], today)
        # A change on the day of a sample holds for what is counted from it.
        laid = self._laid(box, np.where(has, np.nextafter(at, -np.inf), at))
        owes = ~np.isnan(laid.interval)
        number = np.ones(len(box), dtype=np.int64)
        number[owes] = _answered((at - laid.base)[owes], laid.interval[owes])

        answers = self._samples.answers[row]
        on_grid = self._epochs.convention[laid.epoch] == _CODES[Convention.GRID]
        passes = has & ~answers & on_grid & owes
        halts = owes & laid.is_pending & (number > 1) & ~passes
        self._miss(box, laid, np.where(halts, 2, number), owes & ~passes, has=has)
        self._base[box[halts]] = (laid.base + laid.interval)[halts]

        goes = has & owes & ~halts & ~passes
        self._answer(box, row, laid, number, at=at, which=goes & answers)
        self._move(box, row, laid, number, at=at, which=goes & ~answers)
        idle = has & ~owes
        self._restart(box[idle], row[idle])
        ends: BoolArray = ~has & ~halts
        self._push(box, laid, number, np.full(len(box), NO_SAMPLE), ends & owes, has=has)
        self._next[box[has & ~halts]] += 1
        going: IntArray = box[~ends]
        return going

    def _laid(self, box: IntArray, until: FloatArray) -> _Laid:
        """What each box is counted towards, with the changes until its sample."""
        held, axis = self._epochs, self._axis[box]
        row, base = self._first[box], self._base[box]
        if not self._has_changes:
            none = np.zeros(len(box), dtype=np.bool_)
            return _Laid(base, row, held.interval[row, axis], held.half[row, axis], none)
        last = self._last[box]
        while (on := (row < last) & (self._begins(row, last, axis) <= base)).any():
            row = row + on
        while True:
            change = self._begins(row, last, axis)
            pending = (row < last) & (change <= until)
            length = held.interval[row, axis]
            closes = base + np.where(np.isnan(length), np.inf, length + held.half[row, axis])
            on = pending & (change <= closes)
            if not on.any():
                return _Laid(base, row, length, held.half[row, axis], pending)
            row = row + on
            new = held.interval[row, axis]
            # Due on the day of the change at the earliest.
            moved = np.maximum(self._base[box] + new, change) - new
            base = np.where(on, np.where(np.isnan(new), self._base[box], moved), base)

    def _begins(self, row: IntArray, last: IntArray, axis: IntArray) -> FloatArray:
        following: FloatArray = self._epochs.begins[np.minimum(row + 1, last), axis]
        return following

    def _miss(
        self, box: IntArray, laid: _Laid, number: IntArray, which: BoolArray, *, has: BoolArray
    ) -> None:
        """The due points before the one answered."""
        passed = np.where(which, number - 1, 0)
        at = np.repeat(np.arange(len(box)), passed)
        turn = np.arange(len(at)) - np.repeat(np.cumsum(passed) - passed, passed) + 1
        due = laid.base[at] + turn * laid.interval[at]
        self._note(box[at], due, laid.epoch[at], np.full(len(at), NO_SAMPLE), ~has[at])

    def _push(
        self,
        box: IntArray,
        laid: _Laid,
        number: IntArray,
        sample: IntArray,
        which: BoolArray,
        *,
        has: BoolArray,
    ) -> None:
        due = (laid.base + number * laid.interval)[which]
        self._note(box[which], due, laid.epoch[which], sample[which], ~has[which])

    def _note(
        self, box: IntArray, due: FloatArray, epoch: IntArray, sample: IntArray, tail: BoolArray
    ) -> None:
        self._owed.append((box, self._axis[box], due, epoch, sample, tail))

    def _answer(
        self,
        box: IntArray,
        row: IntArray,
        laid: _Laid,
        number: IntArray,
        *,
        at: FloatArray,
        which: BoolArray,
    ) -> None:
        due = laid.base + number * laid.interval
        inside = is_inside(at, low=due - laid.half, high=due + laid.half)
        early = ~inside & (at < due)
        told = self._epochs.convention[laid.epoch]
        on_grid = told == _CODES[Convention.GRID]
        extra = which & early & on_grid
        self._is_extra[row[extra]] = True
        self._push(box, laid, number, row, which & ~extra, has=np.ones(len(box), np.bool_))
        rolls = which & (
            (told == _CODES[Convention.ROLLING])
            | ((told == _CODES[Convention.RESTARTED_GRID]) & ~inside)
        )
        stays = which & ~rolls
        self._base[box[stays]] = (due - np.where(extra, laid.interval, 0.0))[stays]
        self._restart(box[rolls], row[rolls])

    def _move(
        self,
        box: IntArray,
        row: IntArray,
        laid: _Laid,
        number: IntArray,
        *,
        at: FloatArray,
        which: BoolArray,
    ) -> None:
        """A sample that answers nothing: an event whose window had closed by then was missed."""
        closed = np.round(at, _PLACES) > np.round(
            laid.base + number * laid.interval + laid.half, _PLACES
        )
        none, all_of = np.full(len(box), NO_SAMPLE), np.ones(len(box), np.bool_)
        self._push(box, laid, number, none, which & closed, has=all_of)
        self._restart(box[which], row[which])

    def _restart(self, box: IntArray, row: IntArray) -> None:
        """Count anew from a sample."""
        self._axis[box] = self._samples.axis[row]
        self._base[box] = self._samples.at[row, self._axis[box]]

    def events(self) -> DueEvents:
        """Everything noted, by box."""
        nothing = np.empty(0, dtype=np.int64)
        self._owed.append((nothing, nothing, np.empty(0), nothing, nothing, np.empty(0, np.bool_)))
        box, axis, due, epoch, sample, tail = (
            np.concatenate(column) for column in zip(*self._owed, strict=True)
        )
        order = np.argsort(box, kind="stable")
        box, axis, epoch, sample, tail = (
            column[order] for column in (box, axis, epoch, sample, tail)
        )
        at = np.append(self._samples.at, np.full((1, self._now.shape[1]), np.nan), axis=0)
        begins = np.flatnonzero(tail & ~np.append(False, tail[:-1] & (box[1:] == box[:-1])))
        owed = np.zeros(len(box), dtype=np.bool_)
        owed[begins] = True
        return DueEvents(
            box=box,
            axis=axis,
            due=np.round(due[order], _PLACES),
            epoch=epoch,
            sample=sample,
            sampled_at=at[sample, axis],  # row -1 is the one that is not there
            is_tail=tail,
            is_owed=owed,
            is_extra=self._is_extra,
        )


def _answered(gap: FloatArray, interval: FloatArray) -> IntArray:
    """Which due point a sample so far from the last one answers: 1 for the next."""
    # Rounded twice, so that neither the difference nor the quotient in binary arithmetic turns the
    # last point at which a sample is merely late into a miss.
    turns = np.round(np.round(gap - LATE_SHARE * interval, _PLACES) / interval, 9)
    return np.maximum(np.ceil(turns), 1).astype(np.int64)


def _check(samples: Drawn, epochs: Epochs, now: FloatArray) -> None:
    same_length(box_of_sample=samples.box, point_of_sample=samples.at, axis=samples.axis)
    same_length(epoch=epochs.box, interval=epochs.interval, begins=epochs.begins)
    boxes = len(now)
    for what, box in (("Sample", samples.box), ("Interval", epochs.box)):
        strange = (box < 0) | (box >= boxes)
        if strange.any():
            row = int(np.flatnonzero(strange)[0])
            raise WearInputError(
                f"{what} {row + 1} belongs to box {box[row]}, which is not there. Correct the box."
            )
        if (np.diff(box) < 0).any():
            raise WearInputError(f"{what} rows stand by box. Sort them first.")
    if len(np.unique(epochs.box)) < boxes:
        raise WearInputError("A box has no interval. Give each box at least one row.")
    wrong = (epochs.interval <= 0) | np.isinf(epochs.interval) | (epochs.half < 0)
    if wrong.any():
        raise WearInputError("An interval is not above 0, or a window below 0. Correct it.")
    # Every count that begins at a sample needs its own point, and that of the next sample.
    rows = np.arange(len(samples.box))
    follows = rows[:-1][samples.box[1:] == samples.box[:-1]]
    own = samples.at[rows, samples.axis]
    following = samples.at[follows + 1, samples.axis[follows]]
    ending = now[samples.box, samples.axis]
    if not (np.isfinite(own).all() and np.isfinite(following).all() and np.isfinite(ending).all()):
        raise WearInputError(
            "A sample was drawn at a point that is not known. Leave it out, or count by days."
        )
