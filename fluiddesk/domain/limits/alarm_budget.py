"""The false-alarm budget: what share of healthy samples a collection of limits flags.

Each limit flags a small share of healthy samples; many limits together flag many. Were they
independent, the share is 1 - product of (1 - rate): 20 limits at the 97.5th percentile flag 40 % of
healthy samples, at 99.5 % 9.5 %, at 99.9 % 2 % (arithmetic, no source needed). Analytes that rise
together make the true share smaller, alarms that stand until they are cleared make it larger.
"""

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fluiddesk.domain.statistics.entry import NotEnough, OutOfRangeError, between


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """A share of samples with the interval it is known to (Wilson's score interval)."""

    flagged: int
    samples: int
    share: float
    low: float
    high: float


def measured_share(flagged: int, samples: int, *, confidence: float = 0.95) -> Share | NotEnough:
    """The share of samples flagged.

    Returns:
        ``NotEnough`` without a sample.

    Raises:
        OutOfRangeError: when more are flagged than there are, or fewer than none.

    >>> found = measured_share(19, 200)
    >>> round(found.share, 3), round(found.low, 3), round(found.high, 3)
    (0.095, 0.062, 0.144)
    """
    between(confidence, low=0, high=1, name="confidence")
    if not 0 <= flagged <= samples:
        raise OutOfRangeError(
            f"{flagged} of {samples} samples flagged. Give a count from 0 to the number of samples."
        )
    if not samples:
        return NotEnough(have=0, need=1, of="healthy samples")
    z = NormalDist().inv_cdf((1 + confidence) / 2)
    share = flagged / samples
    centre = (share + z * z / (2 * samples)) / (1 + z * z / samples)
    reach = z * np.sqrt(share * (1 - share) / samples + (z / (2 * samples)) ** 2)
    reach /= 1 + z * z / samples
    return Share(
        flagged=flagged,
        samples=samples,
        share=share,
        # The ends are exact there; arithmetic would leave a rounding error.
        low=float(centre - reach) if flagged else 0.0,
        high=float(centre + reach) if flagged < samples else 1.0,
    )


def share_flagged(rates: ArrayLike) -> float:
    """The share of healthy samples that at least one of independent limits flags.

    Args:
        rates: the share that each limit flags alone, from 0 to 1.

    Raises:
        OutOfRangeError: for a rate below 0 or above 1.

    >>> [round(share_flagged([1 - q] * 20), 3) for q in (0.975, 0.995, 0.999)]
    [0.397, 0.095, 0.02]
    """
    return float(-np.expm1(np.log1p(-_checked(rates)).sum()))


def mean_share_flagged(rates: ArrayLike, *, judged: NDArray[np.bool_]) -> float | NotEnough:
    """The same for many samples, each tested by some of the limits.

    Args:
        rates: shape (k,), the share that each limit flags alone.
        judged: shape (n, k), which limits judged which sample.

    Returns:
        The mean over the samples; ``NotEnough`` without one.

    >>> mean_share_flagged([0.5, 0.5], judged=np.array([[True, False], [True, True]]))
    0.625
    """
    if not len(judged):
        return NotEnough(have=0, need=1, of="healthy samples")
    # A rate of 1 leaves nothing: a large finite number keeps 0 x infinity out of the product.
    logs = np.log1p(-np.minimum(_checked(rates), 1 - 1e-15))
    return float(-np.expm1(judged @ logs).mean())


def _checked(rates: ArrayLike) -> NDArray[np.float64]:
    numbers = np.asarray(rates, dtype=np.float64)
    odd = ~((numbers >= 0) & (numbers <= 1))
    if odd.any():
        raise OutOfRangeError(
            f"a limit flags a share of {numbers[odd][0]:g}. Give shares from 0 to 1."
        )
    return numbers
