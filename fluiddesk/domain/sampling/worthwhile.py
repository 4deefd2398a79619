"""Which bottle is worth most: where one more sample now is likeliest to save a failure.

A fault shows D hours before the failure, and the answer comes L running hours after the sample. A
sample drawn now, s hours after the last one, tells in time of the faults that began to show since
then and still have more than L hours to go: with starts at any time alike, a rate of r faults an
hour gives r min(s, D - L) of them. Times what a failure costs, a minute of crew time, that is the
worth of the bottle (own calculation; for regular samples it agrees with ``catch.py``).
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.wear.inputs import FloatArray, Numbers, checked, same_length

LONGEST_INTERVALS: Final = 2.0
"""No box waits longer than this many intervals, whatever a bottle elsewhere is worth."""


def catch_now(
    *,
    faults_per_hour: Numbers,
    hours_since_sample: Numbers,
    shows_hours: Numbers,
    answer_hours: Numbers,
    sensitivity: Numbers = 1.0,
) -> FloatArray:
    """Faults that a sample drawn now would tell of in time.

    Args:
        faults_per_hour: how often a fault starts in such a box as it stands.
        hours_since_sample: running hours since the last sample (s).
        shows_hours: hours before the failure from which a sample shows it (D).
        answer_hours: running hours from the sample to the answer (L).
        sensitivity: chance that one sample in that time shows it.

    Returns:
        Expected faults, shape (n,).

    Raises:
        WearInputError: a figure is negative or not finite.

    >>> catch_now(faults_per_hour=np.array([0.0001, 0.0001]),
    ...     hours_since_sample=np.array([250.0, 600.0]), shows_hours=np.array([400.0, 400.0]),
    ...     answer_hours=100.0).round(3).tolist()
    [0.025, 0.03]
    """
    rate = checked("the faults an hour", faults_per_hour, at_least=0)
    since = checked("the hours since the last sample", hours_since_sample, at_least=0)
    shows = checked("the hours before failure", shows_hours, at_least=0)
    answer = checked("the hours to the answer", answer_hours, at_least=0)
    sees = checked("the sensitivity", sensitivity, at_least=0, at_most=1)
    same_length(rate=rate, since=since, shows=shows, answer=answer, sensitivity=sees)
    in_time: FloatArray = np.minimum(since, np.maximum(shows - answer, 0.0))
    return np.atleast_1d(rate * sees * in_time)


def worthwhile_order(
    *,
    caught: FloatArray,
    failure_cost: FloatArray,
    minutes: FloatArray,
    hours_since_sample: FloatArray,
    interval_hours: FloatArray,
    visit: NDArray[np.int64] | None = None,
) -> NDArray[np.intp]:
    """Boxes in the order in which their bottles are worth filling, most first.

    Boxes that would pass twice their interval come before all others, longest wait first. Boxes
    of one visit share its worth a minute, since the way there is paid once.

    Args:
        caught: shape (n,), see ``catch_now``.
        failure_cost: shape (n,), what a failure costs; any one currency.
        minutes: shape (n,), crew minutes for the bottle.
        hours_since_sample: shape (n,).
        interval_hours: shape (n,); NaN for a box without one.
        visit: shape (n,), boxes with the same number are visited together.

    Returns:
        Places of the boxes, shape (n,), most worthwhile first.

    >>> worthwhile_order(caught=np.array([0.02, 0.03, 0.01]),
    ...     failure_cost=np.array([1000.0, 1000.0, 1000.0]), minutes=np.array([8.0, 8.0, 8.0]),
    ...     hours_since_sample=np.array([250.0, 300.0, 1000.0]),
    ...     interval_hours=np.array([500.0, 500.0, 500.0])).tolist()
    [2, 1, 0]
    """
    checked("the crew minutes", minutes, above=0)
    checked("the cost of a failure", failure_cost, at_least=0)
    worth: FloatArray = caught * failure_cost
    spent: FloatArray = minutes
    if visit is not None and len(visit):
        _, group = np.unique(visit, return_inverse=True)
        worth = _together(worth, group)
        spent = _together(minutes, group)
    intervals = np.divide(
        hours_since_sample,
        interval_hours,
        out=np.zeros_like(hours_since_sample),
        where=interval_hours > 0,
    )
    must = intervals >= LONGEST_INTERVALS
    return np.lexsort((-(caught * failure_cost), -worth / spent, np.where(must, -intervals, 0.0)))


def _together(figures: FloatArray, group: NDArray[np.intp]) -> FloatArray:
    """The sum over each group, at each of its members."""
    sums = np.zeros(int(group.max()) + 1)
    np.add.at(sums, group, figures)
    return sums[group]
