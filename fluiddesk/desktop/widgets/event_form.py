"""Logs an event on the page itself: fields, what is refused or asked, and the way back."""

from collections.abc import Sequence

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QColor, QKeyEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QCheckBox, QHBoxLayout, QPushButton, QVBoxLayout, QWidget
from typing_extensions import override

from fluiddesk.desktop.theme import GAP, MARGIN, STEP, Theme
from fluiddesk.desktop.viewstate.record_form import FormDraft, RecordForm
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.desktop.widgets.record_editor import RecordEditor

_PAUSE_MS = 250
"""So long nothing is typed before what is written is checked against the store."""


class EventForm(QWidget):
    """Hidden until it is asked for; blocks nothing.

    Signals:
        written: something was written, and a moment has passed since.
        kind_chosen: another kind of event was chosen: the form is to be made for it.
        agreed: the event is to be logged.
        closed: the person does not want to log anything.
    """

    written = Signal()
    kind_chosen = Signal()
    agreed = Signal()
    closed = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._kind = ""
        self._title = QuietLabel("strong", theme)
        self.editor = RecordEditor(theme)
        self.refusal = QuietLabel("body", theme)
        self.question = QuietLabel("body", theme)
        self.confirm = QCheckBox(self.tr("Yes, it is meant so"))
        self.place_told = QuietLabel("small", theme)
        self.close_button = QPushButton(self.tr("Close"))
        self._pause = QTimer(self)
        self._pause.setSingleShot(True)
        self._pause.setInterval(_PAUSE_MS)
        self._lay_out()
        self._pause.timeout.connect(self.written)
        self.editor.drafted.connect(self._heard)
        self.editor.save_pressed.connect(self._agree)
        self.confirm.toggled.connect(self._tell_button)
        self.close_button.clicked.connect(self.closed)
        self.hide()

    def _lay_out(self) -> None:
        for label in (self.refusal, self.question, self.place_told):
            label.setWordWrap(True)
        self.close_button.setAutoDefault(False)
        head = QHBoxLayout()
        head.addWidget(self._title, 1)
        head.addWidget(self.close_button)
        said = QVBoxLayout()
        said.setSpacing(STEP)
        for part in (self.refusal, self.question, self.confirm, self.place_told):
            said.addWidget(part)
        said.addStretch(1)
        row = QHBoxLayout()
        row.setSpacing(MARGIN)
        row.addWidget(self.editor, 3)
        row.addLayout(said, 2)
        column = QVBoxLayout(self)
        column.setContentsMargins(MARGIN, GAP, GAP, GAP)
        column.setSpacing(GAP)
        column.addLayout(head)
        column.addLayout(row)

    @property
    def draft(self) -> FormDraft | None:
        """What is written."""
        return self.editor.draft

    @property
    def is_confirmed(self) -> bool:
        """Whether what was asked is meant so."""
        return self.confirm.isChecked()

    def show_form(self, form: RecordForm) -> None:
        """Show the fields of a kind of event; the keyboard goes to the first of them."""
        is_first = self.isHidden()
        self._title.setText(form.title)
        self._kind = next(one.value for one in form.fields if one.key == "kind")
        self.editor.show_form(form)
        self.editor.discard_button.hide()
        self.say((), ())
        self.show()
        if is_first:
            self.editor.focus_first()
        else:
            self.editor.editor("kind").setFocus(Qt.FocusReason.OtherFocusReason)

    def say(self, refused: Sequence[str], asks: Sequence[str], *, place: str = "") -> None:
        """Say what stands against the event, what is asked, and where it would stand."""
        self.refusal.setText("\n".join(refused))
        self.refusal.setVisible(bool(refused))
        was_asked = self.question.text()
        self.question.setText("\n".join(asks))
        self.question.setVisible(bool(asks))
        self.confirm.setVisible(bool(asks))
        if self.question.text() != was_asked:
            # Another question: what was confirmed before is no answer to it.
            self.confirm.setChecked(False)
        self.place_told.setText(place)
        self._tell_button()

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        labels = (self._title, self.refusal, self.question, self.place_told)
        for part in (*labels, self.editor):
            part.apply_theme(theme)
        self.update()

    def _heard(self) -> None:
        draft = self.draft
        if draft is None:
            return
        self.editor.discard_button.hide()
        if draft.texts["kind"] != self._kind:
            # The editor that told of it goes with its form: it must have ended first.
            QTimer.singleShot(0, self, self.kind_chosen.emit)
            return
        self._pause.start()

    def _tell_button(self) -> None:
        draft = self.draft
        is_open = self.question.isHidden() or self.is_confirmed
        can_save = draft is not None and draft.can_save and self.refusal.isHidden() and is_open
        self.editor.save_button.setEnabled(can_save)

    def _agree(self, _draft: FormDraft) -> None:
        if self.editor.save_button.isEnabled():
            self.agreed.emit()

    @override
    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.closed.emit()
        else:
            super().keyPressEvent(event)

    @override
    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self._theme.colors.raised))
        painter.fillRect(0, 0, 3, self.height(), QColor(self._theme.colors.accent))
        painter.end()
