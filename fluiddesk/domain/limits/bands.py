"""Which band a limit puts each figure in, for plain and for censored values; columns in and out."""

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.limits.context import FloatColumn
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.severity import Severity

Bands = NDArray[np.int8]

NOT_JUDGED: Final = np.int8(Severity.NO_VERDICT)
STEPS: Final = (Severity.WATCH, Severity.ACT, Severity.URGENT)
_FIRST_CENSORED: Final = np.uint8(Sign.BELOW)
_CENSORED_SPAN: Final = np.uint8(Sign.ABOVE - Sign.BELOW)
"""The two censored signs follow each other: one comparison of unsigned numbers finds both."""
_HIGHEST_LOAD: Final = 100.0


def band(
    figure: FloatColumn,
    signs: NDArray[np.uint8],
    *,
    bounds: FloatColumn,
    falling: bool,
    counts_at: bool,
    most: FloatColumn | None = None,
) -> Bands:
    """Bands of one limit. A censored value is held against a bound by what is certain of it.

    Args:
        figure: the figures, NaN where there is none; shape (n,).
        signs: plain, at most (``BELOW``) or at least (``ABOVE``).
        bounds: Watch, Act, Urgent; NaN where missing.
        falling: whether low figures are the harmful ones.
        counts_at: whether a figure on a bound belongs to the worse band already.
        most: where a figure stands for "at least", the most it can be.

    Returns:
        Shape (n,), -1 where nothing is certain.
    """
    turn = -1.0 if falling else 1.0
    toward = -figure if falling else figure
    steps = [
        (int(step), bound)
        for step, bound in zip(STEPS, (turn * bounds).tolist(), strict=True)
        if not math.isnan(bound)
    ]
    found = np.zeros(len(figure), dtype=np.int8)
    unknown = np.isnan(figure)
    if unknown.any():
        found[unknown] = NOT_JUDGED
    if not steps:
        return found
    first = steps[0][1]
    # Few figures reach the first bound: only those are held against the ones further out, which
    # overwrite. No bound reaches NaN.
    reached = np.flatnonzero(toward >= first if counts_at else toward > first)
    if len(reached):
        some = toward[reached]
        worst = np.full(len(reached), steps[0][0], dtype=np.int8)
        for step, bound in steps[1:]:
            worst[some >= bound if counts_at else some > bound] = step
        found[reached] = worst
    censored = np.flatnonzero((signs - _FIRST_CENSORED) <= _CENSORED_SPAN)
    if len(censored):
        points_on = signs[censored] == (Sign.BELOW if falling else Sign.ABOVE)
        back, on = censored[~points_on], censored[points_on]
        # What lies further back than its bound is past no limit for certain.
        certain = (toward[back] <= first) & ~unknown[back]
        found[back] = np.where(certain, np.int8(Severity.NORMAL), NOT_JUDGED)
        if len(on):
            end = None if most is None else turn * most[on]
            found[on] = _further_on(toward[on], steps, end=end)
    return found


def _further_on(
    toward: FloatColumn, steps: list[tuple[int, float]], *, end: FloatColumn | None
) -> Bands:
    """Bands of values whose true value lies further on than the bound printed ("above 100").

    They are certainly past a limit of 100, also where only values beyond the limit count; short of
    the first limit the answer is open, unless ``end`` says that it stays short.
    """
    found = np.full(len(toward), NOT_JUDGED, dtype=np.int8)
    for step, bound in steps:
        found[toward >= bound] = step
    if end is not None:
        found[(found == NOT_JUDGED) & (end < steps[0][1])] = Severity.NORMAL
    return found


def load_of(figure: FloatColumn, bounds: FloatColumn, *, falling: bool) -> FloatColumn:
    """The share of the way to the Act bound (1 = on it), or to the first bound without one.

    Args:
        figure: the figures compared, shape (n,).
        bounds: Watch, Act, Urgent; NaN where missing.
        falling: whether low values are the harmful ones.

    Returns:
        Shape (n,), from 0 to 100; 0 where there is no number.
    """
    turn = -1.0 if falling else 1.0
    known = bounds[~np.isnan(bounds)]
    first = bounds[1] if not np.isnan(bounds[1]) else known[0]
    act = turn * float(first) + 0.0  # never -0.0
    toward = turn * figure
    if act > 0:
        share = toward / act
        np.clip(share, 0.0, _HIGHEST_LOAD, out=share)
        share[np.isnan(share)] = 0.0
        return share
    with np.errstate(divide="ignore", invalid="ignore"):
        # Before a bound short of zero (glycol falling to 30 %, a freezing point rising to -30 C)
        # the value comes from afar, and is past everything once it reaches zero.
        share = toward / act if act >= 0 else np.where(toward < 0, act / toward, np.inf)
    share = np.clip(share, 0.0, _HIGHEST_LOAD)
    return np.where(np.isnan(figure), 0.0, np.where(np.isnan(share), 1.0, share))
