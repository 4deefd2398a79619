"""Register files under preview: what they would do, what is wrong, and the decision."""

from PySide6.QtCore import QAbstractItemModel
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.register_words import counted
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.services.register_files.facts import RegisterPreview


class RegisterFilesPanel(QWidget):
    """Shows what importing files would do before anything is changed."""

    def __init__(
        self,
        files: QAbstractItemModel,
        problems: QAbstractItemModel,
        *,
        theme: Theme,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.files = FactTable(files, name=self.tr("Files"))
        self.files.set_widths({1: 140, 2: 72, 3: 72, 4: 84, 5: 84})
        self.files.share_room(0)
        self.files.grow_with_rows()
        self.caption = QuietLabel("caption", theme)
        self.problems = FactTable(problems, name=self.tr("Problems of the files"))
        self.problems.set_widths({0: 136, 1: 48, 2: 116, 3: 116})
        self.problems.share_room(4, 5)
        self.told = QuietLabel("small", theme)
        self.aside_button = QPushButton(self.tr("Put the files aside"))
        self.import_button = QPushButton()
        self.import_button.setDefault(True)
        buttons = QHBoxLayout()
        buttons.setSpacing(GAP)
        buttons.addStretch(1)
        buttons.addWidget(self.aside_button)
        buttons.addWidget(self.import_button)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(STEP)
        column.addLayout(buttons)
        column.addWidget(self.files)
        column.addSpacing(GAP)
        column.addWidget(self.caption)
        column.addWidget(self.problems, 1)
        column.addWidget(self.told)
        column.addStretch(0)
        self.problems.row_chosen.connect(self._tell)

    def show_preview(self, preview: RegisterPreview) -> None:
        """Say what can be done with the files."""
        count = preview.problem_count
        self.caption.setText(
            counted(count, "problem").capitalize() if count else self.tr("No problem found")
        )
        self.problems.setVisible(count > 0)
        written = sum(one.added + one.changed for one in preview.files)
        self.import_button.setText(self.tr("Import {0}").format(counted(written, "row")))
        self.import_button.setEnabled(preview.can_import and preview.will_change)
        self.told.setText("")
        if count:
            self.problems.choose(0)

    def _tell(self, row: int) -> None:
        """Write a problem out in full: the table may have to shorten it."""
        model = self.problems.model()
        texts = (model.index(row, column).data() for column in (4, 5)) if row >= 0 else ()
        self.told.setText(" ".join(str(one) for one in texts))

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        for part in (self.caption, self.told):
            part.apply_theme(theme)
