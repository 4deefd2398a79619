"""Starts Qt, the log and the window, and exchanges the window when another database is opened."""

import faulthandler
import gc
import logging
import sys
import threading
from collections.abc import Sequence
from dataclasses import replace
from logging.handlers import RotatingFileHandler
from pathlib import Path
from types import TracebackType
from typing import Final, TextIO

from PySide6.QtCore import (
    QMessageLogContext,
    QObject,
    QSettings,
    Qt,
    QtMsgType,
    Signal,
    qInstallMessageHandler,
)
from PySide6.QtWidgets import QApplication, QFileDialog, QMainWindow, QWidget

from fluiddesk import wiring
from fluiddesk.desktop import messages
from fluiddesk.desktop.background import Background, Progress
from fluiddesk.desktop.main_window import MainWindow, Page
from fluiddesk.desktop.pages_ahead import import_pages
from fluiddesk.desktop.screens.first_start import FirstStartScreen
from fluiddesk.desktop.theme import Theme, ThemeChoice, apply_theme, make_theme
from fluiddesk.desktop.widgets.file_asking import LastFolders, ask_database
from fluiddesk.desktop.widgets.status_line import StatusLine
from fluiddesk.settings import Folders, desk_folders, load_settings, save_settings
from fluiddesk.wiring import OpenedDesk

_log = logging.getLogger(__name__)

_LOG_BYTES: Final = 1_000_000
_LOGS_KEPT: Final = 3
_RECKONER_SIZE: Final = (1040, 720)
_LEVELS: Final = {
    QtMsgType.QtDebugMsg: logging.DEBUG,
    QtMsgType.QtInfoMsg: logging.INFO,
    QtMsgType.QtWarningMsg: logging.WARNING,
    QtMsgType.QtCriticalMsg: logging.ERROR,
    QtMsgType.QtFatalMsg: logging.CRITICAL,
}


def run(
    opened: OpenedDesk | None, argv: Sequence[str], *, open_sample: bool = False, notice: str = ""
) -> int:
    """Show the program until it is closed.

    Args:
        opened: the database to begin with; ``None`` shows the first start.
        argv: the command line, for Qt.
        open_sample: begin by opening the sample fleet (with ``opened`` left out).
        notice: why the database opened last could not be opened, told at the first start.

    Returns:
        The exit code.
    """
    folders = opened.folders if opened else desk_folders()
    begin_log(folders)
    app = QApplication(list(argv))
    app.setApplicationName("fluiddesk")
    shell = Shell(app, folders)
    _catch_faults(shell)
    shell.begin(opened, open_sample=open_sample, notice=notice)
    # What the program is made of stays for good: the collector need not look through it.
    gc.freeze()
    gc.enable()
    code = app.exec()
    shell.close()
    return code


def build_window(
    opened: OpenedDesk, *, theme: str = ThemeChoice.LIGHT, window_state: QSettings | None = None
) -> MainWindow:
    """Make the main window in a theme, with the fleet page begun; it is not yet shown.

    An application must exist. Without ``window_state`` the window keeps and restores nothing, as
    pictures need it.
    """
    made = make_theme(theme)
    app = QApplication.instance()
    if isinstance(app, QApplication):
        apply_theme(app, made)
    window = MainWindow(opened, theme=made, window_state=window_state)
    window.show_page(Page.FLEET)
    window.fleet.table.setFocus()
    return window


class StartWindow(QMainWindow):
    """The window of the first start, and while a database is being opened."""

    def __init__(self, background: Background, theme: Theme, *, notice: str = "") -> None:
        super().__init__()
        self.setWindowTitle("fluiddesk")
        self.start = FirstStartScreen(theme, notice=notice, parent=self)
        self.setCentralWidget(self.start)
        self.setStatusBar(StatusLine(background, self))
        self.resize(800, 480 if notice else 380)


class ReckonerWindow(QMainWindow):
    """The reckoner by itself, for a desk without a database."""

    def __init__(self, background: Background, theme: Theme, parent: QWidget) -> None:
        # Imported here, so that the start does not wait for the calculations.
        from fluiddesk.desktop.screens.reckoner import ReckonerScreen

        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(self.tr("Reckoner - fluiddesk"))
        self.page = ReckonerScreen(
            None, clock=wiring.Clock(), theme=theme, background=background, parent=self
        )
        self.setCentralWidget(self.page)
        self.resize(*_RECKONER_SIZE)


class Shell(QObject):
    """Owns the window and what opens another database.

    Signals:
        fault: an exception that nobody took, from any thread.
    """

    fault = Signal(object)

    def __init__(self, app: QApplication, folders: Folders) -> None:
        super().__init__()
        self._app, self._folders = app, folders
        self._background = Background(self)
        self._background.failed.connect(self._show_failure)
        self._settings = load_settings(folders)
        self._last_folders = LastFolders(window_settings(folders))
        self._window: MainWindow | StartWindow | None = None
        self._desk: OpenedDesk | None = None
        self.fault.connect(self._show_fault)

    @property
    def window(self) -> MainWindow | StartWindow | None:
        """The window on screen."""
        return self._window

    def begin(
        self, opened: OpenedDesk | None, *, open_sample: bool = False, notice: str = ""
    ) -> None:
        """Show the first window; ``notice`` tells why the database opened last is not in it."""
        hints = self._app.styleHints()
        hints.colorSchemeChanged.connect(self._follow_system)
        if opened is not None:
            self._show_desk(opened)
            return
        theme = make_theme(self._settings.theme)
        apply_theme(self._app, theme)
        window = StartWindow(self._background, theme, notice=notice)
        window.start.sample_asked.connect(self.open_sample)
        window.start.new_asked.connect(self._ask_new)
        window.start.database_asked.connect(self._ask_database)
        window.start.reckoner_asked.connect(self.open_reckoner)
        self._replace_window(window)
        if open_sample:
            self.open_sample()

    def open_address(self, address: str) -> None:
        """Open a database in the background and show it."""
        self._background.run(
            lambda _progress: wiring.open_desk(
                address, remember=True, purpose=wiring.OpenFor.EITHER
            ),
            done=self._show_desk,
            label=self.tr("Opening {0}").format(Path(address).name),
            slot="open",
        )

    def open_sample(self) -> None:
        """Open a fresh copy of the sample fleet, which may be changed at will."""

        def work(progress: Progress) -> OpenedDesk:
            return wiring.open_desk(str(wiring.sample_scratch_copy(progress=progress)))

        self._background.run(
            work, done=self._show_desk, label=self.tr("Preparing the sample fleet"), slot="open"
        )

    def open_reckoner(self) -> None:
        """Show the reckoner beside the first start."""
        if self._window is not None:
            theme = make_theme(self._settings.theme)
            ReckonerWindow(self._background, theme, self._window).show()

    def close(self) -> None:
        """Let go of the database."""
        self._background.close()
        if self._desk is not None:
            self._desk.close()
            self._desk = None

    def _show_desk(self, desk: OpenedDesk) -> None:
        # The theme is the desk's, whichever database is open.
        desk = replace(desk, settings=replace(desk.settings, theme=self._settings.theme))
        window = build_window(
            desk, theme=self._settings.theme, window_state=window_settings(self._folders)
        )
        window.database_asked.connect(self.open_address)
        window.sample_asked.connect(self.open_sample)
        window.theme_chosen.connect(self._keep_theme)
        window.fleet.loaded.connect(
            lambda _: import_pages(window.background), Qt.ConnectionType.SingleShotConnection
        )
        before = self._desk
        self._desk = desk
        self._replace_window(window)
        if before is not None:
            before.close()

    def _replace_window(self, window: MainWindow | StartWindow) -> None:
        old, self._window = self._window, window
        window.show()
        if old is not None:
            old.close()
            old.deleteLater()

    def _keep_theme(self, choice: ThemeChoice) -> None:
        self._settings = replace(load_settings(self._folders), theme=choice.value)
        save_settings(self._folders, self._settings)

    def _follow_system(self, _scheme: Qt.ColorScheme) -> None:
        if self._settings.theme == ThemeChoice.SYSTEM and isinstance(self._window, MainWindow):
            self._window.apply_theme(make_theme(ThemeChoice.SYSTEM))

    def _ask_database(self) -> None:
        if self._window is None:
            return
        ask_database(self._window, then=self.open_address, folders=self._last_folders)

    def _ask_new(self) -> None:
        dialog = QFileDialog(self._window, self.tr("Start an empty database"))
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setDefaultSuffix("fluiddesk")
        dialog.fileSelected.connect(self._make_new)
        dialog.open()

    def _make_new(self, address: str) -> None:
        def work(_progress: Progress) -> OpenedDesk:
            wiring.new_database(address)
            return wiring.open_desk(address, remember=True, purpose=wiring.OpenFor.EITHER)

        self._background.run(
            work, done=self._show_desk, label=self.tr("Making the database"), slot="open"
        )

    def _show_failure(self, _label: str, error: Exception) -> None:
        messages.show_error(self._window, error, log_folder=self._folders.state)

    def _show_fault(self, error: Exception) -> None:
        messages.show_our_fault(self._window, error, log_folder=self._folders.state)


def window_settings(folders: Folders) -> QSettings:
    """Where sizes and places of the window are kept."""
    return QSettings(str(folders.config / "window.ini"), QSettings.Format.IniFormat)


def begin_log(folders: Folders) -> TextIO | None:
    """Send the log and the stack of a crash to files in the state folder.

    Returns:
        The file for the stack of a crash, open for the life of the process as it is written to
        while the process dies; ``None`` where the folder cannot be written, which stops nothing.
    """
    try:
        folders.state.mkdir(parents=True, exist_ok=True)
        handler = RotatingFileHandler(
            folders.state / "fluiddesk.log",
            maxBytes=_LOG_BYTES,
            backupCount=_LOGS_KEPT,
            encoding="utf-8",
            delay=True,
        )
        crash_file = (folders.state / "crash.txt").open("a", encoding="utf-8")
    except OSError as error:
        sys.stderr.write(f"No log is kept: {error}\n")
        return None
    faulthandler.enable(crash_file)
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(name)s: %(message)s"))
    logging.getLogger().addHandler(handler)
    logging.getLogger().setLevel(logging.INFO)
    return crash_file


def _catch_faults(shell: Shell) -> None:
    """Log whatever nobody took, on any thread, and tell of it on the screen's thread."""

    def tell(kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
        if issubclass(kind, KeyboardInterrupt):
            QApplication.quit()
            return
        _log.critical("a fault nobody took", exc_info=(kind, error, trace))
        shell.fault.emit(error)

    def tell_of_thread(told: threading.ExceptHookArgs) -> None:
        if told.exc_value is not None:
            tell(told.exc_type, told.exc_value, told.exc_traceback)

    sys.excepthook = tell
    threading.excepthook = tell_of_thread
    qInstallMessageHandler(_log_qt)


def _log_qt(kind: QtMsgType, _context: QMessageLogContext, text: str) -> None:
    logging.getLogger("qt").log(_LEVELS[kind], "%s", text)
