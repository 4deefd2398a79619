"""Values that fell as after a fluid change that nobody recorded.

Two stories are held against the new report: the same fill went on, or the fluid was changed
somewhere between the samples, so that what was left behind was thinned by new fluid and wear began
anew. Wear metals and additives speak together: wear must fall to what a change leaves, worn
additives must come back to new. Topping up tells a third story, wear down and additives up by the
same share. From odds of 20 for a change the clerk is asked one question (common practice, no
source); the prior of a change without a record is asked for in the odds. Public manuals have metals
cut to about half by a change in some boxes (from memory, unconfirmed): a fall is rarely to nothing.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from fluiddesk.domain.analytes import AnalyteFamily
from fluiddesk.domain.trust.expectation import TAILS, BoolArray, Expectation, FloatArray, Traits

LEAST_ODDS: Final = 20.0
LEAST_COMPARED: Final = 3
_MOMENTS: Final = np.array([0.05, 0.25, 0.5, 0.75, 0.95])
"""Shares of the gap that had passed when the fluid may have been changed."""
_SHARES: Final = np.array([0.0, 0.1, 0.2, 0.3])
"""Shares of the box that may have been topped up."""
_SPEAK: Final = (AnalyteFamily.WEAR, AnalyteFamily.ADDITIVE)
_LEAST_FALL: Final = 0.25
"""A change that takes away less than a quarter of the wear metals is not worth a question."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """Two reports of one box in a row; values of shape (m,), canonical, NaN where unknown."""

    before: FloatArray
    now: FloatArray
    fresh: FloatArray
    residue_share: float


def change_odds(gap: Gap, going_on: Expectation) -> float:
    """The odds for a fluid change in a gap against the same fill, topped up or not.

    Args:
        gap: the two reports, the new fluid, and what a change leaves behind.
        going_on: what the box foretells where the fill went on, one row.

    Returns:
        The likelihood ratio; 0 where too few values speak or the wear metals hardly fell.
    """
    known = going_on.traits
    fresh = np.where(np.isnan(gap.fresh), 0.0, gap.fresh)
    is_wear = np.array([one.family is AnalyteFamily.WEAR for one in known.analytes])
    speaks = np.array([one.family in _SPEAK for one in known.analytes])
    # An additive whose new value is unknown cannot come back to it.
    speaks &= is_wear | np.isfinite(gap.fresh)
    speaks &= np.isfinite(gap.before) & np.isfinite(gap.now)
    speaks &= np.isfinite(going_on.centre[0])
    if np.count_nonzero(speaks & is_wear) < LEAST_COMPARED or not _has_fallen(
        gap, speaks & is_wear
    ):
        return 0.0
    spread = _spread(known, going_on)
    made = np.maximum(going_on.at(0.0)[0] - gap.before, 0.0)
    mixed = gap.residue_share * gap.before + (1.0 - gap.residue_share) * fresh
    changed = mixed + np.where(is_wear, 1.0 - _MOMENTS[:, np.newaxis], 0.0) * made
    went_on = going_on.at(0.0)[0]
    topped = (1.0 - _SHARES[:, np.newaxis]) * went_on + _SHARES[:, np.newaxis] * fresh
    by_change = _likelihoods(gap.now, changed, spread, known, speaks)
    by_fill = _likelihoods(gap.now, topped, spread, known, speaks)
    return float(np.exp(np.clip(_mean(by_change) - _mean(by_fill), -50.0, 50.0)))


def _has_fallen(gap: Gap, wear: BoolArray) -> bool:
    total = gap.before[wear].sum()
    return bool(total > 0 and gap.now[wear].sum() < (1.0 - _LEAST_FALL) * total)


def _spread(known: Traits, going_on: Expectation) -> FloatArray:
    """Wider than for a fill that goes on: how much was made since is not known well."""
    wider: FloatArray = np.maximum(going_on.spread[0], known.usual_spread)
    return wider


def _likelihoods(
    now: FloatArray, told: FloatArray, spread: FloatArray, known: Traits, speaks: BoolArray
) -> FloatArray:
    off = (known.worked(now) - known.worked(told)) / spread
    one_by_one = -(TAILS + 1.0) / 2.0 * np.log1p(off * off / TAILS)
    total: FloatArray = np.where(speaks, one_by_one, 0.0).sum(axis=1)
    return total


def _mean(logs: FloatArray) -> float:
    top = logs.max()
    return float(top + np.log(np.mean(np.exp(logs - top))))
