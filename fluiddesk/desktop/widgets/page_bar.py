"""The names of the pages in one line; the page on screen is underlined in the accent."""

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QPaintEvent
from PySide6.QtWidgets import QAbstractButton, QButtonGroup, QHBoxLayout, QSizePolicy, QWidget
from typing_extensions import override

from fluiddesk.desktop.theme import GAP, Theme

_HEIGHT = 38
_SIDE = 12


class PageButton(QAbstractButton):
    """One page's name."""

    def __init__(self, title: str, theme: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self._theme = theme
        self.setText(title)
        self.setAccessibleName(title)
        self.setCheckable(True)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in the colours of another theme."""
        self._theme = theme
        self.update()

    @override
    def sizeHint(self) -> QSize:
        width = QFontMetrics(self._theme.strong).horizontalAdvance(self.text())
        return QSize(width + 2 * _SIDE, _HEIGHT)

    @override
    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        colors = self._theme.colors
        is_bright = self.isChecked() or self.underMouse()
        painter.setFont(self._theme.strong if self.isChecked() else self._theme.body)
        painter.setPen(QColor(colors.ink if is_bright else colors.faint_ink))
        painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter, self.text())
        if self.isChecked():
            line = self.rect().adjusted(_SIDE, _HEIGHT - 2, -_SIDE, 0)
            painter.fillRect(line, QColor(colors.accent))
        if self.hasFocus():
            painter.setPen(QColor(colors.accent))
            painter.drawRect(self.rect().adjusted(4, 4, -5, -6))


class PageBar(QWidget):
    """Chooses a page.

    Signals:
        chosen: number of the page that is asked for.
    """

    chosen = Signal(int)

    def __init__(self, titles: tuple[str, ...], theme: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self._theme = theme
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._group = QButtonGroup(self)
        row = QHBoxLayout(self)
        row.setContentsMargins(4, 0, GAP, 0)
        row.setSpacing(0)
        for number, title in enumerate(titles):
            button = PageButton(title, theme, self)
            self._group.addButton(button, number)
            row.addWidget(button)
        row.addStretch(1)
        self._group.idClicked.connect(self.chosen)

    def add_at_end(self, widget: QWidget) -> None:
        """Put something at the far end of the line."""
        row = self.layout()
        if row is not None:
            row.addWidget(widget)

    def show_page(self, number: int) -> None:
        """Underline the page that is on screen."""
        self._group.button(number).setChecked(True)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in the colours of another theme."""
        self._theme = theme
        self.update()
        for button in self._group.buttons():
            if isinstance(button, PageButton):
                button.apply_theme(theme)

    @override
    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        bottom = self.height() - 1
        painter.fillRect(0, bottom, self.width(), 1, QColor(self._theme.colors.hairline))
