"""Limits in force behind the points: bands that start at the limit and fade away from the data."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from PySide6.QtCore import QLineF, QRectF
from PySide6.QtGui import QColor, QLinearGradient, QPainter, QPen

from fluiddesk.charts.palette import Palette
from fluiddesk.charts.scales import Scale
from fluiddesk.domain.severity import Severity
from fluiddesk.services.compartment_history.facts import LimitBand

LETTERS: Final = {Severity.WATCH: "W", Severity.ACT: "A", Severity.URGENT: "U"}
_NEAR_ALPHA: Final = 0.26
_FAR_ALPHA: Final = 0.05
_LINE_ALPHA: Final = 0.85

Triple = tuple[float | None, float | None, float | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounds:
    """Watch, Act and Urgent bound of one analyte, the ones that fire first, for each direction."""

    up: Triple
    down: Triple


@dataclass(frozen=True, slots=True, kw_only=True)
class LineLabel:
    """A word at the right end of a line, at the line's height in pixels, and the line's value."""

    y: float
    text: str
    value: float | None = None


def bounds_of(bands: Iterable[LimitBand]) -> Bounds:
    """Combine several limits on one analyte: per direction and step, the one reached first."""
    kept = tuple(bands)
    up = [band for band in kept if band.direction == "up"]
    down = [band for band in kept if band.direction == "down"]
    return Bounds(up=_first(up, min), down=_first(down, max))


def _first(bands: Sequence[LimitBand], nearest: Callable[[list[float]], float]) -> Triple:
    def of(values: Iterable[float | None]) -> float | None:
        given = [value for value in values if value is not None]
        return nearest(given) if given else None

    return (
        of(band.watch for band in bands),
        of(band.act for band in bands),
        of(band.urgent for band in bands),
    )


def paint_bands(
    painter: QPainter, plot: QRectF, *, bounds: Bounds, scale: Scale, colors: Palette
) -> list[LineLabel]:
    """Draw the bands into a plot and give the labels for the ends of their lines."""
    labels: list[LineLabel] = []
    for triple, is_up in ((bounds.up, True), (bounds.down, False)):
        steps = [
            (severity, bound)
            for severity, bound in zip(LETTERS, triple, strict=True)
            if bound is not None
        ]
        for index, (severity, bound) in enumerate(steps):
            if not _is_on(scale, bound, is_up=is_up):
                break
            edge = scale.high if is_up else scale.low
            further = [b for _, b in steps[index + 1 :] if _is_on(scale, b, is_up=is_up)]
            end = further[0] if further else edge
            labels += _paint_band(
                painter,
                plot,
                scale,
                start=bound,
                end=end,
                color=colors.color(severity),
                letter=LETTERS[severity],
            )
    return labels


def _is_on(scale: Scale, bound: float, *, is_up: bool) -> bool:
    """Whether a band shows: its limit lies on the axis, or on the near side of it."""
    if scale.is_log and bound <= 0:
        return False
    return bound <= scale.high if is_up else bound >= scale.low


def _paint_band(
    painter: QPainter,
    plot: QRectF,
    scale: Scale,
    *,
    start: float,
    end: float,
    color: QColor,
    letter: str,
) -> list[LineLabel]:
    near = plot.bottom() - scale.share(start) * plot.height()
    far = plot.bottom() - scale.share(end) * plot.height()
    fade = QLinearGradient(0.0, near, 0.0, far)
    fade.setColorAt(0.0, with_alpha(color, _NEAR_ALPHA))
    fade.setColorAt(1.0, with_alpha(color, _FAR_ALPHA))
    band = QRectF(plot.left(), min(near, far), plot.width(), abs(far - near)).intersected(plot)
    painter.fillRect(band, fade)
    if not plot.top() <= near <= plot.bottom():
        return []
    painter.setPen(QPen(with_alpha(color, _LINE_ALPHA), 1.0))
    painter.drawLine(QLineF(plot.left(), near, plot.right(), near))
    return [LineLabel(y=near, text=letter, value=start)]


def limit_beyond(bounds: Bounds, scale: Scale) -> tuple[str, float] | None:
    """The first upper limit above the panel, as letter and bound, where none is inside."""
    given = [(LETTERS[s], b) for s, b in zip(LETTERS, bounds.up, strict=True) if b is not None]
    return given[0] if given and given[0][1] > scale.high else None


def spread(labels: Sequence[LineLabel], *, apart: float, low: float, high: float) -> list[float]:
    """Heights for labels so that none covers another, in the order given.

    Args:
        labels: where each would like to stand.
        apart: least distance between two, in pixels.
        low: topmost height allowed.
        high: lowest height allowed.
    """
    order = sorted(range(len(labels)), key=lambda index: labels[index].y)
    placed = [0.0] * len(labels)
    floor = low
    for index in order:
        placed[index] = max(labels[index].y, floor)
        floor = placed[index] + apart
    ceiling = high
    for index in reversed(order):
        placed[index] = min(placed[index], ceiling)
        ceiling = placed[index] - apart
    return placed


def with_alpha(color: QColor, alpha: float) -> QColor:
    """The same colour, let through to the given share (0 to 1)."""
    thinned = QColor(color)
    thinned.setAlphaF(alpha)
    return thinned
