"""Percentiles, with the definition always stated: they differ where results are few.

The 95th percentile of thirty results may be 24.6 by one definition and 32.2 by another. All three
here interpolate between ordered results; they differ in the place given to the i-th of n:
linear (i - 1)/(n - 1), Hazen (i - 1/2)/n, Weibull i/(n + 1). Beyond the outermost places the
smallest or largest result stands.
"""

from enum import StrEnum
from typing import overload

import numpy as np
from numpy.typing import ArrayLike

from fluiddesk.domain.statistics.entry import FloatColumn, NotEnough, OutOfRangeError, column


class PercentileDefinition(StrEnum):
    """The place given to the i-th of n ordered results."""

    LINEAR = "linear"
    HAZEN = "hazen"
    WEIBULL = "weibull"


@overload
def percentile(
    values: ArrayLike, percent: float, *, definition: PercentileDefinition
) -> float | NotEnough: ...
@overload
def percentile(
    values: ArrayLike, percent: FloatColumn, *, definition: PercentileDefinition
) -> FloatColumn | NotEnough: ...
def percentile(
    values: ArrayLike, percent: float | FloatColumn, *, definition: PercentileDefinition
) -> float | FloatColumn | NotEnough:
    """The value that this percentage of results does not exceed, one or many at once.

    "Less than" results have no place in this method: use the Kaplan-Meier quantile for them.

    Returns:
        ``NotEnough`` without a result.

    Raises:
        NotANumberError: when a value is not finite.
        OutOfRangeError: for a percentage outside 0 to 100.

    >>> percentile([12, 15, 17, 20], 50, definition=PercentileDefinition.HAZEN)
    16.0
    >>> percentile([12, 15, 17, 20], np.array([5.0, 95]), definition=PercentileDefinition.WEIBULL)
    array([12., 20.])
    """
    numbers = column(values, name="values")
    asked = np.asarray(percent, dtype=np.float64)
    if not ((asked >= 0) & (asked <= 100)).all():  # noqa: PLR2004  # a percentage
        raise OutOfRangeError(f"percentage is {percent}. Give numbers from 0 to 100.")
    if not len(numbers):
        return NotEnough(have=0, need=1, of="results")
    found = np.percentile(numbers, asked, method=definition.value)
    return np.asarray(found) if asked.ndim else float(found)
