"""The quotient of two results, and what is certain of it where one of them is censored."""

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.limits.context import FloatColumn
from fluiddesk.domain.samples import Sign

Signs = NDArray[np.uint8]


def ratio_signs(over: Signs, under: Signs) -> Signs:
    """What is certain of a ratio of two results; ``NOT_TESTED`` where nothing is."""
    both = np.full(len(over), Sign.NOT_TESTED, dtype=np.uint8)
    plain_over, plain_under = over <= Sign.PLAIN, under <= Sign.PLAIN
    both[plain_over & plain_under] = Sign.PLAIN
    both[(over != Sign.BELOW) & (under == Sign.BELOW) & (over <= Sign.ABOVE)] = Sign.ABOVE
    both[(over == Sign.ABOVE) & plain_under] = Sign.ABOVE
    both[(over == Sign.BELOW) & (under != Sign.BELOW) & (under <= Sign.ABOVE)] = Sign.BELOW
    both[plain_over & (under == Sign.ABOVE)] = Sign.BELOW
    return both


def quotient(over: FloatColumn, under: FloatColumn) -> FloatColumn:
    """One over the other; NaN where the lower one is not above 0."""
    none = np.full_like(over, np.nan)
    with np.errstate(invalid="ignore"):
        return np.divide(over, under, out=none, where=under > 0)
