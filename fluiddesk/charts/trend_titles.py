"""The line above a panel: the analyte with its unit, and the value of the sample looked at."""

from typing import Final

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter

from fluiddesk.charts.look import ChartView, Look
from fluiddesk.charts.palette import paint_mark
from fluiddesk.charts.trends import Trend
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.compartment_history.short_names import short_name

TITLE: Final = 20.0
_QUESTION: Final = 9.0
"""Beside the mark of a sample in doubt, so that its question mark stands clear of the value."""
_UNITS_WITHOUT_A_WORD: Final = frozenset({"absent/present", "code", "index", "class", "pH"})
_RIGHT_ALIGNED: Final = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
_LEFT_ALIGNED: Final = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter


def paint_title(
    painter: QPainter, frame: QRectF, *, trend: Trend, look: Look, view: ChartView
) -> None:
    """Name and unit at the left; the last value, or that of the sample looked at, at the right."""
    sample = trend.last if view.sample is None else view.sample
    taken = paint_value(
        painter,
        frame,
        trend=trend,
        sample=sample,
        look=look,
        is_looked_at=view.sample is not None,
    )
    room = frame.width() - taken
    row = QRectF(frame.left(), frame.top(), room - 8.0, TITLE)
    unit = title_unit(trend)
    small = QFontMetricsF(look.small)
    strong = QFontMetricsF(look.strong)
    unit_width = small.horizontalAdvance(unit) + 6.0 if unit else 0.0
    space = max(row.width() - unit_width, 20.0)
    name = trend.series.analyte.name
    name = name if strong.horizontalAdvance(name) <= space else short_name(name)
    name = strong.elidedText(name, Qt.TextElideMode.ElideRight, space)
    painter.setFont(look.strong)
    painter.setPen(QColor(look.colors.ink))
    painter.drawText(row, _LEFT_ALIGNED, name)
    painter.setFont(look.small)
    painter.setPen(QColor(look.colors.faint_ink))
    # One point lower, so that both sizes stand on one base line.
    painter.drawText(
        row.adjusted(strong.horizontalAdvance(name) + 6.0, 1.0, 0.0, 1.0), _LEFT_ALIGNED, unit
    )


def paint_value(
    painter: QPainter,
    frame: QRectF,
    *,
    trend: Trend,
    sample: int | None,
    look: Look,
    is_looked_at: bool,
) -> float:
    """Draw the value at the right of the title and give the width it took."""
    text = trend.series.shown(sample) if sample is not None else ""
    text = text or "\u2013"
    right = frame.right()
    width = QFontMetricsF(look.body).horizontalAdvance(text)
    painter.setFont(look.body)
    painter.setPen(QColor(look.colors.accent if is_looked_at else look.colors.ink))
    row = QRectF(right - width - 2.0, frame.top(), width + 2.0, TITLE)
    painter.drawText(row, _RIGHT_ALIGNED, text)
    if sample is None or trend.series.severity[sample] < Severity.WATCH:
        return width
    severity = Severity(int(trend.series.severity[sample]))
    trust = Trust(int(trend.trust[sample]))
    room = 0.0 if trust is Trust.GOOD else _QUESTION
    box = QRectF(row.left() - 15.0 - room, frame.top() + TITLE / 2 - 5.5, 11.0, 11.0)
    paint_mark(painter, box, severity=severity, colors=look.colors, trust=trust)
    return width + 16.0 + room


def title_unit(trend: Trend) -> str:
    """The unit as a title shows it: nothing where the name says it all."""
    unit = trend.series.analyte.unit
    return "" if unit in _UNITS_WITHOUT_A_WORD else shown_unit(unit)


def shown_unit(unit: str) -> str:
    """A unit as it is written on paper.

    >>> shown_unit("mm2/s"), shown_unit("C"), shown_unit("mg/kg")
    ('mm\u00b2/s', '\u00b0C', 'mg/kg')
    """
    return {"C": "\u00b0C", "um": "\u00b5m", "uS/cm": "\u00b5S/cm"}.get(
        unit, unit.replace("mm2", "mm\u00b2")
    )
