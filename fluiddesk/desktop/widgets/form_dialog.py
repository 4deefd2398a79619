"""A form in a dialog that blocks nothing: it is opened, and answers by a signal."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QDialog, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from fluiddesk.desktop.theme import GAP, MARGIN, Theme
from fluiddesk.desktop.viewstate.record_form import FormDraft, RecordForm
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.desktop.widgets.record_editor import RecordEditor

_LEAST_WIDTH = 660


class FormDialog(QDialog):
    """Asks for the fields of a form; stays open until what is written was taken.

    Signals:
        agreed: the values of the fields by key.
    """

    agreed = Signal(object)

    def __init__(self, form: RecordForm, *, theme: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(form.title)
        self._about = QuietLabel("body", theme, form.about)
        self._about.setWordWrap(True)
        self._about.setVisible(bool(form.about))
        self._refusal = QuietLabel("strong", theme)
        self._refusal.setWordWrap(True)
        self._refusal.hide()
        self.editor = RecordEditor(theme)
        self.editor.show_form(form)
        self.cancel_button = QPushButton(self.tr("Cancel"))
        self.cancel_button.setAutoDefault(False)
        self.cancel_button.clicked.connect(self.reject)
        self.editor.discard_button.setAutoDefault(False)
        self.editor.save_pressed.connect(self._agree)
        self.editor.drafted.connect(self._refusal.hide)
        last = QHBoxLayout()
        last.addStretch(1)
        last.addWidget(self.cancel_button)
        column = QVBoxLayout(self)
        column.setContentsMargins(MARGIN, MARGIN, MARGIN, MARGIN)
        column.setSpacing(GAP)
        for part in (self._about, self.editor, self._refusal):
            column.addWidget(part)
        column.addLayout(last)
        self.setMinimumWidth(_LEAST_WIDTH)
        self.editor.focus_first()

    def refuse(self, words: str) -> None:
        """Say what is wrong with the whole; everything written stays."""
        self._refusal.setText(words)
        self._refusal.show()

    @property
    def refusal(self) -> str:
        """What is wrong with the whole; empty while nothing is."""
        return "" if self._refusal.isHidden() else self._refusal.text()

    def _agree(self, draft: FormDraft) -> None:
        # Enter reaches both the field and the default button: one answer is enough.
        if self.isVisible():
            self.agreed.emit(draft.values())
