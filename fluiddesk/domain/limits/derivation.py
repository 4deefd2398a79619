"""Limits from a fleet's own history: which percentile makes which band, and drawing to the parent.

Watch at 98 %, Act at 99.5 %, Urgent at 99.9 % (common practice, no source); percentiles of sorted
data instead of mean and deviation, since results are skewed (scope of ASTM D7720). A small group
is drawn towards the wider one: limit = w own + (1 - w) parent, w = n / (n + 30) (common practice,
no source).
"""

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from fluiddesk.domain.analytes import Analyte
from fluiddesk.domain.severity import Severity
from fluiddesk.domain.statistics.shrinkage import own_share

BAND_PERCENTS: Final = {Severity.WATCH: 98.0, Severity.ACT: 99.5, Severity.URGENT: 99.9}
"""The percentile that starts each band."""

SHRINK_BY: Final = 30
"""A group of so many samples counts as much as its parent."""


def share_of_own(samples: int) -> float:
    """How much a group's own percentile counts against its parent's: n / (n + 30).

    >>> [round(share_of_own(n), 2) for n in (0, 30, 300)]
    [0.0, 0.5, 0.91]
    """
    within = float(np.sqrt(SHRINK_BY))
    return float(own_share(np.array([samples]), between_sd=1.0, within_sd=within)[0])


def drawn_to_parent(own: float, parent: float | None, *, samples: int) -> float:
    """A group's percentile after drawing it towards its parent's.

    >>> drawn_to_parent(60.0, 100.0, samples=30)
    80.0
    """
    if parent is None:
        return own
    share = share_of_own(samples)
    return share * own + (1 - share) * parent


def spaced_bounds(
    bounds: Sequence[float | None], *, analyte: Analyte, falling: bool
) -> tuple[float | None, ...]:
    """Bounds as the method prints them, those left out that lie too close to the one before.

    They are rounded back, so that the printed results beyond a percentile are those beyond its
    bound. Two bounds must lie further apart than the method's repeatability, and further out each.

    >>> from fluiddesk.domain.analytes import AnalyteFamily
    >>> iron = Analyte(number=1, code="iron", name="Iron", symbol="Fe", family=AnalyteFamily.WEAR,
    ...     unit="mg/kg", decimals=0, harmful="up", method="", order=1)
    >>> spaced_bounds([41.6, 41.9, 60.2], analyte=iron, falling=False)
    (41.0, None, 60.0)
    """
    turn = -1.0 if falling else 1.0
    kept: list[float | None] = []
    last: float | None = None
    for bound in bounds:
        rounded = None if bound is None else _rounded_back(bound, analyte.decimals, falling=falling)
        if rounded is not None and last is not None:
            least = 0.0
            if analyte.repeatability is not None:
                middle = (abs(rounded) + abs(last)) / 2
                least = float(analyte.repeatability.at(np.array([middle]))[0])
            if turn * (rounded - last) <= least:
                rounded = None
        last = rounded if rounded is not None else last
        kept.append(rounded)
    return tuple(kept)


def _rounded_back(bound: float, decimals: int, *, falling: bool) -> float:
    """Down, or up for a falling bound; what binary arithmetic adds in the last places is nothing.

    >>> _rounded_back(5.7, 0, falling=False), _rounded_back(0.3, 1, falling=True)
    (5.0, 0.3)
    """
    steps = round(bound * 10**decimals, 6)
    whole = math.ceil(steps) if falling else math.floor(steps)
    return float(round(whole / 10**decimals, decimals) + 0.0)
