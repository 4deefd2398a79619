"""The Rules page: the limits in force by scope, each with its source and who set it."""

from collections.abc import Mapping

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import (
    QHBoxLayout,
    QHeaderView,
    QLineEdit,
    QSplitter,
    QVBoxLayout,
    QWidget,
)
from typing_extensions import override

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.models.limit_rules import LimitModel, ScopeModel
from fluiddesk.desktop.theme import GAP, MARGIN, STEP, Theme
from fluiddesk.desktop.viewstate.limit_ruler import ruler
from fluiddesk.desktop.viewstate.limit_rules import (
    CAUTION,
    LimitColumn,
    limit_details,
    limit_title,
    set_line,
    unit_text,
)
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.inline_notice import InlineNotice
from fluiddesk.desktop.widgets.limit_details import LimitDetails
from fluiddesk.desktop.widgets.limit_ruler import BANDS_WIDTH, LimitRulerDelegate
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.domain.errors import OperatorError
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.limit_rules import LimitsShown, limits_shown
from fluiddesk.services.workplace import Workplace
from fluiddesk.wiring import Clock

_WIDTHS: Mapping[int, int] = {
    LimitColumn.ANALYTE: 200,
    LimitColumn.LOOKS_AT: 142,
    LimitColumn.WORSE: 48,
    LimitColumn.WATCH: 60,
    LimitColumn.ACT: 60,
    LimitColumn.URGENT: 62,
    LimitColumn.UNIT: 78,
}
_OPTIONAL: Mapping[int, int] = {
    LimitColumn.SYMBOL: 60,
    LimitColumn.SET_BY: 88,
    LimitColumn.NEEDS: 204,
    LimitColumn.BANDS: BANDS_WIDTH,
}
"""Columns shown where there is room, the most wanted first; the details tell them all."""
_ROOMY: Mapping[int, int] = {LimitColumn.UNIT: 116, LimitColumn.ANALYTE: 232}
_SOURCE_LEAST = 176
_SCOPES_WIDTH = 216


class LimitRulesScreen(QWidget):
    """Shows the limit set in force."""

    def __init__(
        self,
        place: Workplace,
        *,
        clock: Clock,
        theme: Theme,
        background: Background,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.title = self.tr("Rules")
        self._place = place
        self._clock = clock
        self._background = background
        self._scopes = ScopeModel(theme=theme, parent=self)
        self._limits = LimitModel(theme=theme, parent=self)
        self._make_parts(theme)
        self._lay_out()
        self._connect()

    def _make_parts(self, theme: Theme) -> None:
        self._sentence = QuietLabel("sentence", theme)
        self._about = QuietLabel("small", theme)
        self._notice = InlineNotice(theme)
        self._caution = QuietLabel("small", theme, CAUTION)
        self.scope_table = FactTable(self._scopes, name=self.tr("Scopes"))
        self.scope_table.setSelectionMode(FactTable.SelectionMode.SingleSelection)
        across = self.scope_table.horizontalHeader()
        across.setStretchLastSection(False)
        across.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        self.scope_table.setColumnWidth(1, 40)
        self.limit_table = FactTable(self._limits, name=self.tr("Limits in force"))
        self.limit_table.set_widths(_WIDTHS)
        self.limit_table.fit_columns(
            stretch=LimitColumn.SOURCE, least=_SOURCE_LEAST, optional=_OPTIONAL, roomy=_ROOMY
        )
        self._bands = LimitRulerDelegate(theme, self)
        self.limit_table.setItemDelegateForColumn(LimitColumn.BANDS, self._bands)
        self.limit_table.make_sortable()
        self.details = LimitDetails(theme)
        self.filter_box = QLineEdit()
        self.filter_box.setPlaceholderText(self.tr("Filter by analyte, source or note"))
        self.filter_box.setAccessibleName(self.tr("Filter the limits"))
        self.filter_box.setClearButtonEnabled(True)
        self.filter_box.setFixedWidth(280)

    def _lay_out(self) -> None:
        top = QHBoxLayout()
        top.setSpacing(GAP)
        top.addWidget(self._about, 1)
        top.addWidget(self.filter_box)
        right = QSplitter(Qt.Orientation.Vertical)
        right.addWidget(self.limit_table)
        right.addWidget(self.details)
        right.setStretchFactor(0, 1)
        split = QSplitter(Qt.Orientation.Horizontal)
        split.addWidget(self.scope_table)
        split.addWidget(right)
        split.setStretchFactor(1, 1)
        split.setSizes([_SCOPES_WIDTH, 10 * _SCOPES_WIDTH])
        for one in (right, split):
            one.setHandleWidth(1)
            one.setChildrenCollapsible(False)
        column = QVBoxLayout(self)
        column.setContentsMargins(MARGIN, MARGIN, MARGIN, GAP + STEP)
        column.setSpacing(GAP)
        column.addWidget(self._sentence)
        column.addLayout(top)
        column.addWidget(self._notice)
        column.addSpacing(STEP)
        column.addWidget(split, 1)
        column.addWidget(self._caution)

        QWidget.setTabOrder(self.scope_table, self.limit_table)
        QWidget.setTabOrder(self.limit_table, self.filter_box)

    def _connect(self) -> None:
        self.scope_table.row_chosen.connect(self._scope_chosen)
        self.limit_table.row_chosen.connect(self._limit_chosen)
        self.filter_box.textChanged.connect(self._filter)
        self._limits.modelReset.connect(self._after_reset)

    @property
    def sentence(self) -> str:
        """The page's sentence as shown."""
        return self._sentence.text()

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._bands.theme = theme
        for part in (
            self._sentence,
            self._about,
            self._notice,
            self._caution,
            self.details,
            self._scopes,
            self._limits,
        ):
            part.apply_theme(theme)

    def refresh(self) -> None:
        """Read the limit set in force in the background."""
        today = self._clock.today()
        label = self.tr("Reading the limits in force")
        self._background.run(
            lambda _: limits_shown(self._place, today=today),
            done=self.show_facts,
            failed=lambda error: self._show_refusal(label, error),
            label=label,
            slot="limit rules",
        )

    def show_changes(self, changes: Changes) -> None:
        """Read anew when limits changed."""
        if Subject.LIMITS in changes.subjects:
            self.refresh()

    def show_facts(self, facts: LimitsShown) -> None:
        """Show a limit set, keeping scope, filter and order."""
        self._notice.clear()
        is_first = self._limits.state is None
        self._sentence.setText(facts.sentence)
        self._about.setText(set_line(facts))
        self._limits.show(facts)
        state = self._limits.state
        if state is None:
            return
        if is_first and state.labels:
            state.choose(0)
            self._limits.choose(0)
        self._scopes.show(state.scope_entries())
        self.scope_table.span_headings(self._headings(self._scopes))
        self.scope_table.choose(self._scopes.row_of(state.chosen))
        self._choose_first()

    def choose_scope(self, label: str) -> None:
        """Show the limits of one scope by its words in the list."""
        state = self._limits.state
        if state is not None and label in state.labels:
            self.scope_table.choose(self._scopes.row_of(state.labels.index(label)))

    def focus_filter(self) -> None:
        """Lead the keyboard to the filter."""
        self.filter_box.setFocus()
        self.filter_box.selectAll()

    def _show_refusal(self, label: str, error: Exception) -> None:
        if isinstance(error, OperatorError):
            self._notice.say(self.tr("No limits to show"), str(error))
        else:
            self._background.failed.emit(label, error)

    def _scope_chosen(self, row: int) -> None:
        scope = self._scopes.scope(row) if row >= 0 else None
        state = self._limits.state
        if scope is None or state is None or scope == state.chosen:
            return
        self._limits.choose(scope)
        self._choose_first()

    def _filter(self, wanted: str) -> None:
        self._limits.filter(wanted)
        if self._limits.state is not None:
            self._scopes.show(self._limits.state.scope_entries())
        self._choose_first()

    def _choose_first(self) -> None:
        """Choose the first limit shown, so that the details are never empty without need."""
        rows = range(self._limits.length())
        first = next((row for row in rows if self._limits.line(row) is not None), None)
        if first is None:
            self.details.show_nothing(self.tr("No limit in this scope holds these words."))
        else:
            self.limit_table.choose(first)
            self.limit_table.scrollToTop()

    def _limit_chosen(self, row: int) -> None:
        line = self._limits.line(row) if row >= 0 else None
        if line is not None:
            self.details.show_limit(
                limit_title(line), unit_text(line.unit), limit_details(line), ruler(line)
            )

    def _after_reset(self) -> None:
        self.limit_table.span_headings(self._headings(self._limits))
        has_needs = self._limits.state is not None and self._limits.state.has_needs
        self.limit_table.want_column(LimitColumn.NEEDS, is_wanted=has_needs)

    def _headings(self, model: ScopeModel | LimitModel) -> list[int]:
        return [row for row in range(model.length()) if model.is_heading(row)]

    @override
    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.matches(QKeySequence.StandardKey.Refresh):
            self.refresh()
        elif event.matches(QKeySequence.StandardKey.Find):
            self.focus_filter()
        else:
            super().keyPressEvent(event)
