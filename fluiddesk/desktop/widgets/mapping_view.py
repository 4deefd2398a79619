"""Describes a laboratory's file nobody described yet, and keeps the description as a layout."""

from pathlib import Path
from typing import Final

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLineEdit,
    QPushButton,
    QSplitter,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.models.file_mapping import MappingColumn, MappingModel, RawRowsModel
from fluiddesk.desktop.theme import GAP, MARGIN, STEP, Theme
from fluiddesk.desktop.viewstate.file_mapping import MappingState, name_for
from fluiddesk.desktop.viewstate.mapping_calls import MappingCalls
from fluiddesk.desktop.widgets.column_panel import ColumnPanel
from fluiddesk.desktop.widgets.drop_area import DropArea
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.file_asking import LastFolders, ask_lab_file
from fluiddesk.desktop.widgets.inline_notice import InlineNotice
from fluiddesk.desktop.widgets.page_work import PageWork
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.desktop.widgets.reading_choices import ReadingBar
from fluiddesk.desktop.widgets.work_strip import WorkStrip
from fluiddesk.domain.errors import OperatorError
from fluiddesk.services.lab_intake.mapping import FileGuess, ReadingChoices
from fluiddesk.wiring import Clock

_RAW_ROWS: Final = 8
_NAME_WIDTH: Final = 116
_RAW_WIDTH: Final = 148


class MappingView(QWidget):
    """Columns to analytes and units, with suggestions; nothing is taken in here.

    Signals:
        saved: path of the file and the name of the layout it is read by from now on.
    """

    saved = Signal(object, str)

    def __init__(
        self,
        calls: MappingCalls,
        *,
        clock: Clock,
        theme: Theme,
        background: Background,
        last_folders: LastFolders | None = None,
    ) -> None:
        super().__init__()
        self.calls = calls
        self._clock, self._background = clock, background
        self._last_folders = last_folders or LastFolders(None)
        self._path: Path | None = None
        self.head = QuietLabel("sentence", theme)
        self.columns = MappingModel(theme=theme, parent=self)
        self.raw = RawRowsModel(theme=theme, parent=self)
        self.reading = ReadingBar(theme)
        self.table = FactTable(self.columns, name=self.tr("Columns of the file"))
        self.raw_table = FactTable(self.raw, name=self.tr("First rows of the file"))
        self.panel = ColumnPanel(theme)
        self.drop_area = DropArea(
            title=self.tr("Choose a file of a laboratory whose form is not known yet"),
            note=self.tr("CSV or XLSX. Its columns are recognised, and you correct what is wrong."),
            action=self.tr("Choose a file…"),
            theme=theme,
        )
        self._notes = QuietLabel("faint", theme)
        self._notes.setWordWrap(True)
        self._reason = QuietLabel("small", theme)
        self.name = QLineEdit()
        self.laboratory = QLineEdit()
        self.density = QLineEdit()
        self.save_button = QPushButton(self.tr("Save the layout, read the file"))
        self.save_button.setDefault(True)
        self.aside_button = QPushButton(self.tr("Another file…"))
        self._labels: list[QuietLabel] = []
        self.notice = InlineNotice(theme)
        self._strip = WorkStrip()
        self._work = PageWork(background, strip=self._strip, notice=self.notice, parent=self)
        self._lay_out(theme)
        self._connect()
        self.show_found(None)

    def _lay_out(self, theme: Theme) -> None:
        self.table.set_widths(
            {
                MappingColumn.HEADING: 168,
                MappingColumn.CARRIES: 196,
                MappingColumn.UNIT: 80,
                MappingColumn.SURE: 64,
            }
        )
        self.table.share_room(MappingColumn.EXAMPLES)
        self.raw_table.horizontalHeader().setStretchLastSection(False)
        split = QSplitter(Qt.Orientation.Vertical)
        split.setHandleWidth(1)
        split.setChildrenCollapsible(False)
        split.addWidget(self.table)
        split.addWidget(self.raw_table)
        split.setStretchFactor(0, 3)
        split.setStretchFactor(1, 2)
        middle = QHBoxLayout()
        middle.setSpacing(MARGIN)
        middle.addWidget(split, 1)
        middle.addWidget(self.panel)
        foot = self._foot(theme)
        whole = QWidget()
        column = QVBoxLayout(whole)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        column.addWidget(self.reading)
        column.addWidget(self._notes)
        column.addLayout(middle, 1)
        column.addWidget(self._reason)
        column.addLayout(foot)
        self._idle = QWidget()
        idle = QVBoxLayout(self._idle)
        idle.setContentsMargins(0, 0, 0, 0)
        idle.addWidget(self.drop_area)
        idle.addStretch(1)
        self._stack = QStackedWidget()
        self._stack.addWidget(self._idle)
        self._stack.addWidget(whole)
        page = QVBoxLayout(self)
        page.setContentsMargins(0, 0, 0, 0)
        page.setSpacing(STEP)
        page.addWidget(self._strip)
        page.addWidget(self.notice)
        page.addWidget(self._stack, 1)

    def _foot(self, theme: Theme) -> QHBoxLayout:
        """Name, laboratory and density, and the deeds."""
        foot = QHBoxLayout()
        foot.setSpacing(GAP)
        for part, words in (
            (self.name, self.tr("Name")),
            (self.laboratory, self.tr("Laboratory")),
            (self.density, self.tr("Density, kg/L")),
        ):
            label = QuietLabel("small", theme, words)
            label.setWordWrap(False)
            part.setAccessibleName(words)
            part.setFixedWidth(_NAME_WIDTH if part is not self.density else 64)
            self._labels.append(label)
            foot.addWidget(label)
            foot.addWidget(part)
        foot.addStretch(1)
        foot.addWidget(self.aside_button)
        foot.addWidget(self.save_button)
        return foot

    def _connect(self) -> None:
        self.drop_area.choose_pressed.connect(self.choose_file)
        self.aside_button.clicked.connect(self.choose_file)
        self.reading.changed.connect(self._read_again)
        self.reading.days_chosen.connect(self._check)
        self.table.row_chosen.connect(self.panel.show_row)
        self.table.row_opened.connect(lambda _: self.panel.carries.setFocus())
        self.panel.chosen.connect(self._mapping_changed)
        self.panel.carried.connect(self.table.setFocus)
        self.save_button.clicked.connect(self.save)
        for part in (self.name, self.laboratory):
            part.textEdited.connect(lambda _: self._check())
        self.density.editingFinished.connect(self._density_typed)

    @property
    def state(self) -> MappingState | None:
        """The mapping at hand."""
        return self.columns.state

    @property
    def reason(self) -> str:
        """Why the layout cannot be saved yet, as shown."""
        return self._reason.text()

    @property
    def is_busy(self) -> bool:
        """Whether a file is being looked at."""
        return self._work.is_under_way

    def choose_file(self) -> None:
        """Let the person choose a file."""
        ask_lab_file(self, then=self.describe, folders=self._last_folders)

    def describe(self, path: Path | str) -> None:
        """Look at a file and suggest what its columns carry."""
        self._path = Path(path)
        self.reading.forget()
        self.columns.show_state(None)
        self.name.setText(name_for(self._path))
        self.laboratory.setText(self.name.text())
        self._look(self._path, ReadingChoices())

    def _read_again(self) -> None:
        if self._path is not None:
            self._look(self._path, self.reading.choices())

    def _look(self, path: Path, choices: ReadingChoices) -> None:
        calls = self.calls
        self._work.start(
            lambda _: calls.guess(path, choices),
            done=self.show_found,
            refusal=self.tr("{0} cannot be read so").format(path.name),
            label=self.tr("Looking at {0}").format(path.name),
        )

    def show_found(self, found: FileGuess | None) -> None:
        """Show what the columns of a file seem to carry."""
        before = self.state
        if found is None:
            self.columns.show_state(None)
            self.panel.show_state(None)
            self.head.setText(self.tr("Describe a file once; from then on its form is known."))
            self._stack.setCurrentIndex(0)
            return
        state = MappingState(found)
        if before is not None:
            state.take_over(before)
        self.columns.show_state(state)
        self.table.span_headings([n for n, row in enumerate(state.rows) if row.guess is None])
        self.panel.show_state(state)
        self.reading.show_form(is_long=found.guess.is_long_form)
        self.reading.show_look(found.look)
        self._show_raw(found)
        notes = "  ".join(found.guess.notes)
        self._notes.setText(notes)
        self._notes.setVisible(bool(notes))
        self._stack.setCurrentIndex(1)
        self._choose_first(state)
        self._mapping_changed()

    def _choose_first(self, state: MappingState) -> None:
        """Begin where a person is needed: at the first column nobody recognised."""
        plain = [at for at, row in enumerate(state.rows) if row.guess is not None]
        open_ones = [at for at in plain if state.column(at).kind == "ignored"]
        self.table.choose((open_ones or plain)[0])
        self.panel.show_row((open_ones or plain)[0])
        self.table.setFocus()

    def _show_raw(self, found: FileGuess) -> None:
        rows = [row.printed for row in found.look.rows[:_RAW_ROWS]]
        self.raw.show_under(found.look.header.printed, rows)
        self.raw_table.resizeColumnsToContents()
        for column in range(self.raw.columnCount()):
            width = min(self.raw_table.columnWidth(column) + MARGIN, _RAW_WIDTH)
            self.raw_table.setColumnWidth(column, width)

    def _density_typed(self) -> None:
        state = self.state
        if state is None:
            return
        text = self.density.text().strip().replace(",", ".")
        try:
            state.set_density(float(text) if text else None)
        except ValueError:
            self._reason.setText(self.tr("The density is a number, such as 0.87."))
            return
        self._mapping_changed()

    def _mapping_changed(self) -> None:
        state = self.state
        if state is None or self._path is None:
            return
        self.columns.show_again()
        self.reading.show_days(state.date_forms)
        self.head.setText(f"{self._path.name}: {state.sentence}")
        self.density.setVisible(state.needs_density)
        self._labels[-1].setVisible(state.needs_density)
        self._check()

    def _date_forms(self, state: MappingState) -> tuple[str, ...]:
        return self.reading.date_forms or state.date_forms

    def _check(self) -> None:
        """Try the layout on another thread: what keeps it from being saved is told at once."""
        state, calls = self.state, self.calls
        if state is None:
            return
        found, mapped, forms = state.found, state.mapped, self._date_forms(state)
        name, laboratory = self.name.text().strip(), self.laboratory.text().strip()

        def failed(error: Exception) -> None:
            if isinstance(error, OperatorError):
                self._show_reason(str(error))
            else:
                self._background.failed.emit(self.tr("Checking the layout"), error)

        self._background.run(
            lambda _: calls.check(
                found, mapped, name=name, laboratory=laboratory or name, date_forms=forms
            ),
            done=lambda _: self._show_reason(""),
            failed=failed,
            label=self.tr("Checking the layout"),
            slot="check of a layout",
        )

    def _show_reason(self, reason: str) -> None:
        self._reason.setText(reason)
        self._reason.setVisible(bool(reason))
        self.save_button.setEnabled(not reason)

    def save(self) -> None:
        """Keep the mapping as a layout, and hand the file on to be read by it."""
        state, path, calls = self.state, self._path, self.calls
        if state is None or path is None:
            return
        found, mapped, moment = state.found, state.mapped, self._clock.moment()
        name, forms = self.name.text().strip(), self._date_forms(state)
        laboratory = self.laboratory.text().strip() or name
        self._work.start(
            lambda _: calls.save(
                found,
                mapped,
                name=name,
                laboratory=laboratory,
                date_forms=forms,
                title=laboratory,
                moment=moment,
            ),
            done=lambda made: self.saved.emit(path, made),
            refusal=self.tr("The layout was not saved"),
            label=self.tr("Saving the layout"),
            saves=True,
        )

    def focus_first(self) -> None:
        """Give the keyboard to where work begins."""
        if self.state is None:
            self.drop_area.button.setFocus()
        else:
            self.table.setFocus()

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        for model in (self.columns, self.raw):
            model.apply_theme(theme)
        for part in (self.head, self.reading, self.panel, self.drop_area, self.notice):
            part.apply_theme(theme)
        for label in (self._notes, self._reason, *self._labels):
            label.apply_theme(theme)
