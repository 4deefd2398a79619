"""The compartment page: verdict, hours left, reasons, curves, true wear and samples of one box."""

from typing import TYPE_CHECKING, Final

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QHBoxLayout,
    QPushButton,
    QSplitter,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from fluiddesk.charts.axes import Axis
from fluiddesk.charts.look import Look
from fluiddesk.charts.trend_panels import TrendPanels
from fluiddesk.desktop.background import Background, Progress
from fluiddesk.desktop.theme import GAP, MARGIN, STEP, Theme
from fluiddesk.desktop.widgets.box_facts import BoxFactsColumn
from fluiddesk.desktop.widgets.event_form import EventForm
from fluiddesk.desktop.widgets.event_logging import EventLogging
from fluiddesk.desktop.widgets.hours_left_section import HoursLeftSection
from fluiddesk.desktop.widgets.inline_notice import InlineNotice
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.desktop.widgets.sample_section import SampleSection
from fluiddesk.desktop.widgets.sample_table import SampleTableView
from fluiddesk.desktop.widgets.section_bar import SectionBar
from fluiddesk.desktop.widgets.verdict_head import VerdictHead
from fluiddesk.desktop.widgets.wear_section import WearSection
from fluiddesk.desktop.widgets.work_strip import WorkStrip
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.services.changes import Changes
from fluiddesk.services.compartment_history.facts import CompartmentHistory
from fluiddesk.services.compartment_history.read import compartment_history
from fluiddesk.services.workplace import Workplace
from fluiddesk.wiring import Clock

if TYPE_CHECKING:
    from fluiddesk.desktop.widgets.due_acts import DueActs

_FACTS_WIDTH: Final = 276
_AFTER_PAINTING_MS: Final = 40
"""The curves are painted before further work in the background competes with them."""
CURVES, WEAR, HOURS, SAMPLES = "curves", "wear", "hours", "samples"


class CompartmentHistoryScreen(QWidget):
    """One box: what is said of it, why, and every value behind it.

    Signals:
        loaded: the ``CompartmentHistory`` just put on screen.
        changed: ``Changes`` that other pages are to hear of.
    """

    loaded = Signal(object)
    changed = Signal(object)

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
        self.title = self.tr("Compartment")
        self._place, self._clock, self._background = place, clock, background
        self._theme = theme
        self._compartment: CompartmentId | None = None
        self._history: CompartmentHistory | None = None
        look = _look(theme)
        self.head = VerdictHead(theme)
        self._reasons = BoxFactsColumn(theme)
        self.panels = TrendPanels(look)
        self.wear = WearSection(look, theme)
        self.hours_left = HoursLeftSection(theme)
        self.samples = SampleSection(theme)
        self._empty = QuietLabel("faint", theme)
        self.notice = InlineNotice(theme)
        self.event_form = EventForm(theme)
        self.log_button = QPushButton(self.tr("Log an event"))
        self.log_button.setToolTip(self.tr("Ctrl+E"))
        self.special_button = QPushButton(self.tr("&Sample sooner..."))
        self.special_button.setToolTip(self.tr("A special interval of this box"))
        self._due_acts: DueActs | None = None
        self._logging = EventLogging(
            place,
            clock=clock,
            background=background,
            form=self.event_form,
            notice=self.notice,
            parent=self,
        )
        self._outlook_timer = QTimer(self)
        self._section = CURVES
        self._stale: set[str] = set()
        self.bar = self._make_bar(look)
        self._stack = QStackedWidget()
        self._body = QStackedWidget()
        self._upper = QSplitter(Qt.Orientation.Horizontal)
        self._lay_out()
        self._connect()
        self._show_nothing()

    def _make_bar(self, look: Look) -> SectionBar:
        sections = (
            (CURVES, self.tr("Curves")),
            (WEAR, self.tr("True wear")),
            (HOURS, self.tr("Hours left")),
            (SAMPLES, self.tr("Samples")),
        )
        made = SectionBar(sections, look, self)
        made.show_chosen(CURVES)
        return made

    def _connect(self) -> None:
        self.bar.chosen.connect(self.show_section)
        self.log_button.clicked.connect(self.log_event)
        self.special_button.clicked.connect(self.sample_sooner)
        shortcut = QShortcut(QKeySequence("Ctrl+E"), self)
        shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        shortcut.activated.connect(self.log_event)
        self._outlook_timer.setSingleShot(True)
        self._outlook_timer.setInterval(_AFTER_PAINTING_MS)
        self._outlook_timer.timeout.connect(self.read_in_full)
        self._logging.changed.connect(self.changed)
        self._logging.opened.connect(self.log_button.hide)
        self._logging.closed.connect(self._after_form)

    @property
    def sentence(self) -> QuietLabel:
        """The verdict in one sentence."""
        return self.head.sentence

    @property
    def table(self) -> SampleTableView:
        """The samples side by side."""
        return self.samples.table

    @property
    def compartment(self) -> CompartmentId | None:
        """The box on show or being read."""
        return self._compartment

    @property
    def history(self) -> CompartmentHistory | None:
        """What is on show."""
        return self._history

    @property
    def section(self) -> str:
        """The section on screen."""
        return self._section

    def open_compartment(self, compartment_id: CompartmentId) -> None:
        """Read a box and show it; what was on show stays until the answer comes."""
        self._compartment = compartment_id
        self.refresh()

    def refresh(self) -> None:
        """Read the box on show again.

        Another box is read in two steps: the curves first, true wear and hours left after them.
        """
        compartment, shown = self._compartment, self._history
        if compartment is None:
            return
        is_again = shown is not None and shown.compartment == compartment and shown.is_in_full
        self._read(compartment, in_full=is_again)

    def _read(self, compartment: CompartmentId, *, in_full: bool) -> None:
        today = self._clock.today()

        def read(_progress: Progress) -> CompartmentHistory:
            return compartment_history(self._place, compartment, today=today, in_full=in_full)

        label = self.tr("Reading the compartment")
        if in_full:
            label = self.tr("Working out true wear and hours left")
        self._background.run(read, done=self._show_read, label=label, slot="compartment_history")

    def _show_read(self, history: CompartmentHistory) -> None:
        self.show_facts(history)
        if not history.is_in_full:
            self._outlook_timer.start()

    def read_in_full(self) -> None:
        """Have true wear and hours left of the box on show worked out now."""
        self._outlook_timer.stop()
        history = self._history
        # Meanwhile another box may have been opened: its own first step is under way then.
        if history is not None and history.compartment == self._compartment:
            self._read(history.compartment, in_full=True)

    def show_changes(self, changes: Changes) -> None:
        """Read again where the change concerns the box on show."""
        if not changes.compartments or self._compartment in changes.compartments:
            self.refresh()

    def show_facts(self, history: CompartmentHistory) -> None:
        """Put a box on screen at once."""
        self._history = history
        self._compartment = history.compartment
        self._logging.follow(history)
        self.head.show_history(history, today=self._clock.today())
        self._reasons.show_history(history)
        # A section that is not on screen waits until it is asked for.
        self._stale = {CURVES, WEAR, HOURS, SAMPLES}
        self._fill(self._section)
        if not history.samples:
            self._empty.setText(
                self.tr(
                    "No sample of this box has been reported yet. Take its first sample, then take"
                    " in the laboratory's file on the Results page: curves and values follow."
                )
            )
        self._body.setCurrentIndex(1 if history.samples else 0)
        self.bar.show()
        self.bar.show_sections(shown=bool(history.samples))
        self.panels.switches.setVisible(bool(history.samples) and self._section == CURVES)
        self.loaded.emit(history)

    def _after_form(self) -> None:
        self.log_button.show()
        self.log_button.setFocus()

    def log_event(self) -> None:
        """Show the form for an event of the box on show."""
        if self._history is not None:
            self._logging.open(self._history)

    @property
    def due_acts(self) -> "DueActs":
        """What is done to when the box is due; made when it is first asked for."""
        if self._due_acts is None:
            # The curves do not wait for what few openings of a box ask for.
            from fluiddesk.desktop.widgets.due_acts import sooner_acts

            strip = WorkStrip()
            self._page.insertWidget(1, strip)
            made = sooner_acts(
                self._place,
                clock=self._clock,
                background=self._background,
                strip=strip,
                notice=self.notice,
                window=self,
            )
            made.apply_theme(self._theme)
            made.changed.connect(self.changed)
            self._due_acts = made
        return self._due_acts

    def sample_sooner(self) -> None:
        """Ask for a special interval of the box on show."""
        history = self._history
        if history is not None:
            name = f"{history.machine}, {history.box}"
            self.due_acts.ask_special(history.compartment, name)

    def show_section(self, key: str) -> None:
        """Bring a section on screen."""
        self._section = key
        self._fill(key)
        self.bar.show_chosen(key)
        self._stack.setCurrentWidget(self._sections()[key])
        # Samples side by side need the whole width.
        self._reasons.setVisible(key != SAMPLES)
        self.panels.switches.setVisible(key == CURVES)
        self._right_room.setContentsMargins(0 if key == SAMPLES else MARGIN, 0, 0, 0)

    def choose_axis(self, axis: str) -> None:
        """Hold the curves against "hours", "fluid_hours" or "date"."""
        self.panels.switches.choose_axis(Axis(axis))

    def _sections(self) -> dict[str, QWidget]:
        return {CURVES: self.panels, WEAR: self.wear, HOURS: self.hours_left, SAMPLES: self.samples}

    def _fill(self, key: str) -> None:
        history = self._history
        if history is None or key not in self._stale:
            return
        self._stale.discard(key)
        match key:
            case "curves":
                self.panels.show_history(history)
            case "wear":
                self.wear.show_wear(history.wear, is_worked_out=history.is_in_full)
            case "hours":
                self.hours_left.show_history(history, today=self._clock.today())
            case _:
                self.samples.show_history(history)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        look = _look(theme)
        self.head.apply_theme(theme)
        self._empty.apply_theme(theme)
        self._reasons.apply_theme(theme)
        self.notice.apply_theme(theme)
        self.event_form.apply_theme(theme)
        self.bar.apply_look(look)
        self.panels.apply_look(look)
        self.wear.apply_theme(look, theme)
        self.hours_left.apply_theme(theme)
        self.samples.apply_theme(theme)
        if self._due_acts is not None:
            self._due_acts.apply_theme(theme)

    def _show_nothing(self) -> None:
        self.head.show_nothing(self.tr("No compartment chosen"))
        self._empty.setText(
            self.tr("Choose a compartment in the tree, or a cell on the Fleet condition page.")
        )
        self._body.setCurrentIndex(0)
        self.bar.hide()

    def _lay_out(self) -> None:
        self._empty.setWordWrap(True)
        self._empty.setAlignment(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft)
        for section in self._sections().values():
            self._stack.addWidget(section)
        self._upper.addWidget(self._reasons)
        # Room at the left, between the dividing line and the charts.
        right = QWidget()
        self._right_room = QHBoxLayout(right)
        self._right_room.setContentsMargins(MARGIN, 0, 0, 0)
        self._right_room.addWidget(self._stack)
        self._upper.addWidget(right)
        self._upper.setSizes([_FACTS_WIDTH, 10 * _FACTS_WIDTH])
        self._upper.setStretchFactor(0, 0)
        self._upper.setStretchFactor(1, 1)
        self._upper.setHandleWidth(1)
        self._upper.setChildrenCollapsible(False)
        self._body.addWidget(self._empty)
        self._body.addWidget(self._upper)
        self._page = page = QVBoxLayout(self)
        page.setContentsMargins(MARGIN, MARGIN, MARGIN, GAP)
        page.setSpacing(STEP)
        self.bar.add_at_end(self.panels.switches)
        self.bar.add_at_end(self.special_button)
        self.bar.add_at_end(self.log_button)
        page.addWidget(self.head)
        page.addWidget(self.notice)
        page.addWidget(self.event_form)
        page.addWidget(self.bar)
        page.addWidget(self._body, 1)


def _look(theme: Theme) -> Look:
    return Look(colors=theme.colors, body=theme.body, small=theme.small, strong=theme.strong)
