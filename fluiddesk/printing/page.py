"""PDF pages measured in tenths of a millimetre, and the few things every paper is drawn with."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Final

from PySide6.QtCore import QMarginsF, QPointF, QRectF, QSizeF, Qt
from PySide6.QtGui import QColor, QFont, QPageLayout, QPageSize, QPainter, QPdfWriter, QPen

from fluiddesk import __version__
from fluiddesk.charts.fonts import make_font
from fluiddesk.domain.errors import CannotWriteError

TENTHS_PER_INCH: Final = 254.0
_DPI: Final = 1270
"""A whole number of dots a tenth of a millimetre."""

A4: Final = (2100.0, 2970.0)
INK: Final = QColor("#000000")
FAINT: Final = QColor("#444444")
LINE: Final = QColor("#888888")
BOLD: Final = QFont.Weight.DemiBold
NORMAL: Final = QFont.Weight.Normal

LEFT: Final = Qt.AlignmentFlag.AlignLeft
RIGHT: Final = Qt.AlignmentFlag.AlignRight
CENTER: Final = Qt.AlignmentFlag.AlignHCenter


class Paper:
    """One PDF file being drawn. Lengths are tenths of a millimetre from the left and the top."""

    def __init__(self, writer: QPdfWriter, painter: QPainter) -> None:
        self._writer, self._painter = writer, painter

    @property
    def painter(self) -> QPainter:
        """The painter, scaled to tenths of a millimetre."""
        return self._painter

    def new_page(self) -> None:
        """Begin the next page."""
        self._writer.newPage()

    def text(
        self,
        text: str,
        box: QRectF,
        *,
        size: int = 32,
        weight: QFont.Weight = NORMAL,
        color: QColor = INK,
        align: Qt.AlignmentFlag = LEFT,
        draws: bool = True,
    ) -> float:
        """Write text, wrapped to the width of a box; returns the height that it took.

        ``draws``: false only measures.
        """
        if not draws:
            return self.height_of(text, box.width(), size=size, weight=weight)
        self._painter.setFont(make_font(size, weight, is_tabular=False))
        self._painter.setPen(color)
        flags = int(align) | int(Qt.TextFlag.TextWordWrap) | int(Qt.AlignmentFlag.AlignTop)
        taken = self._painter.drawText(box, flags, text)
        return float(QRectF(taken).height())

    def height_of(
        self, text: str, width: float, *, size: int = 32, weight: QFont.Weight = NORMAL
    ) -> float:
        """The height that text takes when it is wrapped to a width."""
        self._painter.setFont(make_font(size, weight, is_tabular=False))
        flags = int(LEFT) | int(Qt.TextFlag.TextWordWrap)
        return float(self._painter.boundingRect(QRectF(0, 0, width, 1e5), flags, text).height())

    def size_that_fits(
        self,
        text: str,
        room: QSizeF,
        sizes: Sequence[int],
        *,
        weight: QFont.Weight = NORMAL,
    ) -> int:
        """The first of some sizes in which text stands in a room, no word cut; else the last."""
        flags = int(LEFT) | int(Qt.TextFlag.TextWordWrap)
        wide = QRectF(0, 0, room.width(), 1e5)
        for size in sizes:
            self._painter.setFont(make_font(size, weight, is_tabular=False))
            taken = self._painter.boundingRect(wide, flags, text)
            if taken.width() <= room.width() and taken.height() <= room.height():
                return size
        return sizes[-1]

    def line(self, x: float, y: float, to_x: float, to_y: float, *, width: float = 2.0) -> None:
        """A straight line."""
        self._painter.setPen(QPen(LINE, width))
        self._painter.drawLine(QPointF(x, y), QPointF(to_x, to_y))

    def square(self, x: float, y: float, *, side: float = 30.0) -> None:
        """An empty box to be ticked."""
        self._painter.setPen(QPen(INK, 3.0))
        self._painter.setBrush(Qt.BrushStyle.NoBrush)
        self._painter.drawRect(QRectF(x, y, side, side))

    def bar(self, box: QRectF) -> None:
        """A filled bar."""
        self._painter.fillRect(box, INK)

    def numbered(
        self,
        steps: Sequence[str],
        at: QRectF,
        *,
        size: int = 30,
        start: int = 1,
        draws: bool = True,
    ) -> float:
        """Numbered steps from the top of a box; returns where the next thing may stand."""
        y, indent = at.y(), 1.4 * size
        for number, step in enumerate(steps, start=start):
            place = QRectF(at.x(), y, indent, 2.0 * size)
            self.text(f"{number}", place, size=size, weight=BOLD, draws=draws)
            room = QRectF(at.x() + indent, y, at.width() - indent, 1e4)
            y += self.text(step, room, size=size, draws=draws) + 5
        return y


@contextmanager
def pdf_paper(
    path: Path, *, title: str, size: tuple[float, float] = A4, moment: datetime | None = None
) -> Iterator[Paper]:
    """Draw a PDF file; it stands at its place only once it is whole.

    Args:
        path: the file to write.
        title: its title.
        size: width and height of the page, tenths of a millimetre.
        moment: when it is made, for the file's properties.

    Raises:
        CannotWriteError: when the file cannot be written.
    """
    unfinished = path.with_name(f".{path.name}.unfinished")
    if not path.parent.is_dir():
        raise CannotWriteError(f"There is no folder {path.parent}. Make it first.")
    writer = QPdfWriter(str(unfinished))
    writer.setResolution(_DPI)
    wide, high = size
    page = QPageSize(QSizeF(wide / 10, high / 10), QPageSize.Unit.Millimeter)
    orientation = QPageLayout.Orientation.Portrait
    writer.setPageLayout(QPageLayout(page, orientation, QMarginsF(0, 0, 0, 0)))
    writer.setTitle(title)
    writer.setCreator(f"fluiddesk {__version__}")
    painter = QPainter()
    if not painter.begin(writer):
        raise CannotWriteError(f"{path} cannot be written. Choose another folder or name.")
    try:
        painter.scale(_DPI / TENTHS_PER_INCH, _DPI / TENTHS_PER_INCH)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        yield Paper(writer, painter)
        painter.end()
        unfinished.replace(path)
    except OSError as fault:
        raise CannotWriteError(f"{path} cannot be written: {fault.strerror}.") from fault
    finally:
        if painter.isActive():
            painter.end()
        unfinished.unlink(missing_ok=True)
