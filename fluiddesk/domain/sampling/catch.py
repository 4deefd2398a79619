"""The chance that a sample catches a fault in time.

A fault that shows D hours before the failure, sampled every T hours and answered L hours after the
sample, is caught if a sample falls into the D - L hours that are left for it. With a start at any
time alike, one more sample than the whole number of intervals falls in with the chance of the rest
(common practice, own calculation).
"""

from typing import overload

import numpy as np

from fluiddesk.domain.wear.inputs import FloatArray, Numbers, as_given, checked, same_length


@overload
def catch_chance(
    *, shows_hours: float, interval_hours: float, answer_hours: float, sensitivity: float = 1.0
) -> float: ...
@overload
def catch_chance(
    *,
    shows_hours: FloatArray,
    interval_hours: Numbers,
    answer_hours: Numbers,
    sensitivity: Numbers = 1.0,
) -> FloatArray: ...
def catch_chance(
    *,
    shows_hours: Numbers,
    interval_hours: Numbers,
    answer_hours: Numbers,
    sensitivity: Numbers = 1.0,
) -> Numbers:
    """The chance, 0 to 1, that a fault is told before it becomes a failure.

    Args:
        shows_hours: hours before the failure from which a sample shows it (D).
        interval_hours: hours between samples (T).
        answer_hours: running hours from sample to answer (L).
        sensitivity: chance that one sample in that time shows it.

    Raises:
        WearInputError: a figure is negative or not finite, or the interval 0.

    >>> catch_chance(shows_hours=300.0, interval_hours=250.0, answer_hours=100.0)
    0.8
    """
    shows = checked("the hours before failure", shows_hours, at_least=0)
    every = checked("the sampling interval (h)", interval_hours, above=0)
    answer = checked("the hours to the answer", answer_hours, at_least=0)
    sees = checked("the sensitivity", sensitivity, at_least=0, at_most=1)
    same_length(shows=shows, interval=every, answer=answer, sensitivity=sees)
    samples = np.maximum(shows - answer, 0.0) / every
    sure = np.floor(samples)
    overlooked = (1.0 - sees) ** sure * (1.0 - sees * (samples - sure))
    return as_given(np.asarray(1.0 - overlooked))
