"""Control chart of single results: finds a sudden step.

NIST/SEMATECH e-Handbook of Statistical Methods 6.3.2.2: centre is the mean, sigma the mean moving
range / 1.128, limits three sigma (3 / 1.128 = 2.6596, often printed as 2.66). Robust form: sigma is
the median moving range / 0.954 (from memory, unconfirmed), centre the median.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from fluiddesk.domain.statistics.entry import BoolColumn, NotEnough, column

FEWEST_RESULTS: Final = 8
"""With fewer results there is no chart, only the band of like machines (common practice)."""

_MEAN_RANGE_OF_TWO: Final = 1.128
_MEDIAN_RANGE_OF_TWO: Final = 0.954


@dataclass(frozen=True, slots=True, kw_only=True)
class IndividualsChart:
    """Centre, moving range and limits, and which of the results lie outside.

    ``moving_range`` is the mean of the differences of neighbours, in the robust form their median.
    """

    centre: float
    moving_range: float
    sigma: float
    lower: float
    upper: float
    is_signal: BoolColumn


def individuals_chart(values: ArrayLike, *, robust: bool = False) -> IndividualsChart | NotEnough:
    """The chart of one compartment's results, in the order they were taken.

    Args:
        values: generation rates or departures from what was expected, rather than raw results.
        robust: medians instead of means, where earlier trouble stands among the results.

    Returns:
        ``NotEnough`` with fewer than eight results, or where neighbours never (robust form: mostly
        do not) differ: then there is no spread to judge by.

    Raises:
        NotANumberError: when a value is not finite.

    >>> chart = individuals_chart([9.8, 11.2, 10.1, 12.0, 10.6, 11.5, 9.9, 10.9])
    >>> chart.centre, round(chart.lower, 1), round(chart.upper, 1)
    (10.75, 7.2, 14.3)
    """
    numbers = column(values, name="values")
    if len(numbers) < FEWEST_RESULTS:
        return NotEnough(have=len(numbers), need=FEWEST_RESULTS, of="results")
    steps = np.abs(np.diff(numbers))
    if robust:
        centre, moving_range = float(np.median(numbers)), float(np.median(steps))
        sigma = moving_range / _MEDIAN_RANGE_OF_TWO
    else:
        centre, moving_range = float(numbers.mean()), float(steps.mean())
        sigma = moving_range / _MEAN_RANGE_OF_TWO
    if not sigma:
        return NotEnough(have=0, need=1, of="typical differences between neighbours")
    lower, upper = centre - 3 * sigma, centre + 3 * sigma
    return IndividualsChart(
        centre=centre,
        moving_range=moving_range,
        sigma=sigma,
        lower=lower,
        upper=upper,
        is_signal=(numbers < lower) | (numbers > upper),
    )
