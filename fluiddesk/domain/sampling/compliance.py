"""Whether the programme keeps its own promises: shares of due events, never of bottles.

All over the due events whose window closed in the period (common practice, no source). An excused
event is not owed. Sampling early to look good shows: an early sample makes no event on time, and
the share of early samples stands beside.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.sampling.outcome import Outcome, OutcomeColumns
from fluiddesk.domain.wear.inputs import WearInputError, same_length

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """So many of so many."""

    count: int
    of: int

    @property
    def percent(self) -> float | None:
        """The share in percent; ``None`` of nothing, which is neither 0 nor 100 %."""
        return 100.0 * self.count / self.of if self.of else None

    @property
    def words(self) -> str:
        """The share as people read it.

        >>> Share(count=28, of=37).words, Share(count=0, of=0).words
        ('76 % (28 of 37)', 'none owed')
        """
        percent = self.percent
        return "none owed" if percent is None else f"{percent:.0f} % ({self.count} of {self.of})"


@dataclass(frozen=True, slots=True, kw_only=True)
class Compliance:
    """What became of the due events of a period, and of its routine samples.

    Attributes:
        due: events whose window closed in the period.
        excused: of these, with no sample owed.
        early: answered before the window.
        on_time: answered in the window, whether the sample could be used or not.
        late: answered after it.
        missed: not answered.
        still_open: window closed, but a late sample may still come.
        usable: on time or late, with a verdict.
        mean_lateness_percent: how far past the due point the late ones were taken, in percent of
            the interval; ``None`` where none was late.
        early_samples: share of routine samples of the period taken before a window.
    """

    due: int
    excused: int
    early: int
    on_time: int
    late: int
    missed: int
    still_open: int
    usable: int
    mean_lateness_percent: float | None
    early_samples: Share

    @property
    def owed(self) -> int:
        """Events that owed a sample."""
        return self.due - self.excused

    @property
    def on_time_share(self) -> Share:
        """On time, of those owed."""
        return Share(count=self.on_time, of=self.owed)

    @property
    def taken_share(self) -> Share:
        """On time or late, of those owed."""
        return Share(count=self.on_time + self.late, of=self.owed)

    @property
    def usable_share(self) -> Share:
        """With a verdict, of those owed."""
        return Share(count=self.usable, of=self.owed)

    @property
    def missed_share(self) -> Share:
        """Missed, of those owed."""
        return Share(count=self.missed, of=self.owed)


@dataclass(frozen=True, slots=True, kw_only=True)
class RoutineSamples:
    """The routine samples of a programme: the group, the day, and whether before a window."""

    group: IntArray
    taken_on: IntArray
    is_early: BoolArray


def compliance(
    events: OutcomeColumns,
    samples: RoutineSamples,
    *,
    group: IntArray,
    groups: int,
    closed_on: IntArray,
    first_day: int,
    last_day: int,
) -> list[Compliance]:
    """Compliance of each group (site, month, machine) over a period, both its days included.

    Args:
        events: what became of n due events.
        samples: the routine samples.
        group: shape (n,), 0 to ``groups`` - 1.
        groups: how many there are; a group without an event has its row too.
        closed_on: shape (n,), day ordinal on which each window closed.
        first_day: day ordinal.
        last_day: day ordinal.

    Raises:
        WearInputError: the period ends before it begins, or columns differ in length.

    >>> events = OutcomeColumns(outcome=np.array([2, 4, 6], np.int8),
    ...                         timing=np.array([2, 4, 3], np.int8), late_by=np.array([0, 0, 0.3]))
    >>> samples = RoutineSamples(group=np.array([0, 0]), taken_on=np.array([9, 9]),
    ...                          is_early=np.array([False, False]))
    >>> found, = compliance(events, samples, group=np.zeros(3, int), groups=1,
    ...                     closed_on=np.full(3, 9), first_day=1, last_day=31)
    >>> found.on_time_share.words, found.taken_share.words, found.usable_share.words
    ('33 % (1 of 3)', '67 % (2 of 3)', '33 % (1 of 3)')
    """
    if last_day < first_day:
        raise WearInputError(
            "The period ends before it begins. Give its first day, then its last day."
        )
    same_length(events=events.late_by, group=group, closed=closed_on)
    inside = (closed_on >= first_day) & (closed_on <= last_day)
    rows = np.where(inside)[0]
    timing, box = events.timing[rows], group[rows]
    kinds = len(Outcome)
    counts = np.bincount(box * kinds + timing, minlength=groups * kinds).reshape(groups, kinds)
    usable = events.is_taken[rows] & (events.outcome[rows] != Outcome.UNUSABLE)
    verdicts = np.bincount(box[usable], minlength=groups)
    lateness = np.bincount(box, weights=events.late_by[rows], minlength=groups)
    recent = (samples.taken_on >= first_day) & (samples.taken_on <= last_day)
    routine = np.bincount(samples.group[recent], minlength=groups)
    early = np.bincount(samples.group[recent & samples.is_early], minlength=groups)
    return [
        _one(
            counts[number],
            usable=int(verdicts[number]),
            lateness=float(lateness[number]),
            early_samples=Share(count=int(early[number]), of=int(routine[number])),
        )
        for number in range(groups)
    ]


def _one(
    counts: NDArray[np.int64], *, usable: int, lateness: float, early_samples: Share
) -> Compliance:
    late = int(counts[Outcome.LATE])
    return Compliance(
        due=int(counts.sum()),
        excused=int(counts[Outcome.EXCUSED]),
        early=int(counts[Outcome.EARLY]),
        on_time=int(counts[Outcome.ON_TIME]),
        late=late,
        missed=int(counts[Outcome.MISSED]),
        still_open=int(counts[Outcome.OPEN]),
        usable=usable,
        mean_lateness_percent=100.0 * lateness / late if late else None,
        early_samples=early_samples,
    )


def share_that(is_true: BoolArray) -> Share:
    """The share of a column that is true: fields filled, findings returned, actions closed.

    >>> share_that(np.array([True, True, False])).words
    '67 % (2 of 3)'
    """
    return Share(count=int(np.count_nonzero(is_true)), of=len(is_true))


def honoured(*, due_on: IntArray, done_on: NDArray[np.float64], today: int) -> Share:
    """Resamples and actions done by their due day, of all whose due day has come.

    Args:
        due_on: day ordinals.
        done_on: day ordinals, NaN where not done.
        today: day ordinal; what is due later counts only once it is done.

    >>> honoured(due_on=np.array([10, 10, 90]), done_on=np.array([9.0, np.nan, np.nan]),
    ...          today=20).words
    '50 % (1 of 2)'
    """
    done = ~np.isnan(done_on)
    counts = done | (due_on < today)
    return Share(count=int((done & (done_on <= due_on)).sum()), of=int(counts.sum()))
