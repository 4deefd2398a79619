"""A large quiet place to drop a file on, with a button for those who would rather choose one."""

from pathlib import Path

from PySide6.QtCore import QEvent, QObject, QRectF, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QDragEnterEvent,
    QDragLeaveEvent,
    QDropEvent,
    QPainter,
    QPaintEvent,
    QPen,
)
from PySide6.QtWidgets import QLabel, QPushButton, QVBoxLayout, QWidget
from typing_extensions import override

from fluiddesk.desktop.theme import GAP, MARGIN, Theme


class DropArea(QWidget):
    """Invites a file. The page around it takes the drop, so that it may fall anywhere.

    Signals:
        choose_pressed: the person wants to choose a file.
    """

    choose_pressed = Signal()

    def __init__(
        self, *, title: str, note: str, action: str, theme: Theme, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._theme = theme
        self._is_hot = False
        self._title = QLabel(title)
        self._note = QLabel(note)
        self.button = QPushButton(action)
        self.button.clicked.connect(self.choose_pressed)
        column = QVBoxLayout(self)
        column.setContentsMargins(MARGIN, MARGIN, MARGIN, MARGIN)
        column.setSpacing(GAP)
        column.addStretch()
        for part in (self._title, self.button, self._note):
            column.addWidget(part, alignment=Qt.AlignmentFlag.AlignHCenter)
        column.addStretch()
        self.setMinimumHeight(176)
        self.apply_theme(theme)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        self._title.setFont(theme.body)
        self._note.setFont(theme.small)
        _set_ink(self._note, theme.colors.faint_ink)
        self.update()

    def light_up(self) -> None:
        """Show that a file held over the page may fall."""
        self._is_hot = True
        self.update()

    def calm_down(self) -> None:
        """Show that no file is held over the page any more."""
        self._is_hot = False
        self.update()

    @override
    def paintEvent(self, event: QPaintEvent) -> None:
        colors = self._theme.colors
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        frame = QRectF(self.rect()).adjusted(0.75, 0.75, -0.75, -0.75)
        pen = QPen(QColor(colors.accent if self._is_hot else colors.hairline), 1.5)
        pen.setDashPattern([4, 3])
        painter.setPen(pen)
        painter.setBrush(QColor(colors.accent_ground if self._is_hot else colors.raised))
        painter.drawRoundedRect(frame, 4, 4)
        painter.end()


class FileDrop(QObject):
    """Lets a file fall anywhere on a page.

    Signals:
        dropped: the first file dropped, as ``Path``.
        entered, left: a file is held over the page; it is so no more.
    """

    dropped = Signal(object)
    entered = Signal()
    left = Signal()

    def __init__(self, page: QWidget) -> None:
        super().__init__(page)
        page.setAcceptDrops(True)
        page.installEventFilter(self)

    @override
    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        match event:
            case QDragEnterEvent() if _files(event):
                self.entered.emit()
                event.acceptProposedAction()
            case QDragLeaveEvent():
                self.left.emit()
            case QDropEvent() if event.type() == QEvent.Type.Drop and _files(event):
                self.left.emit()
                event.acceptProposedAction()
                self.dropped.emit(_files(event)[0])
            case _:
                return False
        return True


def dropped_file(event: QDropEvent) -> str:
    """The path of the one local file that is dragged; empty for anything else."""
    urls = event.mimeData().urls()
    return urls[0].toLocalFile() if len(urls) == 1 and urls[0].isLocalFile() else ""


def _files(event: QDropEvent) -> list[Path]:
    """The files on disk that are being dragged."""
    return [Path(url.toLocalFile()) for url in event.mimeData().urls() if url.isLocalFile()]


def _set_ink(label: QLabel, color: str) -> None:
    look = label.palette()
    look.setColor(label.foregroundRole(), QColor(color))
    label.setPalette(look)
