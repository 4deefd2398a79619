"""The filter row of the fleet page: text, site, machine kind, severities, overdue, moved."""

from PySide6.QtCore import QSignalBlocker, Qt, QTimer, Signal
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QCheckBox, QComboBox, QHBoxLayout, QLineEdit, QPushButton, QWidget

from fluiddesk.desktop.theme import GAP, MARGIN, STEP, Theme
from fluiddesk.desktop.viewstate.fleet_condition import FleetFilter, FleetMatrix
from fluiddesk.desktop.widgets.severity_badge import SeverityChip
from fluiddesk.domain.severity import Severity

_MILLISECONDS_AFTER_TYPING = 120
_SHARE = 100
"""Controls grow to their full width before the empty room between them grows."""


class FleetFilterRow(QWidget):
    """Gives a ``FleetFilter`` as it is chosen.

    Signals:
        chosen: the ``FleetFilter`` now in force.
    """

    chosen = Signal(object)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.chips = [
            SeverityChip(one, theme, self) for one in sorted(Severity, key=int, reverse=True)
        ]
        self.text = QLineEdit(self)
        self.text.setPlaceholderText(self.tr("Machine, kind or site"))
        self.text.setAccessibleName(self.tr("Filter machines"))
        self.text.setClearButtonEnabled(True)
        give_way(self.text, least=120, most=190)
        self.site = self._choice(self.tr("Site"), least=104, most=130)
        self.kind = self._choice(self.tr("Machine kind"), least=166, most=170)
        self.overdue = QCheckBox(self.tr("Overdue"), self)
        self.overdue.setToolTip(self.tr("Machines with a box whose sampling window has passed"))
        self.moved = QCheckBox(self.tr("Moved"), self)
        self.moved.setToolTip(
            self.tr(
                "Machines with a box that became better or worse since you last closed this "
                "page;\nwhere there is no such last look, by its newest sample"
            )
        )
        self.clear = QPushButton(self.tr("Show all"), self)
        self.clear.setEnabled(False)
        self._pause = QTimer(self, singleShot=True, interval=_MILLISECONDS_AFTER_TYPING)
        self._lay_out()
        self._connect()

    def _choice(self, name: str, *, least: int, most: int) -> QComboBox:
        made = QComboBox(self)
        made.setAccessibleName(name)
        give_way(made, least=least, most=most)
        return made

    def _lay_out(self) -> None:
        first = QHBoxLayout(self)
        first.setContentsMargins(0, 0, 0, 0)
        first.setSpacing(GAP)
        for control in (self.text, self.site, self.kind):
            first.addWidget(control, _SHARE)
        first.addSpacing(STEP)
        first.addWidget(self.overdue)
        first.addWidget(self.moved)
        first.addSpacing(MARGIN)
        first.addWidget(self.clear)
        first.addStretch(1)
        self._row = first

    def add_at_end(self, widget: QWidget) -> None:
        """Put one more control at the right end of the row."""
        self._row.addWidget(widget, _SHARE)

    def _connect(self) -> None:
        self._pause.timeout.connect(self._tell)
        self.text.textChanged.connect(self._pause.start)
        self.text.returnPressed.connect(self._tell)
        for choice in (self.site, self.kind):
            choice.currentIndexChanged.connect(self._tell)
        for button in (self.overdue, self.moved, *self.chips):
            button.toggled.connect(self._tell)
        self.clear.clicked.connect(self.show_all)
        escape = QShortcut(QKeySequence(Qt.Key.Key_Escape), self.text)
        escape.setContext(Qt.ShortcutContext.WidgetShortcut)
        escape.activated.connect(self.text.clear)

    def offer(self, matrix: FleetMatrix) -> None:
        """Offer what this fleet has; what was chosen stays chosen where it still exists."""
        kinds = [(name, code) for code, name in matrix.machine_kinds]
        _refill(self.site, self.tr("Every site"), [(site, site) for site in matrix.sites])
        _refill(self.kind, self.tr("Every machine kind"), kinds)
        counts = matrix.counts()
        for chip in self.chips:
            chip.show_count(counts[chip.severity])

    @property
    def filter(self) -> FleetFilter:
        """What is chosen now."""
        return FleetFilter(
            text=self.text.text().strip(),
            site=self.site.currentData() or "",
            machine_kind=self.kind.currentData() or "",
            severities=frozenset(chip.severity for chip in self.chips if chip.isChecked()),
            only_overdue=self.overdue.isChecked(),
            only_moved=self.moved.isChecked(),
        )

    def show_all(self) -> None:
        """Let everything through."""
        boxes = (self.overdue, self.moved, *self.chips)
        blockers = [QSignalBlocker(one) for one in (self.text, self.site, self.kind, *boxes)]
        self.text.clear()
        self.site.setCurrentIndex(0)
        self.kind.setCurrentIndex(0)
        for box in boxes:
            box.setChecked(False)
        del blockers
        self._tell()

    def _tell(self) -> None:
        self._pause.stop()
        chosen = self.filter
        self.clear.setEnabled(not chosen.is_open)
        self.chosen.emit(chosen)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in the colours of another theme."""
        for chip in self.chips:
            chip.apply_theme(theme)


def give_way(control: QWidget, *, least: int, most: int) -> None:
    """Let a control be as wide as it likes to be, and narrower in a small window."""
    control.setMinimumWidth(least)
    control.setMaximumWidth(most)


def _refill(choice: QComboBox, every: str, pairs: list[tuple[str, str]]) -> None:
    kept = choice.currentData()
    blocker = QSignalBlocker(choice)
    choice.clear()
    choice.addItem(every, "")
    for name, code in pairs:
        choice.addItem(name, code)
    choice.setCurrentIndex(max(0, choice.findData(kept)))
    del blocker
