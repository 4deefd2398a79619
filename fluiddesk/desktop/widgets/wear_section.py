"""The True wear section: unit, readout, the charts of every metal, what was taken for granted."""

from PySide6.QtCore import QRect, Qt
from PySide6.QtWidgets import (
    QButtonGroup,
    QFrame,
    QHBoxLayout,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from fluiddesk.charts.look import Look
from fluiddesk.charts.trend_switches import ChoiceButton
from fluiddesk.charts.wear_panels import WearPanels
from fluiddesk.charts.wear_plots import RateUnit
from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.services.compartment_history.wear_facts import TrueWear


class WearSection(QWidget):
    """Widgets are kept from box to box."""

    def __init__(self, look: Look, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.panels = WearPanels(look)
        self.readout = QuietLabel("small", theme)
        self.readout.setMinimumHeight(28)
        self._assumed = QuietLabel("small", theme)
        self._nothing = QuietLabel("body", theme)
        self._nothing.setWordWrap(True)
        self._scroll = QScrollArea()
        self._buttons = {unit: ChoiceButton(unit.value, look) for unit in RateUnit}
        self._group = QButtonGroup(self)
        self._lay_out()
        self.panels.fill_looked_at.connect(self._tell)
        self.panels.metal_reached.connect(self._scroll_to)

    def _lay_out(self) -> None:
        self._scroll.setWidget(self.panels)
        self._scroll.setWidgetResizable(True)
        self._scroll.setFrameShape(QFrame.Shape.NoFrame)
        self._scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        row = QHBoxLayout()
        row.setContentsMargins(0, 0, 0, STEP)
        row.setSpacing(0)
        row.addWidget(self.readout, 1)
        for unit, button in self._buttons.items():
            self._group.addButton(button)
            row.addWidget(button)
            button.clicked.connect(lambda _=False, unit=unit: self.panels.set_unit(unit))
        self._buttons[RateUnit.PPM_PER_100_H].setChecked(True)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(STEP)
        column.addLayout(row)
        column.addWidget(self._nothing)
        column.addWidget(self._scroll, 1)
        column.addWidget(self._assumed)
        column.addSpacing(GAP)

    def show_wear(self, wear: TrueWear, *, is_worked_out: bool = True) -> None:
        """Show another box; until its wear ``is_worked_out`` there is nothing but words."""
        self.panels.show_wear(wear)
        self._scroll.verticalScrollBar().setValue(0)
        self._scroll.setVisible(bool(wear.metals))
        self._nothing.setVisible(not wear.metals)
        nothing = wear.why or self.tr("No wear metal was tested in this box.")
        self._nothing.setText(nothing if is_worked_out else self.tr("Being worked out."))
        assumed = "; ".join(one.rstrip(". ") for one in wear.assumptions)
        self._assumed.setText(self.tr("Taken for granted: {0}.").format(assumed) if assumed else "")
        self._tell("")

    def _tell(self, told: str) -> None:
        hint = (
            self.tr("Bars: 80 % band over each fill. Dashed: like machines")
            if (self.panels.metals)
            else ""
        )
        self.readout.setText(told or hint)

    def apply_theme(self, look: Look, theme: Theme) -> None:
        """Draw in another theme."""
        self.panels.apply_look(look)
        for label in (self.readout, self._assumed, self._nothing):
            label.apply_theme(theme)
        for button in self._buttons.values():
            button.look = look
            button.update()

    def _scroll_to(self, frame: QRect) -> None:
        center = frame.center()
        self._scroll.ensureVisible(center.x(), center.y(), 0, frame.height() // 2)
