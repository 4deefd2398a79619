"""The three faces of the Results page: nothing open, a file under preview, a file taken in."""

from collections.abc import Callable

from PySide6.QtCore import QAbstractItemModel, Qt
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QSplitter, QVBoxLayout, QWidget

from fluiddesk.desktop.theme import GAP, MARGIN, STEP, Theme
from fluiddesk.desktop.viewstate.lab_intake import RowColumn, RowFilter, counted
from fluiddesk.desktop.widgets.drop_area import DropArea
from fluiddesk.desktop.widgets.fact_delegate import CELL_PADDING
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.filter_chips import FilterChips
from fluiddesk.desktop.widgets.inline_notice import InlineNotice
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.desktop.widgets.severity_move import MOVE_WIDTH, SeverityMoveDelegate


class IdlePanel(QWidget):
    """A place to drop a file on, and the files taken in before."""

    def __init__(self, past: QAbstractItemModel, *, theme: Theme) -> None:
        super().__init__()
        self.drop_area = DropArea(
            title=self.tr("Drop a laboratory's file here, or choose one"),
            note=self.tr("CSV or XLSX. You see what it would do before anything is changed."),
            action=self.tr("Choose a file…"),
            theme=theme,
        )
        self._caption = QuietLabel("caption", theme, self.tr("Files taken in"))
        self._none = QuietLabel(
            "small", theme, self.tr("No file was taken in on this database yet.")
        )
        self.table = FactTable(past, name=self.tr("Files taken in"))
        self.table.set_widths({0: 240, 1: 150, 2: 140, 3: 160, 4: 72, 5: 64})
        self.table.grow_with_rows()
        self.undo_button = QPushButton(self.tr("Undo this intake"))
        self.undo_button.setEnabled(False)
        column = _column(self)
        column.addWidget(self.drop_area)
        column.addSpacing(GAP)
        column.addWidget(self._caption)
        column.addWidget(self._none)
        column.addWidget(self.table)
        column.addSpacing(STEP)
        column.addLayout(_buttons(self.undo_button))
        column.addStretch(1)

    def show_count(self, count: int) -> None:
        """Show the list, or that there is none yet."""
        self.table.setVisible(count > 0)
        self.undo_button.setVisible(count > 0)
        self._none.setVisible(count == 0)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        for part in (self.drop_area, self._caption, self._none):
            part.apply_theme(theme)


class ProblemPanel(QWidget):
    """What is wrong in a file, under a caption that counts it."""

    def __init__(self, problems: QAbstractItemModel, *, theme: Theme) -> None:
        super().__init__()
        self.caption = QuietLabel("caption", theme)
        self.table = FactTable(problems, name=self.tr("Problems of the file"))
        self.table.set_widths({0: 60, 1: 92, 2: 104})
        self.table.share_room(3, 4)
        column = _column(self)
        column.addWidget(self.caption)
        column.addWidget(self.table, 1)

    def show_count(self, heading: str, count: int) -> None:
        """Show the problems, or that there are none."""
        self.caption.setText(heading)
        self.table.setVisible(count > 0)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self.caption.apply_theme(theme)


class PreviewPanel(QWidget):
    """The rows of a file with their fate, what is wrong with it, and the decision."""

    def __init__(
        self,
        rows: QAbstractItemModel,
        problems: QAbstractItemModel,
        *,
        theme: Theme,
    ) -> None:
        super().__init__()
        chips = (
            (RowFilter.ALL.value, self.tr("All")),
            (RowFilter.MOVES.value, self.tr("Will move")),
            (RowFilter.HELD.value, self.tr("Held")),
            (RowFilter.REVISIONS.value, self.tr("Revisions")),
            (RowFilter.UNCHANGED.value, self.tr("Unchanged")),
        )
        self.chips = FilterChips(chips, name=self.tr("Rows shown"))
        self.aside_button = QPushButton(self.tr("Put the file aside"))
        self.take_in_button = QPushButton()
        self.take_in_button.setDefault(True)
        self.reason = QuietLabel("small", theme)
        self.reason.setWordWrap(False)
        self.table = FactTable(rows, name=self.tr("Rows of the file"))
        self.table.set_widths({0: 60, 1: 104, 2: 80, 3: 160, 4: 86, 5: MOVE_WIDTH})
        self.table.fit_columns(stretch=6, least=220, optional={7: 92, 8: 96, 9: 60}, roomy={3: 204})
        self.table.make_sortable(column=0)
        self._moves = SeverityMoveDelegate(theme, self)
        self.table.setItemDelegateForColumn(RowColumn.CONDITION, self._moves)
        self.chosen_row = QuietLabel("small", theme)
        self.chosen_row.setContentsMargins(CELL_PADDING, 0, 0, STEP)
        self.problems = ProblemPanel(problems, theme=theme)
        self._split = _splitter(_stacked(self.table, self.chosen_row), self.problems)
        row = QHBoxLayout()
        row.setSpacing(GAP)
        row.addWidget(self.chips)
        row.addStretch()
        row.addWidget(self.aside_button)
        row.addWidget(self.take_in_button)
        column = _column(self)
        column.addLayout(row)
        column.addWidget(self.reason, alignment=Qt.AlignmentFlag.AlignRight)
        column.addWidget(self._split, 1)

    def show_problems(self, heading: str, count: int) -> None:
        """Give the problems as much room as they need, up to a third of the panel."""
        self.problems.show_count(heading, count)
        height = max(400, self._split.height())
        wanted = 64 + self.problems.table.verticalHeader().defaultSectionSize() * count
        below = 28 if count == 0 else min(wanted, height // 3)
        self._split.setSizes([height - below, below])

    def show_reason(self, reason: str) -> None:
        """Say why nothing can be taken in."""
        self.reason.setText(reason)
        self.reason.setVisible(bool(reason))
        self.take_in_button.setEnabled(not reason)
        self.take_in_button.setToolTip(reason)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._moves.theme = theme
        for part in (self.reason, self.chosen_row, self.problems):
            part.apply_theme(theme)


class ResultPanel(QWidget):
    """What taking in did: which boxes moved, and which rows stay held and why."""

    def __init__(
        self,
        moved: QAbstractItemModel,
        problems: QAbstractItemModel,
        *,
        condition_column: int,
        theme: Theme,
    ) -> None:
        super().__init__()
        self.again_button = QPushButton(self.tr("Open another file"))
        self.undo_button = QPushButton(self.tr("Undo this intake"))
        self._caption = QuietLabel("caption", theme)
        self.table = FactTable(moved, name=self.tr("Boxes that changed condition"))
        self.table.set_widths({0: 190, 1: 84, 2: 190, 3: MOVE_WIDTH})
        self.table.grow_with_rows()
        self._moves = SeverityMoveDelegate(theme, self)
        self.table.setItemDelegateForColumn(condition_column, self._moves)
        self.problems = ProblemPanel(problems, theme=theme)
        column = _column(self)
        column.addLayout(_buttons(self.again_button, self.undo_button))
        column.addSpacing(GAP)
        column.addWidget(self._caption)
        column.addWidget(self.table)
        column.addSpacing(MARGIN)
        self.problems.table.grow_with_rows()
        column.addWidget(self.problems)
        column.addStretch(1)

    def show_moved(self, count: int) -> None:
        """Caption the boxes that moved."""
        none = self.tr("No box changed condition")
        self._caption.setText(self.tr("What moved, the worst first") if count else none)
        self.table.setVisible(count > 0)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._moves.theme = theme
        for part in (self._caption, self.problems):
            part.apply_theme(theme)


def _column(owner: QWidget) -> QVBoxLayout:
    column = QVBoxLayout(owner)
    column.setContentsMargins(0, 0, 0, 0)
    column.setSpacing(STEP)
    return column


def _buttons(*buttons: QPushButton) -> QHBoxLayout:
    row = QHBoxLayout()
    row.setSpacing(GAP)
    for button in buttons:
        row.addWidget(button)
    row.addStretch()
    return row


def _stacked(*parts: QWidget) -> QWidget:
    owner = QWidget()
    column = _column(owner)
    for part in parts:
        column.addWidget(part, 1 if isinstance(part, FactTable) else 0)
    return owner


def _splitter(above: QWidget, below: QWidget) -> QSplitter:
    made = QSplitter(Qt.Orientation.Vertical)
    made.setHandleWidth(1)
    made.setChildrenCollapsible(False)
    made.addWidget(above)
    made.addWidget(below)
    made.setStretchFactor(0, 1)
    made.setStretchFactor(1, 0)
    below.setContentsMargins(0, GAP, 0, 0)
    return made


def ask_undo(
    notice: InlineNotice, *, file_name: str, taken_in: int, then: Callable[[], None]
) -> None:
    """Ask on the page itself whether an intake is to be undone."""
    results = counted(taken_in, notice.tr("result"), notice.tr("results"))
    told = notice.tr(
        "Its {0} will be superseded by what stood before, and the boxes assessed anew. "
        "Nothing is deleted; the file can be taken in again."
    ).format(results)
    undo, keep = notice.tr("Undo {0}").format(results), notice.tr("Keep them")
    if not taken_in:
        told = notice.tr("Its rows wait no more. The file can be taken in again.")
        undo, keep = notice.tr("Undo the intake"), notice.tr("Keep it")
    notice.say(
        notice.tr("Undo the intake of {0}?").format(file_name),
        told,
        [(undo, then), (keep, notice.clear)],
    )
