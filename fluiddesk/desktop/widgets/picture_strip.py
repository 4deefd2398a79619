"""Pictures among a record's papers, small and side by side; each opens in its own program."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QIcon, QImage, QPixmap
from PySide6.QtWidgets import QHBoxLayout, QToolButton, QWidget

from fluiddesk.desktop.theme import GAP

_HEIGHT: Final = 72
_WIDEST: Final = 128
_RIM: Final = 6
STRIP_HEIGHT: Final = _HEIGHT + _RIM


@dataclass(frozen=True)
class SmallPicture:
    """A picture made small: the paper it is of, its name, and what it shows."""

    paper: bytes
    name: str
    image: QImage


def small_picture(paper: bytes, path: Path) -> SmallPicture | None:
    """Read a picture and make it small; ``None`` for what Qt cannot show. Runs on any thread."""
    image = QImage(str(path))
    if image.isNull():
        return None
    fitted = image.scaled(
        QSize(_WIDEST, _HEIGHT),
        Qt.AspectRatioMode.KeepAspectRatio,
        Qt.TransformationMode.SmoothTransformation,
    )
    return SmallPicture(paper, path.name, fitted)


class PictureStrip(QWidget):
    """Shows pictures in a row; hidden without any.

    Signals:
        opened: the identifier of the paper to open.
    """

    opened = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(self.tr("Pictures"))
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(0, 0, 0, 0)
        self._row.setSpacing(GAP)
        self._row.addStretch(1)
        self.buttons: list[QToolButton] = []
        self.setFixedHeight(STRIP_HEIGHT)
        self.hide()

    def show_pictures(self, pictures: Sequence[SmallPicture]) -> None:
        """Show these, the newest first."""
        for button in self.buttons:
            self._row.removeWidget(button)
            button.hide()
            button.deleteLater()
        self.buttons = []
        for place, one in enumerate(pictures):
            button = QToolButton()
            button.setIcon(QIcon(QPixmap.fromImage(one.image)))
            button.setIconSize(one.image.size())
            button.setFixedSize(one.image.size() + QSize(_RIM, _RIM))
            button.setAutoRaise(True)
            button.setToolTip(one.name)
            button.setAccessibleName(self.tr("Picture {0}").format(one.name))
            button.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
            button.clicked.connect(lambda _=False, paper=one.paper: self.opened.emit(paper))
            self._row.insertWidget(place, button)
            self.buttons.append(button)
        self.setVisible(bool(pictures))
