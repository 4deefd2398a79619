"""The sections of the Sampling page and what their buttons do, put together."""

from PySide6.QtWidgets import QWidget

from fluiddesk.desktop.models.sampling_tables import SamplingTables
from fluiddesk.desktop.theme import Theme
from fluiddesk.desktop.viewstate.custody_calls import CustodyCalls
from fluiddesk.desktop.viewstate.sampling_calls import SamplingCalls
from fluiddesk.desktop.widgets.bottles_view import BottlesView
from fluiddesk.desktop.widgets.box_acts import BoxActs
from fluiddesk.desktop.widgets.chance_view import ChanceView
from fluiddesk.desktop.widgets.compliance_view import ComplianceView
from fluiddesk.desktop.widgets.crews_view import CrewsView
from fluiddesk.desktop.widgets.due_acts import DueActs
from fluiddesk.desktop.widgets.due_view import DueView
from fluiddesk.desktop.widgets.page_tools import PageTools
from fluiddesk.desktop.widgets.page_work import PageWork
from fluiddesk.desktop.widgets.round_acts import RoundActs
from fluiddesk.desktop.widgets.special_panel import SpecialPanel
from fluiddesk.desktop.widgets.taking_view import TakingView
from fluiddesk.desktop.widgets.visit_moves import VisitMoves
from fluiddesk.desktop.widgets.visits_view import VisitsView


class SamplingParts:
    """Makes the views, each over its tables, and the acts."""

    def __init__(
        self, calls: SamplingCalls, *, tools: PageTools, work: PageWork, window: QWidget
    ) -> None:
        self._calls, self._tools, self._work = calls, tools, work
        self._tables = tables = SamplingTables(theme=tools.theme, parent=window)
        self.moves = VisitMoves(
            calls, clock=tools.clock, background=tools.background, parent=window
        )
        self.visits = VisitsView(
            tables.boxes,
            tables.boxes,
            self.moves,
            theme=tools.theme,
            kind_name=calls.place.catalogue.machine_kind_name,
        )
        specials = SpecialPanel(tables.specials, tables.specials, theme=tools.theme)
        self.due = DueView(tables.due, tables.due, specials, theme=tools.theme)
        self.taking = TakingView(
            tables.sheet,
            tables.sheet,
            calls,
            work=work,
            background=tools.background,
            clock=tools.clock,
            theme=tools.theme,
        )
        self.bottles = self._make_bottles()
        self.compliance = self._make_compliance()
        self.chance = self._make_chance()
        self.crews = self._make_crews()
        self.acts = RoundActs(
            calls,
            moves=self.moves,
            work=work,
            clock=tools.clock,
            folders=tools.folders,
            window=window,
        )
        self.box_acts = BoxActs(calls, work=work, clock=tools.clock, window=window)
        self.due_acts = DueActs(calls, work=work, clock=tools.clock, window=window)
        for acts in (self.acts, self.box_acts, self.due_acts):
            acts.apply_theme(tools.theme)

    def _make_bottles(self) -> BottlesView:
        tables, tools = self._tables, self._tools
        return BottlesView(
            (
                (tables.out, tables.out),
                (tables.legs, tables.legs),
                (tables.shipments, tables.shipments),
            ),
            CustodyCalls(place=self._calls.place),
            work=self._work,
            background=tools.background,
            clock=tools.clock,
            theme=tools.theme,
        )

    def _make_compliance(self) -> ComplianceView:
        tables, tools = self._tables, self._tools
        return ComplianceView(
            (tables.groups, tables.groups),
            (tables.events, tables.events),
            self._calls,
            work=self._work,
            background=tools.background,
            clock=tools.clock,
            theme=tools.theme,
            folders=tools.folders,
        )

    def _make_chance(self) -> ChanceView:
        tables, tools = self._tables, self._tools
        return ChanceView(
            (tables.chances, tables.chances),
            (tables.chance_boxes, tables.chance_boxes),
            self._calls,
            work=self._work,
            background=tools.background,
            clock=tools.clock,
            theme=tools.theme,
        )

    def _make_crews(self) -> CrewsView:
        tables, tools = self._tables, self._tools
        return CrewsView(
            (tables.crews, tables.crews),
            (tables.services, tables.services),
            self._calls,
            work=self._work,
            clock=tools.clock,
            theme=tools.theme,
        )

    @property
    def sections(self) -> dict[str, QWidget]:
        """The sections by key, in display order."""
        return {
            "visits": self.visits,
            "due": self.due,
            "record": self.taking,
            "bottles": self.bottles,
            "compliance": self.compliance,
            "chance": self.chance,
            "crews": self.crews,
        }

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        views = (self.visits, self.due, self.taking, self.bottles, self.compliance, self.chance)
        acts = (self.acts, self.box_acts, self.due_acts)
        for part in (*views, self.crews, *acts, self._tables):
            part.apply_theme(theme)
