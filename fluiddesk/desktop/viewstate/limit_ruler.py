"""The bounds of a limit as numbers in line, and as bands at true proportion on a number line."""

from collections.abc import Sequence
from dataclasses import dataclass

from fluiddesk.domain.severity import Severity
from fluiddesk.services.limit_rules import LimitLine


def decimals_of(text: str) -> int:
    """How many digits stand behind the decimal sign of a bound."""
    return len(text.partition(".")[2])


def aligned(text: str, *, decimals: int) -> str:
    """A number padded behind, so that right-aligned numbers stand in line at the decimal sign.

    A figure space is as wide as a digit and a punctuation space as wide as a decimal point.
    """
    missing = decimals - decimals_of(text)
    if not text or missing <= 0:
        return text
    point = "" if "." in text else "\N{PUNCTUATION SPACE}"
    return f"{text}{point}" + "\N{FIGURE SPACE}" * missing


def bound_shown(text: str) -> str:
    """A bound with a true minus sign."""
    return text.replace("-", "\N{MINUS SIGN}")


@dataclass(frozen=True, slots=True)
class Ruler:
    """The bands of one limit on a number line from 0 (left end) to 1 (right end).

    Attributes:
        bands: (severity, from, to), from left to right, without gaps.
        ticks: (place, bound as shown), from left to right.
        is_falling: whether lower values are the worse ones, so that the worst band is at the left.
    """

    bands: tuple[tuple[Severity, float, float], ...]
    ticks: tuple[tuple[float, str], ...]
    is_falling: bool = False


def ruler(line: LimitLine) -> Ruler:
    """The bands of a limit at true proportion; the number line rises to the right.

    The line runs from 0 (the new fluid, for a change) past the last bound by a quarter; where all
    bounds lie far from 0 (a pH, a code) it starts one spread before the first, since from 0 the
    bands could not be told apart.
    """
    texts = {Severity.WATCH: line.watch, Severity.ACT: line.act, Severity.URGENT: line.urgent}
    bounds = {
        severity: bound for severity in texts if (bound := line.limit.bound(severity)) is not None
    }
    if not bounds:
        return Ruler((), ())
    sign = 1.0 if line.limit.direction == "up" else -1.0
    low, high = _span([sign * bound for bound in bounds.values()])
    places = [(sign * bound - low) / (high - low) for bound in bounds.values()]
    bands = list(zip((Severity.NORMAL, *bounds), (0.0, *places), (*places, 1.0), strict=True))
    ticks = [
        (place, bound_shown(texts[severity]))
        for severity, place in zip(bounds, places, strict=True)
    ]
    if sign < 0:
        bands = [(severity, 1 - end, 1 - start) for severity, start, end in reversed(bands)]
        ticks = [(1 - place, text) for place, text in reversed(ticks)]
    return Ruler(tuple(bands), tuple(ticks), is_falling=sign < 0)


def _span(places: Sequence[float]) -> tuple[float, float]:
    first, last = places[0], places[-1]
    spread = last - first
    near_zero = 0 <= first <= 2 * spread or (spread == 0 and first > 0)
    low = 0.0 if near_zero else first - (spread or abs(first) or 1.0)
    return low, last + 0.25 * (last - low)
