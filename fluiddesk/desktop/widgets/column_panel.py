"""What one column of an unknown file carries: the suggestions, everything else, and its unit."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QCompleter,
    QGridLayout,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.file_mapping import MappingState, Offer, suggestion_words
from fluiddesk.desktop.widgets.quiet_label import QuietLabel

_WIDTH = 292
_MOST = 4


class ColumnPanel(QWidget):
    """Beside the table of columns: the one at hand.

    Signals:
        chosen: something about the column at hand was changed.
        carried: what it carries was chosen from the list: the keyboard goes back to the table.
    """

    chosen = Signal()
    carried = Signal()

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self._state: MappingState | None = None
        self._at = -1
        self._heading = QuietLabel("strong", theme)
        self._cells = QuietLabel("faint", theme)
        self._cells.setWordWrap(True)
        self._why = QuietLabel("small", theme)
        self.suggestions = [self._suggestion(number) for number in range(_MOST)]
        self.carries = QComboBox()
        self.carries.setEditable(True)
        self.carries.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        self.carries.setAccessibleName(self.tr("What the column carries"))
        self.carries.activated.connect(self._offered)
        self.unit = QComboBox()
        self.unit_field = QLineEdit()
        self.unit.setLineEdit(self.unit_field)
        self.unit.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        self.unit.setAccessibleName(self.tr("Unit of the column"))
        self.unit.activated.connect(lambda _: self._unit_typed())
        self.unit_field.editingFinished.connect(self._unit_typed)
        self._labels = [
            QuietLabel("small", theme, self.tr("Carries")),
            QuietLabel("small", theme, self.tr("Unit")),
        ]
        form = QGridLayout()
        form.setHorizontalSpacing(GAP)
        form.setVerticalSpacing(STEP)
        for row, (label, part) in enumerate(
            zip(self._labels, (self.carries, self.unit), strict=True)
        ):
            form.addWidget(label, row, 0)
            form.addWidget(part, row, 1)
        form.setColumnStretch(1, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(STEP)
        column.addWidget(self._heading)
        column.addWidget(self._cells)
        column.addSpacing(STEP)
        for button in self.suggestions:
            column.addWidget(button)
        column.addWidget(self._why)
        column.addSpacing(GAP)
        column.addLayout(form)
        column.addStretch(1)
        self.setFixedWidth(_WIDTH)

    def _suggestion(self, number: int) -> QPushButton:
        button = QPushButton()
        button.setCheckable(True)
        button.clicked.connect(lambda: self.take(number))
        return button

    def show_state(self, state: MappingState | None) -> None:
        """Offer what columns of another file can carry."""
        self._state, self._at = state, -1
        self.setVisible(state is not None)
        if state is None:
            return
        self.carries.clear()
        for offer in state.offers():
            self.carries.addItem(offer.words, offer)
        completer = QCompleter([offer.words for offer in state.offers()], self.carries)
        completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        completer.setFilterMode(Qt.MatchFlag.MatchContains)
        completer.activated.connect(self._completed)
        self.carries.setCompleter(completer)

    def show_row(self, at: int) -> None:
        """Show one column."""
        state = self._state
        if state is None or not 0 <= at < len(state.rows) or state.rows[at].guess is None:
            return
        self._at = at
        guess, one = state.guess(at), state.column(at)
        self._heading.setText(guess.heading)
        self._cells.setText(state.examples(at))
        for number, button in enumerate(self.suggestions):
            is_there = number < len(guess.suggestions)
            button.setVisible(is_there)
            if is_there:
                offered = guess.suggestions[number]
                button.setText(suggestion_words(state.found, offered))
                button.setToolTip(offered.why)
                is_taken = (offered.kind, offered.code) == (one.kind, one.code)
                button.setChecked(is_taken)
        why = guess.suggestions[0].why if guess.suggestions else self.tr("Nothing like it is known")
        self._why.setText(why)
        self.carries.setCurrentIndex(self.carries.findText(state.carries(at)))
        if self.carries.currentIndex() < 0:
            self.carries.setEditText(state.carries(at))
        self.unit.clear()
        self.unit.addItems(list(state.units(at)))
        self.unit.setEditText(one.unit)
        self.unit.setEnabled(one.kind == "result")

    def take(self, number: int) -> None:
        """Take one of the suggestions."""
        state = self._state
        if state is not None and self._at >= 0:
            state.choose(self._at, state.guess(self._at).suggestions[number])
            self._tell()

    def _offered(self, at: int) -> None:
        offer = self.carries.itemData(at)
        if self._state is not None and self._at >= 0 and isinstance(offer, Offer):
            self._state.choose_offer(self._at, offer)
            self._tell()
            self.carried.emit()

    def _completed(self, words: str) -> None:
        at = self.carries.findText(words)
        if at >= 0:
            self.carries.setCurrentIndex(at)
            self._offered(at)

    def _unit_typed(self) -> None:
        state = self._state
        if state is None or self._at < 0:
            return
        if self.unit.currentText().strip() != state.column(self._at).unit:
            state.set_unit(self._at, self.unit.currentText())
            self._tell()

    def _tell(self) -> None:
        self.show_row(self._at)
        self.chosen.emit()

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        for label in (self._heading, self._cells, self._why, *self._labels):
            label.apply_theme(theme)
