"""What charts are drawn with, and what all panels of a page share."""

from dataclasses import dataclass, field

from PySide6.QtGui import QFont

from fluiddesk.charts.axes import Axis
from fluiddesk.charts.event_marks import EventMark
from fluiddesk.charts.palette import MarkStamps, Palette
from fluiddesk.charts.scales import Scale


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """Colours and fonts of a chart; ``strong`` is the body font in a heavier cut.

    ``stamps`` keeps the marks that were drawn already.
    """

    colors: Palette
    body: QFont
    small: QFont
    strong: QFont
    stamps: MarkStamps = field(default_factory=MarkStamps, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartView:
    """What all panels of a page share: the axis, the events and the sample looked at.

    Attributes:
        span: the stretch of the axis on show.
        axis: hours, hours on the fluid, or dates.
        marks: events along it.
        is_log: values on logarithmic axes, where that can be done.
        shows_rejected: whether rejected samples are drawn.
        shows_others: whether the other side and like machines are drawn.
        sample: the sample looked at.
    """

    span: Scale
    axis: Axis = Axis.HOURS
    marks: tuple[EventMark, ...] = field(default=())
    is_log: bool = False
    shows_rejected: bool = True
    shows_others: bool = True
    sample: int | None = None
