"""Where a bottle code is scanned or typed, and whose it is: large, with three values to confirm."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from fluiddesk.desktop.theme import GAP, MARGIN, STEP, Theme
from fluiddesk.desktop.viewstate.bottle_box import code_fault, expected_words, where_drawn, whose
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.services.keyed_results.facts import OpenReport

_CODE_WIDTH = 176


class BottleBox(QWidget):
    """The first field of the page.

    Signals:
        code_given: a code whose check character fits.
        confirmed: the person says that the box shown is the right one.
        refused: the person wants another bottle.
        layout_chosen: the name of another form of report.
    """

    code_given = Signal(str)
    confirmed = Signal()
    refused = Signal()
    layout_chosen = Signal(str)

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self._theme = theme
        self._caption = QuietLabel("body", theme, self.tr("&Bottle code"))
        self.code = QLineEdit()
        self.code.setFixedWidth(_CODE_WIDTH)
        self.code.setAccessibleName(self.tr("Bottle code, scanned or typed"))
        self.code.setPlaceholderText(self.tr("Scan or type"))
        self._caption.setTextFormat(Qt.TextFormat.AutoText)
        self._caption.setBuddy(self.code)
        self._fault = QuietLabel("body", theme)
        self._fault.setWordWrap(True)
        self.layouts = QComboBox()
        self.layouts.setAccessibleName(self.tr("Form of the report"))
        self._whose = QuietLabel("sentence", theme)
        self._whose.setWordWrap(False)
        self._where = QuietLabel("faint", theme)
        self._note = QuietLabel("body", theme)
        self._note.setWordWrap(True)
        self._names = [QuietLabel("small", theme) for _ in range(3)]
        self._values = [QuietLabel("sentence", theme) for _ in range(3)]
        self.confirm_button = QPushButton(self.tr("This is it: key the report  (Enter)"))
        self.confirm_button.setDefault(True)
        self.confirm_button.setAutoDefault(True)
        self.other_button = QPushButton(self.tr("Another bottle  (Esc)"))
        self._card = QWidget()
        self._confirm = QWidget()
        self._lay_out()
        self.code.textEdited.connect(self._edited)
        self.code.returnPressed.connect(self._given)
        self.confirm_button.clicked.connect(self.confirmed)
        self.other_button.clicked.connect(self.refused)
        self.layouts.activated.connect(
            lambda at: self.layout_chosen.emit(str(self.layouts.itemData(at)))
        )
        self.show_report(None)

    def _lay_out(self) -> None:
        line = QHBoxLayout()
        line.setSpacing(GAP)
        line.addWidget(self._caption)
        line.addWidget(self.code)
        line.addWidget(self._fault, 1)
        line.addWidget(self.layouts)
        facts = QVBoxLayout()
        facts.setSpacing(STEP)
        facts.addWidget(self._whose)
        facts.addWidget(self._where)
        expected = QGridLayout()
        expected.setHorizontalSpacing(MARGIN + GAP)
        expected.setContentsMargins(3 * MARGIN, 0, 0, 0)
        expected.setVerticalSpacing(STEP)
        for at, (name, value) in enumerate(zip(self._names, self._values, strict=True)):
            name.setWordWrap(False)
            value.setWordWrap(False)
            expected.addWidget(value, 0, at)
            expected.addWidget(name, 1, at)
        card = QHBoxLayout(self._card)
        card.setContentsMargins(0, STEP, 0, STEP)
        card.addLayout(facts)
        card.addLayout(expected)
        card.addStretch(1)
        confirm = QHBoxLayout(self._confirm)
        confirm.setContentsMargins(0, 0, 0, 0)
        confirm.setSpacing(GAP)
        confirm.addWidget(self.confirm_button)
        confirm.addWidget(self.other_button)
        confirm.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        column.addLayout(line)
        column.addWidget(self._card)
        column.addWidget(self._note)
        column.addWidget(self._confirm)

    @property
    def fault(self) -> str:
        """What is wrong with the code, as shown."""
        return self._fault.text()

    @property
    def whose(self) -> str:
        """The machine and the compartment, as shown."""
        return self._whose.text() if self._card.isVisibleTo(self) else ""

    @property
    def expected(self) -> tuple[str, ...]:
        """The expected values, as shown."""
        return tuple(one.text() for one in self._values)

    @property
    def is_asking(self) -> bool:
        """Whether the box shown waits to be confirmed."""
        return self._confirm.isVisibleTo(self)

    def ask_for_code(self) -> None:
        """Empty the field and give it the keyboard."""
        self.code.clear()
        self.show_fault("")
        self.code.setFocus(Qt.FocusReason.OtherFocusReason)

    def show_fault(self, text: str) -> None:
        """Say what is wrong with the code, beside it."""
        self._fault.setText(text)

    def show_report(self, report: OpenReport | None, *, asks: bool = False) -> None:
        """Show whose bottle it is; ``asks``: the person is to confirm it."""
        self._card.setVisible(report is not None)
        self._confirm.setVisible(report is not None and asks)
        self.layouts.setVisible(report is not None)
        self._note.setVisible(report is not None and bool(report.note))
        if report is None:
            return
        self.show_fault("")
        self.code.setText(report.bottle_code)
        self._whose.setText(whose(report))
        self._where.setText(where_drawn(report))
        self._note.setText(report.note)
        told = expected_words(report)
        for at, (name, value) in enumerate(zip(self._names, self._values, strict=True)):
            name.setText(told[at][0] if at < len(told) else "")
            value.setText(told[at][1] if at < len(told) else "")
        self.layouts.clear()
        for one in report.layouts:
            self.layouts.addItem(one.title, one.name)
        self.layouts.setCurrentIndex(self.layouts.findData(report.layout))
        if asks:
            self.confirm_button.setFocus(Qt.FocusReason.TabFocusReason)

    def _edited(self, text: str) -> None:
        self.show_fault(code_fault(text, is_whole=False))

    def _given(self) -> None:
        text = self.code.text().strip()
        fault = code_fault(text, is_whole=True) if text else ""
        self.show_fault(fault)
        if fault:
            self.code.selectAll()
        elif text:
            self.code_given.emit(text)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        labels = (self._caption, self._fault, self._whose, self._where, self._note)
        for label in (*labels, *self._names, *self._values):
            label.apply_theme(theme)
