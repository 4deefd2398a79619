"""After saving: the verdict at once, what moved it, what a revision changed, and undoing it."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.saved_report import revised_words, saved_caption
from fluiddesk.desktop.widgets.box_facts import SeverityMark
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.services.keyed_results.facts import SavedReport

_MARK = 18


class SavedPanel(QWidget):
    """Stands under the bottle-code box until the next bottle is opened."""

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self._saved: SavedReport | None = None
        self._mark = SeverityMark(theme, _MARK)
        self._caption = QuietLabel("caption", theme)
        self._sentence = QuietLabel("sentence", theme)
        self._revised = QuietLabel("body", theme)
        self._revised.setWordWrap(True)
        self.undo_button = QPushButton(self.tr("Undo this report"))
        self.box_button = QPushButton(self.tr("Show the box"))
        line = QHBoxLayout()
        line.setSpacing(GAP)
        line.addWidget(self._mark, 0, Qt.AlignmentFlag.AlignTop)
        line.addWidget(self._sentence, 1)
        for button in (self.box_button, self.undo_button):
            line.addWidget(button, 0, Qt.AlignmentFlag.AlignTop)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, GAP, 0, GAP)
        column.setSpacing(STEP)
        column.addWidget(self._caption)
        column.addLayout(line)
        column.addWidget(self._revised)
        self.hide()

    @property
    def saved(self) -> SavedReport | None:
        """What was saved last."""
        return self._saved

    @property
    def sentence(self) -> str:
        """The verdict, as shown."""
        return "" if self.isHidden() else self._sentence.text()

    def show_saved(self, saved: SavedReport | None) -> None:
        """Show what saving came to, or nothing."""
        self._saved = saved
        self.setVisible(saved is not None)
        if saved is None:
            return
        self._caption.setText(saved_caption(saved))
        self._mark.show_severity(saved.after)
        self._sentence.setText(saved.sentence)
        told = revised_words(saved)
        self._revised.setText(told)
        self._revised.setVisible(bool(told))
        self.undo_button.show()
        self.box_button.show()

    def show_undone(self, sentence: str) -> None:
        """Say that the report was taken back."""
        self._caption.setText(self.tr("Undone"))
        self._sentence.setText(sentence)
        self._revised.hide()
        self.undo_button.hide()

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        for part in (self._mark, self._caption, self._sentence, self._revised):
            part.apply_theme(theme)
