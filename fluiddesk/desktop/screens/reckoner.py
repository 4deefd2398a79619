"""The Reckoner page: the trade's calculations, answered while the figures are typed."""

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QGuiApplication, QKeyEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QHBoxLayout,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QScrollArea,
    QSplitter,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)
from typing_extensions import override

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.theme import GAP, MARGIN, ROW_HEIGHT, STEP, Theme
from fluiddesk.desktop.viewstate.reckoner import CAUTION, ReckonerState, Shown, Standing
from fluiddesk.desktop.widgets.answer_panel import AnswerPanel
from fluiddesk.desktop.widgets.fact_delegate import FactDelegate
from fluiddesk.desktop.widgets.field_form import FieldForm
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.services.changes import Changes
from fluiddesk.services.workplace import Workplace
from fluiddesk.wiring import Clock

_LIST_WIDTH = 196
_FORM_WIDTH = 384
_WIDEST_ANSWER = 640


class ReckonerScreen(QWidget):
    """Answers the reckonings; it needs no database."""

    def __init__(
        self,
        place: Workplace | None,
        *,
        clock: Clock,
        theme: Theme,
        background: Background,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        del place, clock, background  # a page like any other, but it asks none of them
        self.title = self.tr("Reckoner")
        self._theme = theme
        self.state = ReckonerState()
        self._forms: dict[int, FieldForm] = {}
        self._make_parts(theme)
        self._lay_out()
        self._connect()
        self.choices.setCurrentRow(0)

    def _make_parts(self, theme: Theme) -> None:
        self.choices = QListWidget(self)
        self.choices.setAccessibleName(self.tr("Reckonings"))
        self.choices.setItemDelegate(FactDelegate(self))
        for title in self.state.titles:
            QListWidgetItem(title, self.choices).setSizeHint(QSize(0, ROW_HEIGHT))
        self.choices.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._head = QuietLabel("sentence", theme)
        self._about = QuietLabel("small", theme)
        self._caution = QuietLabel("small", theme, CAUTION)
        self._stack = QStackedWidget(self)
        self.answer = AnswerPanel(theme, self)
        self.example = QPushButton(self.tr("Fill in the &example"), self)
        self.clear = QPushButton(self.tr("C&lear"), self)
        self.copy = QPushButton(self.tr("&Copy answer"), self)
        self.copy.setToolTip(self.tr("Ctrl+Shift+C"))

    def _lay_out(self) -> None:
        buttons = QHBoxLayout()
        buttons.setSpacing(GAP)
        for button in (self.example, self.clear, self.copy):
            buttons.addWidget(button)
        buttons.addStretch(1)
        fields = QScrollArea(self)
        fields.setWidgetResizable(True)
        fields.setFrameShape(QScrollArea.Shape.NoFrame)
        fields.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        fields.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        fields.setFixedWidth(_FORM_WIDTH)
        fields.setWidget(self._stack)
        self.answer.setMaximumWidth(_WIDEST_ANSWER)
        both = QHBoxLayout()
        both.setSpacing(MARGIN + GAP)
        both.addWidget(fields)
        both.addWidget(self.answer, 1)
        both.addStretch(0)
        asked = QWidget(self)
        right = QVBoxLayout(asked)
        right.setContentsMargins(MARGIN, 0, 0, 0)
        right.setSpacing(GAP)
        right.addWidget(self._head)
        right.addWidget(self._about)
        right.addLayout(buttons)
        right.addSpacing(STEP)
        right.addLayout(both, 1)
        split = QSplitter(Qt.Orientation.Horizontal, self)
        split.addWidget(self.choices)
        split.addWidget(asked)
        split.setStretchFactor(1, 1)
        split.setSizes([_LIST_WIDTH, 10 * _LIST_WIDTH])
        split.setHandleWidth(1)
        split.setChildrenCollapsible(False)
        column = QVBoxLayout(self)
        column.setContentsMargins(MARGIN, MARGIN, MARGIN, GAP + STEP)
        column.setSpacing(GAP)
        column.addWidget(split, 1)
        column.addWidget(self._caution)

    def _connect(self) -> None:
        self.choices.currentRowChanged.connect(self.choose)
        self.choices.itemActivated.connect(lambda _item: self.form.focus_first())
        self.example.clicked.connect(self.show_example)
        self.clear.clicked.connect(self._clear)
        self.copy.clicked.connect(self.copy_answer)
        keys = QShortcut(QKeySequence("Ctrl+Shift+C"), self)
        keys.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        keys.activated.connect(self.copy_answer)

    @property
    def form(self) -> FieldForm:
        """The fields on screen."""
        return self._forms[self.state.chosen]

    def choose(self, number: int) -> None:
        """Bring another reckoning on screen, with what was typed into it before."""
        self.state.choose(number)
        chosen = self.state.chosen
        if chosen not in self._forms:
            form = FieldForm(self.state.reckoning.fields, self._theme)
            form.typed.connect(self._take)
            self._forms[chosen] = form
            self._stack.addWidget(form)
        self._stack.setCurrentWidget(self.form)
        self._head.setText(self.state.reckoning.title)
        self._about.setText(self.state.reckoning.about)
        self._show()

    def show_example(self) -> None:
        """Fill in the worked example of the reckoning on screen."""
        self.state.fill_example()
        self.form.show_typed(self.state.typed)
        self._show()

    def copy_answer(self) -> None:
        """Put the answer on the clipboard, with its figures, method and source."""
        text = self.state.answer_to_copy()
        if text:
            QGuiApplication.clipboard().setText(text)

    def _take(self, name: str, text: str) -> None:
        self.state.enter(name, text)
        self._show()

    def _clear(self) -> None:
        self.state.clear()
        self.form.show_typed({})
        self._show()
        self.form.focus_first()

    def _show(self) -> None:
        self.show_facts(self.state.shown())

    def show_facts(self, facts: Shown) -> None:
        """Show what the reckoning came to."""
        self.answer.show_answer(facts)
        self.copy.setEnabled(facts.standing is Standing.ANSWERED)
        self.clear.setEnabled(facts.standing is not Standing.EMPTY)

    def refresh(self) -> None:
        """Reckon again; nothing is read."""
        self._show()

    def show_changes(self, changes: Changes) -> None:
        """Nothing in a database concerns the reckoner."""

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        for label in (self._head, self._about, self._caution):
            label.apply_theme(theme)
        for form in self._forms.values():
            form.apply_theme(theme)
        self.answer.apply_theme(theme)

    @override
    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.choices.setFocus()
        elif event.matches(QKeySequence.StandardKey.Find):
            self.form.focus_first()
        else:
            super().keyPressEvent(event)
