"""How the curves are drawn: the axis as three buttons, further switches in a menu."""

from typing import Final

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QAction, QColor, QFontMetrics, QPainter, QPaintEvent
from PySide6.QtWidgets import (
    QAbstractButton,
    QButtonGroup,
    QHBoxLayout,
    QMenu,
    QPushButton,
    QWidget,
)
from typing_extensions import override

from fluiddesk.charts.axes import Axis
from fluiddesk.charts.look import Look
from fluiddesk.charts.shared_view import SharedView

_HEIGHT: Final = 26
_SIDE: Final = 9


class ChoiceButton(QAbstractButton):
    """One of a few words side by side; the chosen one is underlined."""

    def __init__(
        self, text: str, look: Look, parent: QWidget | None = None, *, side: int = _SIDE
    ) -> None:
        super().__init__(parent)
        self.look = look
        self._side = side
        self.setText(text)
        self.setCheckable(True)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)

    @override
    def sizeHint(self) -> QSize:
        return QSize(
            QFontMetrics(self.look.strong).horizontalAdvance(self.text()) + 2 * self._side, _HEIGHT
        )

    @override
    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        colors = self.look.colors
        is_bright = self.isChecked() or self.underMouse()
        painter.setFont(self.look.strong if self.isChecked() else self.look.body)
        painter.setPen(QColor(colors.ink if is_bright else colors.faint_ink))
        painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter, self.text())
        if self.isChecked():
            line = self.rect().adjusted(self._side, _HEIGHT - 2, -self._side, 0)
            painter.fillRect(line, QColor(colors.accent))
        if self.hasFocus():
            painter.setPen(QColor(colors.accent))
            painter.drawRect(self.rect().adjusted(1, 1, -2, -2))
        painter.end()


class TrendSwitches(QWidget):
    """Axis, display and zoom of the curves.

    Signals:
        picture_asked: the current panel is wanted as a picture.
        data_asked: the current panel is wanted as a table.
        all_data_asked: every analyte is wanted as a table.
    """

    picture_asked = Signal()
    data_asked = Signal()
    all_data_asked = Signal()

    def __init__(self, shared: SharedView, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._shared = shared
        self.whole = QPushButton(self.tr("All"))
        self.whole.setToolTip(self.tr("Show every sample (0)"))
        self.last_fill = QPushButton(self.tr("This fill"))
        self.last_fill.setToolTip(self.tr("Zoom to the fluid now in the box"))
        self.show_button = QPushButton(self.tr("Show"))
        self.axis_buttons: dict[Axis, ChoiceButton] = {}
        self._group = QButtonGroup(self)
        self._menu = QMenu(self)
        self.log = self._add(self.tr("&Logarithmic values"), "L")
        self.rejected = self._add(self.tr("&Rejected samples"), "R")
        self.others = self._add(self.tr("Other side and like &machines"), "M")
        self._lay_out(look)
        self._connect()

    def _add(self, text: str, key: str) -> QAction:
        # The key is only told here: the charts hear it, and a shortcut of the menu would act twice.
        action = self._menu.addAction(f"{text}\t{key}")
        action.setCheckable(True)
        return action

    def _lay_out(self, look: Look) -> None:
        self.rejected.setChecked(True)
        self.others.setChecked(True)
        self._menu.addSeparator()
        for text, asked in (
            (self.tr("Copy &picture\tCtrl+C"), self.picture_asked),
            (self.tr("Copy &data\tCtrl+Shift+C"), self.data_asked),
            (self.tr("Copy data of &all analytes"), self.all_data_asked),
        ):
            self._menu.addAction(text).triggered.connect(lambda _=False, asked=asked: asked.emit())
        self.show_button.setMenu(self._menu)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        for axis, text, tip in (
            (Axis.HOURS, self.tr("Hours"), self.tr("Against machine hours (H)")),
            (
                Axis.FLUID_HOURS,
                self.tr("Fluid hours"),
                self.tr("Against hours on the fluid: every fill from its change on (F)"),
            ),
            (Axis.DATE, self.tr("Date"), self.tr("Against the calendar (D)")),
        ):
            button = ChoiceButton(text, look)
            button.setToolTip(tip)
            self.axis_buttons[axis] = button
            self._group.addButton(button)
            row.addWidget(button)
        self.axis_buttons[Axis.HOURS].setChecked(True)
        for button_ in (self.show_button, self.last_fill, self.whole):
            row.addSpacing(8)
            row.addWidget(button_)

    def _connect(self) -> None:
        for axis, button in self.axis_buttons.items():
            button.clicked.connect(lambda _=False, axis=axis: self._shared.set_axis(axis))
        self.whole.clicked.connect(lambda _checked: self._shared.show_span())
        self.last_fill.clicked.connect(self._shared.show_last_fill)
        self.log.toggled.connect(self._shared.set_log)
        self.rejected.toggled.connect(self._shared.set_rejected_shown)
        self.others.toggled.connect(self._shared.set_others_shown)

    def choose_axis(self, axis: Axis) -> None:
        """Hold the curves against another axis, as if its button had been pressed."""
        self.axis_buttons[axis].setChecked(True)
        self._shared.set_axis(axis)

    def take_key(self, text: str) -> bool:
        """Do what a letter asks for; whether it asked for anything."""
        axes = {"h": Axis.HOURS, "f": Axis.FLUID_HOURS, "d": Axis.DATE}
        switches = {"l": self.log, "r": self.rejected, "m": self.others}
        letter = text.lower()
        if letter in axes:
            self.choose_axis(axes[letter])
        elif letter in switches:
            switches[letter].toggle()
        else:
            return False
        return True

    def set_enabled(self, *, has_samples: bool) -> None:
        """Nothing can be switched where nothing is drawn."""
        for one in (*self.axis_buttons.values(), self.whole, self.last_fill, self.show_button):
            one.setEnabled(has_samples)

    def apply_look(self, look: Look) -> None:
        """Draw with other colours and fonts."""
        for button in self.axis_buttons.values():
            button.look = look
            button.update()
