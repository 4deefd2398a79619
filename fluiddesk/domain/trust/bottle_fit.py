"""Whose report is this? A typed report held against every open bottle, not only its own.

The log-likelihood of all numbers together under the history of each box (Student's t, wear with a
wide spread and additives with a narrow one). Another bottle is proposed where it fits better by
more than 6 (common practice, no source) and by the logarithm of the number of bottles looked at:
the more are tried, the easier one fits by chance. Nothing is ever moved by itself. In another field
with the same problem, mislabelled blood tubes, checks over ten and more tests together reach an
area under the curve of 0.98 (from memory, unconfirmed).
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.trust.expectation import Expectation, FloatArray

LEAST_LEAD: Final = 6.0
LEAST_COMPARED: Final = 5
TEMPERED: Final = 0.6
"""The values of one bottle rise and fall together, so that each counts for less than one (common
practice, no source)."""
FOREIGN_TEST: Final = 1.0
"""Each test that one box has had before and the other never counts for this much: a coolant report
under the label of an oil has hardly a number to compare (common practice, no source)."""
_CAP: Final = 8.0
"""One value alone, perhaps slipped, weighs no more than this."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BetterBottle:
    """The row of ``others`` that fits better, and by how much (natural logarithm)."""

    row: int
    lead: float


def better_bottle(values: FloatArray, own: Expectation, others: Expectation) -> BetterBottle | None:
    """The open bottle that a report fits better than its own, if there is one.

    Args:
        values: the report's numbers, canonical, shape (m,).
        own: what its own box foretells, one row.
        others: what the boxes of the other open bottles foretell, b rows.
    """
    if not len(others.centre):
        return None
    mine = np.isfinite(own.centre) & np.isfinite(values)
    theirs = np.isfinite(others.centre) & np.isfinite(values)
    both = mine & theirs
    lead = _fit_on(values, others, both) - _fit_on(values, own, both)
    lead += FOREIGN_TEST * (theirs.sum(axis=1) - mine.sum(axis=1))
    lead = np.where(theirs.sum(axis=1) >= LEAST_COMPARED, lead, -np.inf)
    row = int(np.argmax(lead))
    if lead[row] <= LEAST_LEAD + np.log(len(lead)):
        return None
    return BetterBottle(row=row, lead=float(lead[row]))


def _fit_on(values: FloatArray, expected: Expectation, both: NDArray[np.bool_]) -> FloatArray:
    one_by_one = expected.log_likelihood(values)
    bounded = np.maximum(one_by_one, -np.log(expected.spread) - _CAP)
    total: FloatArray = TEMPERED * np.where(both, bounded, 0.0).sum(axis=1)
    return total
