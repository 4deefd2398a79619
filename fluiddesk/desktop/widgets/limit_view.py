"""The tables of the Rules page: scopes at the left, limits or intervals beside, the foot below."""

from collections.abc import Mapping, Sequence
from typing import Final

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QHeaderView, QStackedWidget, QWidget
from typing_extensions import override

from fluiddesk.desktop.models.limit_rules import BOUND_COLUMNS, LimitModel, ScopeModel
from fluiddesk.desktop.theme import Theme
from fluiddesk.desktop.viewstate.limit_draft import RuleDraft, RuleList
from fluiddesk.desktop.viewstate.limit_reading import limit_details
from fluiddesk.desktop.viewstate.limit_ruler import Ruler, ruler, ruler_over, spread_words
from fluiddesk.desktop.viewstate.limit_rules import LimitColumn, limit_title, scope_label, unit_text
from fluiddesk.desktop.viewstate.limit_versions import (
    interval_details,
    rule_text,
    scope_words,
)
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.limit_derive import DerivePanel
from fluiddesk.desktop.widgets.limit_foot import Leaf, LimitFoot
from fluiddesk.desktop.widgets.limit_groups import GroupPanel
from fluiddesk.desktop.widgets.limit_intervals import IntervalPanel
from fluiddesk.desktop.widgets.limit_layout import fit_limits, headings, split
from fluiddesk.desktop.widgets.limit_preview import PANEL_ROOMY, PANEL_WIDTH, LimitPreview
from fluiddesk.desktop.widgets.limit_ruler import LimitRulerDelegate
from fluiddesk.desktop.widgets.limit_settings import SettingsPanel
from fluiddesk.desktop.widgets.limit_table import RuleTable
from fluiddesk.domain.limits.limit_set import Limit, LimitSet, Scope
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.limit_rules import LimitLine, LimitsShown
from fluiddesk.services.limit_rules.derive_readiness import GroupReadiness
from fluiddesk.services.limit_rules.facts import Derived, Spread

_SCOPES_WIDTH: Final = 212
_SCOPES_NARROW: Final = 160
_ROOMY_FROM: Final = 1300
_FOOT_HEIGHT: Final = 188


class RulesView(QWidget):
    """Shows one limit set and what is chosen of it.

    Attributes:
        limit_set: the set shown, as it is written.

    Signals:
        limit_chosen: the ``Limit`` of the chosen row, or ``None``.
    """

    limit_chosen = Signal(object)

    def __init__(self, catalogue: Catalogue, *, theme: Theme) -> None:
        super().__init__()
        self.scopes = ScopeModel(theme=theme, parent=self)
        self.limits = LimitModel(theme=theme, parent=self)
        self.interval_panel = IntervalPanel(catalogue, theme=theme)
        self.intervals = self.interval_panel.model
        self.scope_table = FactTable(self.scopes, name=self.tr("Scopes"))
        self.limit_table = RuleTable(self.limits, name=self.tr("Limits"), theme=theme)
        self.interval_table = self.interval_panel.table
        self._bands = LimitRulerDelegate(theme, self)
        self.derive_panel = DerivePanel(theme)
        self.groups = GroupPanel(theme)
        self.settings = SettingsPanel(theme)
        self.foot = LimitFoot(catalogue, theme=theme)
        self.details = self.foot.details
        self.preview = LimitPreview(theme)
        self.faces = QStackedWidget()
        self._catalogue = catalogue
        self.limit_set: LimitSet | None = None
        self._box_names: dict[str, str] = {}
        self._draft: RuleDraft | None = None
        self._set_up_tables()
        self._lay_out()
        self.scope_table.row_chosen.connect(self._scope_chosen)
        self.limit_table.row_chosen.connect(self._limit_chosen)
        self.interval_table.row_chosen.connect(self._interval_chosen)
        self.limits.modelReset.connect(self._after_reset)

    def _set_up_tables(self) -> None:
        self.scope_table.setSelectionMode(FactTable.SelectionMode.SingleSelection)
        across = self.scope_table.horizontalHeader()
        across.setStretchLastSection(False)
        across.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        self.scope_table.setColumnWidth(1, 40)
        fit_limits(self.limit_table, is_slim=False)
        self.limit_table.setItemDelegateForColumn(LimitColumn.BANDS, self._bands)
        self.limit_table.make_sortable()

    @override
    def resizeEvent(self, event: QResizeEvent) -> None:
        was_roomy = event.oldSize().width() >= _ROOMY_FROM
        super().resizeEvent(event)
        if was_roomy != (self.width() >= _ROOMY_FROM):
            self._make_room(is_drafting=self.preview.isVisibleTo(self))

    def _lay_out(self) -> None:
        for face in (
            self.limit_table,
            self.interval_panel,
            self.derive_panel,
            self.groups,
            self.settings,
        ):
            self.faces.addWidget(face)
        self._rows = rows = split(Qt.Orientation.Horizontal, self.scope_table, self.faces)
        rows.setSizes([_SCOPES_WIDTH, 10 * _SCOPES_WIDTH])
        rows.setStretchFactor(0, 0)
        rows.setStretchFactor(1, 1)
        left = split(Qt.Orientation.Vertical, rows, self.foot)
        left.setSizes([10 * _FOOT_HEIGHT, _FOOT_HEIGHT])
        self._whole = whole = split(Qt.Orientation.Horizontal, left, self.preview)
        whole.setSizes([10 * PANEL_WIDTH, PANEL_WIDTH])
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(whole)
        self.preview.hide()
        QWidget.setTabOrder(self.scope_table, self.limit_table)
        QWidget.setTabOrder(self.limit_table, self.preview.move_table)

    # --- what is chosen ---------------------------------------------------------------------

    @property
    def line(self) -> LimitLine | None:
        """The limit that is chosen."""
        row = self.limit_table.currentIndex().row()
        return self.limits.line(row) if 0 <= row < self.limits.length() else None

    @property
    def rule_list(self) -> RuleList:
        """Which list of rows is on the page."""
        lists: dict[QWidget | None, RuleList] = {
            self.interval_panel: RuleList.INTERVALS,
            self.settings: RuleList.SETTINGS,
        }
        return lists.get(self.faces.currentWidget(), RuleList.LIMITS)

    @property
    def table(self) -> RuleTable:
        """The table of the list of rows that is on the page."""
        return self.interval_table if self.rule_list is RuleList.INTERVALS else self.limit_table

    @property
    def row_key(self) -> int | None:
        """The key of the row that is chosen in the draft."""
        if self.rule_list is RuleList.SETTINGS:
            return None
        if self.rule_list is RuleList.INTERVALS:
            return self.intervals.key(self.interval_table.currentIndex().row())
        return self.limits.key(self.limit_table.currentIndex().row())

    @property
    def scope(self) -> Scope:
        """The scope of the chosen limit."""
        return Scope() if self.line is None else self.line.limit.scope

    def name_boxes(self, names: Mapping[str, str]) -> None:
        """Call single boxes by their names from now on, by the hex of their identifiers."""
        self._box_names |= names

    # --- showing ----------------------------------------------------------------------------

    def show_set(self, limit_set: LimitSet, facts: LimitsShown, draft: RuleDraft | None) -> None:
        """Show a set, keeping scope, filter, order and the cell with the keyboard where they fit.

        Args:
            limit_set: the set as it is written.
            facts: its limits in words.
            draft: the draft that its rows are typed into.
        """
        self.limit_set, self._draft = limit_set, draft
        self.foot.offer_editor(is_offered=draft is not None)
        is_first = self.limits.state is None
        if self.preview.isVisibleTo(self) != (draft is not None):
            self._make_room(is_drafting=draft is not None)
        column = max(self.limit_table.currentIndex().column(), 0)
        row = self.limit_table.currentIndex().row()
        self.limits.show(facts, draft, box_names=self._box_names)
        self.interval_panel.show_rules(limit_set.intervals, draft)
        self.settings.show_set(limit_set, draft)
        state = self.limits.state
        if state is None:
            return
        if is_first and state.labels:
            self.limits.choose(0)
        self.scopes.show(state.scope_entries())
        self.scope_table.span_headings(headings(self.scopes))
        self.scope_table.choose(self.scopes.row_of(state.chosen))
        if self.line is None:
            self._choose_near(row, column)
        elif self.rule_list is RuleList.LIMITS:
            self._limit_chosen(self.limit_table.currentIndex().row())
        elif self.rule_list is RuleList.INTERVALS:
            self._interval_chosen(self.interval_table.currentIndex().row())

    def focus_table(self) -> None:
        """Lead the keyboard to the list of rows that is on the page."""
        self.table.setFocus()

    def edit_row(self) -> None:
        """Lead the keyboard to what the chosen row holds besides its bounds."""
        if self.rule_list is not RuleList.SETTINGS:
            self.foot.turn_to(Leaf.EDIT)
            self.foot.editor.lead_in()

    def _make_room(self, *, is_drafting: bool) -> None:
        """Show the preview beside a draft alone; the scopes give way to it."""
        self.preview.setVisible(is_drafting)
        is_roomy = self.width() >= _ROOMY_FROM
        width = _SCOPES_NARROW if is_drafting and not is_roomy else _SCOPES_WIDTH
        self._rows.setSizes([width, 10 * _SCOPES_WIDTH])
        panel = PANEL_ROOMY if is_roomy else PANEL_WIDTH
        self._whole.setSizes([self.width() - panel, panel])
        fit_limits(self.limit_table, is_slim=is_drafting and not is_roomy)

    def choose_scope(self, label: str) -> None:
        """Show the limits of one scope by its words in the list."""
        state = self.limits.state
        if state is not None and label in state.labels:
            self.scope_table.choose(self.scopes.row_of(state.labels.index(label)))

    def filter(self, wanted: str) -> None:
        """Show the limits that hold these words."""
        self.limits.filter(wanted)
        if self.limits.state is not None:
            self.scopes.show(self.limits.state.scope_entries())
        self._choose_near(0, 0)

    def lead_to(self, which: RuleList, key: int) -> None:
        """Lead the keyboard to a row of the draft, in whichever scope it stands."""
        if which is RuleList.SETTINGS:
            self.show_face("settings")
            self.settings.lead_to(key)
            return
        if which is RuleList.INTERVALS:
            self.show_face("intervals")
            row = self.intervals.row_of(key)
            if row is None:
                self.interval_panel.clear_filter()
                row = self.intervals.row_of(key)
            if row is not None and row != self.interval_table.currentIndex().row():
                self.interval_table.go_to(row, 1)
            return
        if self.faces.currentWidget() is not self.limit_table:
            self.show_face("limits")
        row = self.limits.row_of(key)
        if row is None:
            self._show_scope_of(key)
            row = self.limits.row_of(key)
        if row is not None and row != self.limit_table.currentIndex().row():
            self.limit_table.setCurrentIndex(self.limits.index(row, BOUND_COLUMNS[0]))

    def _show_scope_of(self, key: int) -> None:
        state = self.limits.state
        if state is None:
            return
        lines = (line for line in state.facts.lines if self.limits.key_of(line) == key)
        label = next((scope_label(line, self._box_names) for line in lines), None)
        if label is not None:
            self.choose_scope(label)

    def show_spread(self, limit: Limit, spread: Spread) -> None:
        """Draw the fleet's own figures behind the bands of the chosen limit."""
        line = self.line
        if line is not None and line.limit == limit:
            self.details.show_ruler(ruler_over(line, spread), spread_words(spread))

    def show_derived(self, derived: Derived, *, group: str, can_take: bool) -> None:
        """Show what was derived in place of the limits."""
        self.faces.setCurrentWidget(self.derive_panel)
        self.scope_table.hide()
        self.derive_panel.show_derived(derived, group=group, can_take=can_take)

    def show_groups(self, groups: Sequence[GroupReadiness]) -> None:
        """Show the groups that limits can be derived for, in place of the limits."""
        self.faces.setCurrentWidget(self.groups)
        self.scope_table.hide()
        self.groups.show_groups(groups)

    def show_face(self, face: str) -> None:
        """Show the limits, the intervals and windows, or the settings."""
        # The settings need the room, and have no row to be told of.
        self.foot.setVisible(face != "settings")
        if face == "settings":
            self.scope_table.hide()
            self.faces.setCurrentWidget(self.settings)
            self.settings.lead_to(0)
            return
        is_intervals = face == "intervals"
        table = self.interval_table if is_intervals else self.limit_table
        self.faces.setCurrentWidget(self.interval_panel if is_intervals else self.limit_table)
        self.scope_table.setVisible(face == "limits")
        table.setFocus()
        if face == "intervals":
            self.interval_table.choose(0)
            self._interval_chosen(self.interval_table.currentIndex().row())
        else:
            self._limit_chosen(self.limit_table.currentIndex().row())

    def _scope_chosen(self, row: int) -> None:
        scope = self.scopes.scope(row) if row >= 0 else None
        state = self.limits.state
        if scope is None or state is None or scope == state.chosen:
            return
        self.limits.choose(scope)
        self._choose_near(0, 0)

    def _choose_near(self, row: int, column: int) -> None:
        """Choose the limit at or after a row, so that the details are never empty without need."""
        count = self.limits.length()
        order = [*range(max(row, 0), count), *range(min(row, count) - 1, -1, -1)]
        found = next((one for one in order if self.limits.line(one) is not None), None)
        if found is None:
            self.details.show_nothing(self.tr("No limit in this scope holds these words."))
            self.limit_chosen.emit(None)
        else:
            self.limit_table.setCurrentIndex(self.limits.index(found, column))
            self.limit_table.selectRow(found)
            self.limit_table.setCurrentIndex(self.limits.index(found, column))
            if row <= 1:
                self.limit_table.scrollToTop()

    def _limit_chosen(self, row: int) -> None:
        line = self.limits.line(row) if 0 <= row < self.limits.length() else None
        if line is None:
            return
        limits = () if self.limit_set is None else self.limit_set.limits
        self.details.show_limit(
            limit_title(line),
            unit_text(line.unit),
            limit_details(line, limits, self._box_names),
            ruler(line),
        )
        key = self.limits.key(row)
        own = None if self._draft is None or key is None else self._draft.limits.row(key)
        self.foot.editor.show_row(own, title=limit_title(line), unit=unit_text(line.unit))
        self.limit_chosen.emit(line.limit)

    def _interval_chosen(self, row: int) -> None:
        if self.rule_list is RuleList.INTERVALS and 0 <= row < self.intervals.length():
            rule = self.intervals.rows[row]
            title = f"{scope_words(rule.scope, self._catalogue)}: {rule_text(rule)}"
            self.details.show_limit(title, "", interval_details(rule), Ruler((), ()))
            key = self.intervals.key(row)
            own = None if self._draft is None or key is None else self._draft.intervals.row(key)
            self.foot.editor.show_row(own, title=title)

    def _after_reset(self) -> None:
        self.limit_table.span_headings(headings(self.limits))
        has_needs = self.limits.state is not None and self.limits.state.has_needs
        self.limit_table.want_column(LimitColumn.NEEDS, is_wanted=has_needs)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._bands.theme = theme
        for part in (
            self.foot, self.preview, self.derive_panel, self.groups, self.scopes, self.limits,
            self.limit_table, self.interval_panel, self.settings,
        ):  # fmt: skip
            part.apply_theme(theme)
