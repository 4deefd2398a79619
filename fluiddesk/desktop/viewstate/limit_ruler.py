"""The bounds of a limit as numbers in line, and as bands at true proportion on a number line."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from fluiddesk.domain.severity import Severity
from fluiddesk.services.limit_rules import LimitLine
from fluiddesk.services.limit_rules.facts import Spread

_DECADES: Final = 100.0
"""From this ratio of the largest to the smallest figure on, the number line is logarithmic."""
_ROOM: Final = 0.06
_NEAR_ZERO: Final = 0.3


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
        bars: (from, to, height from 0 to 1) of the fleet's own figures, from left to right.
        ends: the figures at both ends of the line, where bars are shown.
        is_log: whether equal steps on the line are equal ratios.
    """

    bands: tuple[tuple[Severity, float, float], ...]
    ticks: tuple[tuple[float, str], ...]
    is_falling: bool = False
    bars: tuple[tuple[float, float, float], ...] = ()
    ends: tuple[str, str] = ("", "")
    is_log: bool = False


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


def ruler_over(line: LimitLine, spread: Spread) -> Ruler:
    """The bands of a limit over the fleet's own figures, on one number line that holds both."""
    texts = {Severity.WATCH: line.watch, Severity.ACT: line.act, Severity.URGENT: line.urgent}
    bounds = {
        severity: bound for severity in texts if (bound := line.limit.bound(severity)) is not None
    }
    if not len(spread.counts) or not bounds:
        return ruler(line)
    ends = _ends(list(bounds.values()), spread)
    place, is_log = _placing(*ends, figures=_figures(list(bounds.values()), spread))
    places = sorted((min(max(place(bound), 0.0), 1.0), one) for one, bound in bounds.items())
    return Ruler(
        bands=_bands(places, is_falling=line.limit.direction == "down"),
        ticks=tuple((at, bound_shown(texts[severity])) for at, severity in places),
        is_falling=line.limit.direction == "down",
        bars=_bars(spread, place),
        ends=(bound_shown(f"{ends[0]:.3g}"), bound_shown(f"{ends[1]:.3g}")),
        is_log=is_log,
    )


def _ends(bounds: Sequence[float], spread: Spread) -> tuple[float, float]:
    figures = _figures(bounds, spread)
    low, high = min(figures), max(figures)
    room = _ROOM * (high - low) or abs(high) or 1.0
    if low >= 0:
        # From nothing on, where that is near enough not to press the bands together.
        return (0.0 if low <= _NEAR_ZERO * high else low), high + room
    return low - room, high + room


def _figures(bounds: Sequence[float], spread: Spread) -> list[float]:
    return [*bounds, float(spread.edges[0]), float(spread.edges[-1])]


def _placing(
    low: float, high: float, *, figures: Sequence[float]
) -> tuple[Callable[[float], float], bool]:
    """From a figure to its place on the line, and whether the line is logarithmic."""
    positive = [one for one in figures if one > 0]
    # A figure of 0 on a line over decades stands at its left end.
    is_log = low >= 0 and bool(positive) and high / min(positive) >= _DECADES
    if not is_log:
        return lambda figure: (figure - low) / (high - low), False
    first = min(positive)
    span = math.log(high / first)
    return lambda figure: math.log(max(figure, first) / first) / span, True


def _bands(
    places: Sequence[tuple[float, Severity]], *, is_falling: bool
) -> tuple[tuple[Severity, float, float], ...]:
    at = [place for place, _ in places]
    names = [severity for _, severity in places]
    if is_falling:
        return tuple(zip((*names, Severity.NORMAL), (0.0, *at), (*at, 1.0), strict=True))
    return tuple(zip((Severity.NORMAL, *names), (0.0, *at), (*at, 1.0), strict=True))


def _bars(
    spread: Spread, place: Callable[[float], float]
) -> tuple[tuple[float, float, float], ...]:
    tallest = float(spread.counts.max()) or 1.0
    edges = [place(edge) for edge in spread.edges.tolist()]
    return tuple(
        (start, end, count / tallest)
        for start, end, count in zip(edges, edges[1:], spread.counts.tolist(), strict=False)
        if count
    )


def spread_words(spread: Spread) -> str:
    """What the bars stand for: "1,204 samples of 31 machines; 88 of them below detection"."""
    if not spread.samples:
        return "The fleet has no figure for this row yet."
    told = f"Behind: {spread.samples} samples of {spread.machines} machines"
    if spread.below:
        told += f", {spread.below} below detection"
    marks = [
        f"{percent:g} % below {bound_shown(f'{figure:.3g}')}"
        for percent, figure in sorted(spread.percentiles.items())
    ]
    return f"{told}; {', '.join(marks)}." if marks else f"{told}."
