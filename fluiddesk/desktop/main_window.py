"""The main window: machine tree at the left, pages at the right, a status line below."""

from enum import IntEnum
from pathlib import Path
from typing import TYPE_CHECKING, cast

from PySide6.QtCore import QSettings, Qt, QTimer, Signal
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import (
    QApplication,
    QMainWindow,
    QSplitter,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)
from typing_extensions import override

from fluiddesk.desktop import messages
from fluiddesk.desktop.background import Background
from fluiddesk.desktop.screens.fleet_condition import FleetConditionScreen
from fluiddesk.desktop.screens.machine_tree import MachineTreeScreen
from fluiddesk.desktop.screens.search_bar import SearchBar
from fluiddesk.desktop.theme import Theme, ThemeChoice, apply_theme, make_theme
from fluiddesk.desktop.viewstate.last_look import look_file
from fluiddesk.desktop.widgets.drop_area import dropped_file
from fluiddesk.desktop.widgets.file_asking import LastFolders, ask_database, ask_lab_file
from fluiddesk.desktop.widgets.page_bar import PageBar
from fluiddesk.desktop.widgets.page_tools import KeepsTyping, Screen
from fluiddesk.desktop.widgets.status_line import StatusLine
from fluiddesk.desktop.widgets.window_size import (
    SMALLEST,
    first_size,
    keep_window,
    restore_window,
)
from fluiddesk.desktop.window_menus import MenuActs, make_menus
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.wiring import OpenedDesk, shown_address

if TYPE_CHECKING:
    from fluiddesk.desktop.screens.compartment_history import CompartmentHistoryScreen
    from fluiddesk.desktop.screens.lab_intake import LabIntakeScreen
    from fluiddesk.desktop.screens.register import RegisterScreen
    from fluiddesk.desktop.screens.sampling import SamplingScreen

_TREE_WIDTH = 236
_PAGE_WIDTH = 840


class Page(IntEnum):
    """The pages, in the order of their names."""

    FLEET = 0
    COMPARTMENT = 1
    RESULTS = 2
    SAMPLING = 3
    RULES = 4
    RECKONER = 5
    REGISTER = 6


class MainWindow(QMainWindow):
    """One open database on screen.

    Signals:
        database_asked: another database was chosen: its address.
        sample_asked: the sample fleet is wanted.
        theme_chosen: the ``ThemeChoice``.
    """

    database_asked = Signal(str)
    sample_asked = Signal()
    theme_chosen = Signal(object)

    def __init__(self, desk: OpenedDesk, *, theme: Theme, window_state: QSettings | None) -> None:
        """Lay out the window.

        Args:
            desk: the open database with its clock.
            theme: colours and fonts.
            window_state: where sizes and the chosen page are kept; ``None`` keeps nothing.
        """
        super().__init__()
        self._desk, self._theme, self._window_state = desk, theme, window_state
        self._last_folders = LastFolders(window_state)
        self.background = Background(self)
        self.background.failed.connect(self._show_failure)
        self._pages: dict[Page, QWidget] = {}
        self.tree = MachineTreeScreen(desk.place.catalogue, theme=theme, parent=self)
        self._titles = (
            self.tr("Fleet condition"),
            self.tr("Compartment"),
            self.tr("Results"),
            self.tr("Sampling"),
            self.tr("Rules"),
            self.tr("Reckoner"),
            self.tr("Register"),
        )
        self.bar = PageBar(self._titles, theme, self)
        self.search = SearchBar(desk.place, background=self.background, theme=theme, window=self)
        self.bar.add_at_end(self.search)
        self._stack = QStackedWidget(self)
        self._holders = [QWidget(self._stack) for _ in Page]
        self._status = StatusLine(self.background, self)
        self._splitter = QSplitter(Qt.Orientation.Horizontal, self)
        self.setWindowTitle(f"{self._database_name()} - fluiddesk")
        self.setAcceptDrops(True)
        self._lay_out()
        self._make_menus()
        for opened in (self.tree.box_opened, self.search.compartment_opened):
            opened.connect(self.open_compartment)
        self.search.machine_opened.connect(self.open_machine)
        self.search.store_opened.connect(self.open_store)
        self.bar.chosen.connect(lambda number: self.show_page(Page(number)))
        self._tell_place()
        self._restore()

    def _lay_out(self) -> None:
        for holder in self._holders:
            column = QVBoxLayout(holder)
            column.setContentsMargins(0, 0, 0, 0)
            self._stack.addWidget(holder)
        right = QWidget(self)
        column = QVBoxLayout(right)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.bar)
        column.addWidget(self._stack, 1)
        self._splitter.addWidget(self.tree)
        self._splitter.addWidget(right)
        self._splitter.setStretchFactor(1, 1)
        self._splitter.setHandleWidth(1)
        self._splitter.setChildrenCollapsible(False)
        self.tree.setMinimumWidth(120)
        # As wide as the filters of the fleet page need to stand side by side.
        right.setMinimumWidth(_PAGE_WIDTH)
        self.setCentralWidget(self._splitter)
        self.setStatusBar(self._status)
        self.setMinimumSize(SMALLEST)
        self.resize(first_size(self.screen().availableGeometry().size()))
        self._splitter.setSizes([_TREE_WIDTH, self.width() - _TREE_WIDTH])

    def _make_menus(self) -> None:
        acts = MenuActs(
            open_database=self._ask_database,
            open_sample=self.sample_asked.emit,
            take_in_file=self._ask_lab_file,
            open_outside=self.open_outside,
            open_sampling=self.open_sampling,
            show_page=lambda number: self.show_page(Page(number)),
            find_machine=self.tree.filter.setFocus,
            search=self.search.setFocus,
            choose_theme=self.choose_theme,
            refresh=self.refresh,
        )
        make_menus(self, acts, titles=self._titles, theme=self._desk.settings.theme)

    def _ask_database(self) -> None:
        ask_database(self, then=self.database_asked.emit, folders=self._last_folders)

    def _ask_lab_file(self) -> None:
        ask_lab_file(self, then=self.open_lab_file, folders=self._last_folders)

    # --- pages ------------------------------------------------------------------------------

    def show_page(self, page: Page) -> QWidget:
        """Bring a page on screen and give it; it is made when it is first asked for."""
        screen = self.page(page)
        self._stack.setCurrentIndex(page)
        self.bar.show_page(page)
        return screen

    def page(self, page: Page) -> QWidget:
        """The page's screen, made if need be; a new one begins to load."""
        made = self._pages.get(page)
        if made is None:
            made = self._pages[page] = self._make(page)
            holder = self._holders[page].layout()
            if holder is not None:
                holder.addWidget(made)
            cast("Screen", made).refresh()
        return made

    def _make(self, page: Page) -> QWidget:
        """Make a screen. Imported here, so that the fleet page does not wait for the others."""
        place, clock = self._desk.place, self._desk.clock
        theme, background = self._theme, self.background
        match page:
            case Page.FLEET | Page.SAMPLING:
                return self._make_fleet() if page is Page.FLEET else self._make_sampling()
            case Page.COMPARTMENT:
                return self._make_compartment()
            case Page.RESULTS:
                from fluiddesk.desktop.screens.lab_intake import LabIntakeScreen

                intake = LabIntakeScreen(
                    place,
                    clock=clock,
                    theme=theme,
                    background=background,
                    last_folders=self._last_folders,
                )
                intake.changed.connect(self.show_changes)
                intake.box_opened.connect(self.open_compartment)
                return intake
            case Page.RULES:
                from fluiddesk.desktop.screens.limit_rules import LimitRulesScreen

                rules = LimitRulesScreen(place, clock=clock, theme=theme, background=background)
                rules.changed.connect(self.show_changes)
                rules.box_opened.connect(self.open_compartment)
                return rules
            case Page.RECKONER:
                from fluiddesk.desktop.screens.reckoner import ReckonerScreen

                return ReckonerScreen(place, clock=clock, theme=theme, background=background)
            case Page.REGISTER:
                from fluiddesk.desktop.screens.register import RegisterScreen

                register = RegisterScreen(
                    place,
                    clock=clock,
                    theme=theme,
                    background=background,
                    last_folders=self._last_folders,
                )
                register.changed.connect(self.show_changes)
                register.compartment_opened.connect(self.open_compartment)
                return register

    def _make_compartment(self) -> QWidget:
        from fluiddesk.desktop.screens.compartment_history import CompartmentHistoryScreen

        screen = CompartmentHistoryScreen(
            self._desk.place, clock=self._desk.clock, theme=self._theme, background=self.background
        )
        screen.changed.connect(self.show_changes)
        return screen

    def _make_fleet(self) -> FleetConditionScreen:
        screen = FleetConditionScreen(
            self._desk.place,
            clock=self._desk.clock,
            theme=self._theme,
            background=self.background,
            look_file=self._look_file(),
        )
        screen.box_opened.connect(self.open_compartment)
        screen.loaded.connect(self.tree.show_facts)
        screen.register_asked.connect(lambda: self.show_page(Page.REGISTER))
        screen.sample_asked.connect(self.sample_asked)
        screen.database_asked.connect(self._ask_database)
        return screen

    def _make_sampling(self) -> QWidget:
        from fluiddesk.desktop.screens.sampling import SamplingScreen

        screen = SamplingScreen(
            self._desk.place,
            clock=self._desk.clock,
            theme=self._theme,
            background=self.background,
            last_folders=self._last_folders,
            own_folder=self._desk.folders.data,
        )
        screen.changed.connect(self.show_changes)
        screen.box_opened.connect(self.open_compartment)
        screen.register_asked.connect(lambda: self.show_page(Page.REGISTER))
        return screen

    @property
    def fleet(self) -> FleetConditionScreen:
        """The fleet page."""
        return cast("FleetConditionScreen", self.page(Page.FLEET))

    def open_compartment(self, compartment: CompartmentId) -> None:
        """Show one box on the compartment page, and in the tree."""
        screen = cast("CompartmentHistoryScreen", self.page(Page.COMPARTMENT))
        screen.open_compartment(compartment)
        self.show_page(Page.COMPARTMENT)
        self.tree.point_to(compartment)

    def open_machine(self, machine: bytes) -> None:
        """Show one machine in the register."""
        cast("RegisterScreen", self.show_page(Page.REGISTER)).open_machine(machine)

    def open_outside(self, form: str) -> None:
        """Show the samples outside the plan in the register, with one of their forms."""
        screen = cast("RegisterScreen", self.show_page(Page.REGISTER))
        screen.editing.leave(lambda: screen.open_outside(form))

    def open_store(self, kind: str, key: bytes) -> None:
        """Show a tank, a delivery or a fluid sample in the register."""
        cast("RegisterScreen", self.show_page(Page.REGISTER)).open_store(kind, key)

    def open_sampling(self, section: str) -> None:
        """Show a section of the Sampling page."""
        cast("SamplingScreen", self.show_page(Page.SAMPLING)).show_section(section)

    def open_lab_file(self, path: str | Path) -> None:
        """Show the preview of a laboratory's file on the results page."""
        cast("LabIntakeScreen", self.show_page(Page.RESULTS)).open_file(Path(path))

    def show_changes(self, changes: Changes) -> None:
        """Pass on what a use case altered to every page that was made."""
        self.search.forget()
        self.page(Page.FLEET)
        for screen in self._pages.values():
            cast("Screen", screen).show_changes(changes)

    def refresh(self) -> None:
        """Load everything on screen again."""
        self.show_changes(Changes(subjects=frozenset(Subject)))

    def choose_theme(self, choice: ThemeChoice) -> None:
        """Change the theme now and tell the choice."""
        self.apply_theme(make_theme(choice))
        self.theme_chosen.emit(choice)

    def apply_theme(self, theme: Theme) -> None:
        """Draw everything in the colours of another theme."""
        app = QApplication.instance()
        if isinstance(app, QApplication):
            apply_theme(app, theme)
        self._theme = theme
        self.tree.apply_theme(theme)
        self.bar.apply_theme(theme)
        self.search.apply_theme(theme)
        for screen in self._pages.values():
            cast("Screen", screen).apply_theme(theme)

    def _database_name(self) -> str:
        if self._desk.is_scratch:
            return self.tr("Sample fleet (scratch copy, not kept)")
        address = self._desk.address
        name = Path(shown_address(address)).name if address else self.tr("Database")
        return self.tr("{0} (sample fleet)").format(name) if self._desk.is_sample else name

    def _tell_place(self) -> None:
        who = self._desk.place.who
        self._status.place.setText(self.tr("{0}, {1}").format(self._database_name(), who))
        if self._desk.is_sample:
            today = self._desk.clock.today()
            self._status.note.setText(
                self.tr("Invented machines, as of {0}").format(today.isoformat())
            )

    def _look_file(self) -> Path | None:
        address = self._desk.address
        if self._window_state is None or self._desk.is_sample or not address:
            return None
        return look_file(self._desk.folders.state, address)

    def _restore(self) -> None:
        if self._window_state is not None:
            restore_window(self, self._splitter, self._window_state)

    def _show_failure(self, _label: str, error: Exception) -> None:
        messages.show_error(self, error, log_folder=self._desk.folders.state)

    # --- events -----------------------------------------------------------------------------

    @override
    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if dropped_file(event):
            event.acceptProposedAction()

    @override
    def dropEvent(self, event: QDropEvent) -> None:
        path = dropped_file(event)
        if path:
            event.acceptProposedAction()
            # The drop ends first: the program the file comes from waits for it.
            QTimer.singleShot(0, self, lambda: self.open_lab_file(path))

    @override
    def closeEvent(self, event: QCloseEvent) -> None:
        for screen in self._pages.values():
            if isinstance(screen, KeepsTyping):
                screen.keep_now()
        self.background.close()
        if Page.FLEET in self._pages:
            self.fleet.keep_look()
        if self._window_state is not None:
            keep_window(self, self._splitter, self._window_state)
        super().closeEvent(event)
