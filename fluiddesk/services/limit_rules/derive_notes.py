"""What a person should know of a group's results before taking a limit from them."""

from typing import Final

import numpy as np

from fluiddesk.domain.analytes import Analyte
from fluiddesk.domain.statistics.entry import NotEnough
from fluiddesk.domain.statistics.robust_spread import robust_spread
from fluiddesk.domain.statistics.shapiro_wilk import MOST_RESULTS, shapiro_wilk
from fluiddesk.services.limit_rules.derive_groups import Results

UNLIKELY: Final = 0.05
"""A smaller probability speaks against a bell shape (common practice, no source)."""

WILD: Final = 6.0
"""Spreads off the median beyond which a result is worth a look (common practice, no source)."""


def shape_note(results: Results, *, seed: int) -> str:
    """Whether the results are bell-shaped, and what that means for limits.

    Of more results than the test holds for, a seeded choice is tested.
    """
    known = results.values[~results.below]
    if len(known) > MOST_RESULTS:
        known = np.random.default_rng(seed).choice(known, MOST_RESULTS, replace=False)
    found = shapiro_wilk(known)
    if isinstance(found, NotEnough):
        return f"Shape not tested. {found.sentence}"
    told = f"Shapiro-Wilk W {found.w:.3f}, p {found.probability:.2g}"
    if found.probability < UNLIKELY:
        return f"Not bell-shaped ({told}): percentiles of the sorted results are the way."
    return f"May be bell-shaped ({told}); percentiles hold all the same."


def outlier_note(results: Results, analyte: Analyte) -> str:
    """How many results lie far off the others; empty where none does."""
    found = robust_spread(results.values)
    if isinstance(found, NotEnough) or not found.deviation:
        return ""
    wild = np.abs(results.values - found.median) > WILD * found.deviation
    if not wild.any():
        return ""
    largest = float(results.values[wild].max())
    return (
        f"{int(wild.sum())} of {len(results.values)} results lie more than {WILD:g} spreads off "
        f"the median {analyte.text(found.median)}, up to {analyte.text(largest)}. They count; "
        f"look whether they are faults that nobody wrote down."
    )
