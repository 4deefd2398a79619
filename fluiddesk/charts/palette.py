"""Colour and mark of each severity, and the inks and grounds of a page: light, dark and print.

A severity is always mark, word and colour together. The inks are checked in the tests for contrast
(WCAG 2.2, success criteria 1.4.3 and 1.4.11) and for separation under red and green blindness.
"""

import math
from dataclasses import dataclass
from typing import Final

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPen, QPixmap

from fluiddesk.domain.severity import Severity, Trust


@dataclass(frozen=True, slots=True, kw_only=True)
class Palette:
    """The colours of one theme, as "#RRGGBB"."""

    name: str
    ground: str
    raised: str
    """Ground of headers, the tree and fields."""
    ink: str
    faint_ink: str
    """Units, captions, ages: still 4.5:1 on the ground."""
    hairline: str
    accent: str
    """The one colour for what can be clicked."""
    accent_ground: str
    """Ground of the selected row or cell."""
    data: str
    """Ink of points and lines in charts."""
    severity: dict[Severity, str]
    tint: dict[Severity, str]
    """Grounds of cells; Act and Urgent alone are tinted."""

    def color(self, severity: Severity) -> QColor:
        """The ink of a severity's mark."""
        return QColor(self.severity[severity])


LIGHT: Final = Palette(
    name="light",
    ground="#FFFFFF",
    raised="#F5F6F7",
    ink="#1B1F24",
    faint_ink="#58606B",
    hairline="#DADDE1",
    accent="#1F5FA8",
    accent_ground="#E8F0FA",
    data="#26303B",
    severity={
        Severity.NO_VERDICT: "#6B7280",
        Severity.NORMAL: "#279156",
        Severity.WATCH: "#A18805",
        Severity.ACT: "#982F0F",
        Severity.URGENT: "#6D1A33",
    },
    tint={Severity.ACT: "#FBE9E1", Severity.URGENT: "#F3D3DC"},
)

DARK: Final = Palette(
    name="dark",
    ground="#1B1F24",
    raised="#23282E",
    ink="#E8EBEE",
    faint_ink="#A2ABB6",
    hairline="#3A4149",
    accent="#7FB4EE",
    accent_ground="#23344A",
    data="#D5DBE1",
    severity={
        Severity.NO_VERDICT: "#9AA4B2",
        Severity.NORMAL: "#2DF498",
        Severity.WATCH: "#F9DE3C",
        Severity.ACT: "#DB6216",
        Severity.URGENT: "#E03E56",
    },
    tint={Severity.ACT: "#3A2A20", Severity.URGENT: "#4A2029"},
)

_PEN_SHARE: Final = 0.13
"""Thickness of a mark's outline as a share of its size."""


def palette(name: str) -> Palette:
    """The palette of a theme: "light" or "dark"."""
    return DARK if name == "dark" else LIGHT


class MarkStamps:
    """Marks drawn once and stamped many times; kept by whoever draws many of one palette."""

    def __init__(self) -> None:
        self._stamps: dict[tuple[Severity, str, float, float], QPixmap] = {}

    def paint(self, painter: QPainter, box: QRectF, *, severity: Severity, colors: Palette) -> None:
        """Draw the mark of a good sample into a square, at whole pixels."""
        device = painter.device()
        ratio = device.devicePixelRatioF() if device is not None else 1.0
        key = (severity, colors.name, box.width(), ratio)
        stamp = self._stamps.get(key)
        if stamp is None:
            side = math.ceil((box.width() + 2.0) * ratio)
            stamp = QPixmap(side, side)
            stamp.setDevicePixelRatio(ratio)
            stamp.fill(Qt.GlobalColor.transparent)
            pen = QPainter(stamp)
            square = QRectF(1.0, 1.0, box.width(), box.width())
            paint_mark(pen, square, severity=severity, colors=colors)
            pen.end()
            self._stamps[key] = stamp
        painter.drawPixmap(QPointF(round(box.left()) - 1.0, round(box.top()) - 1.0), stamp)


def paint_mark(
    painter: QPainter,
    box: QRectF,
    *,
    severity: Severity,
    colors: Palette,
    trust: Trust = Trust.GOOD,
    is_stale: bool = False,
) -> None:
    """Draw a severity's mark into a square.

    Normal is a small ring, Watch a ring half filled, Act a filled triangle, Urgent a filled square
    with a notch in its top edge, No verdict a dash. A suspect sample adds a question mark at the
    upper right, a stale verdict is drawn with a dotted outline.
    """
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    color = colors.color(severity)
    size = min(box.width(), box.height())
    pen = QPen(color, max(1.2, size * _PEN_SHARE))
    pen.setJoinStyle(Qt.PenJoinStyle.MiterJoin)
    if is_stale:
        pen.setStyle(Qt.PenStyle.DotLine)
        pen.setWidthF(max(1.0, size * 0.1))
    painter.setPen(pen)
    square = QRectF(box.center().x() - size / 2, box.center().y() - size / 2, size, size)
    _paint_shape(painter, square, severity=severity, color=color, is_hollow=is_stale)
    if trust is not Trust.GOOD:
        _paint_question(painter, square, colors)
    painter.restore()


def _paint_shape(
    painter: QPainter, square: QRectF, *, severity: Severity, color: QColor, is_hollow: bool
) -> None:
    inset = painter.pen().widthF() / 2
    inner = square.adjusted(inset, inset, -inset, -inset)
    fill = Qt.GlobalColor.transparent if is_hollow else color
    match severity:
        case Severity.NORMAL:
            share = inner.width() * 0.14
            painter.drawEllipse(inner.adjusted(share, share, -share, -share))
        case Severity.WATCH:
            painter.drawEllipse(inner)
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(color)
            half = QPainterPath(inner.center())
            half.arcTo(inner, 270, 180)
            half.closeSubpath()
            painter.drawPath(half)
        case Severity.ACT:
            painter.setBrush(fill)
            height = inner.width() * math.sqrt(3) / 2
            top = inner.center().y() - height / 2
            corners = [
                QPointF(inner.center().x(), top),
                QPointF(inner.right(), top + height),
                QPointF(inner.left(), top + height),
            ]
            painter.drawPolygon(corners)
        case Severity.URGENT:
            painter.setBrush(fill)
            painter.drawPath(_notched_square(inner))
        case _:
            middle = inner.center().y()
            painter.drawLine(
                QPointF(inner.left() + inset, middle), QPointF(inner.right() - inset, middle)
            )


def _notched_square(square: QRectF) -> QPainterPath:
    third, depth = square.width() / 3, square.height() * 0.36
    path = QPainterPath(square.topLeft())
    path.lineTo(square.left() + third, square.top())
    path.lineTo(square.center().x(), square.top() + depth)
    path.lineTo(square.right() - third, square.top())
    path.lineTo(square.topRight())
    path.lineTo(square.bottomRight())
    path.lineTo(square.bottomLeft())
    path.closeSubpath()
    return path


def _paint_question(painter: QPainter, square: QRectF, colors: Palette) -> None:
    font = painter.font()
    font.setPixelSize(max(8, round(square.height() * 0.8)))
    font.setBold(True)
    painter.setFont(font)
    painter.setPen(QColor(colors.ink))
    painter.drawText(QPointF(square.right() + 1, square.top() + square.height() * 0.45), "?")
