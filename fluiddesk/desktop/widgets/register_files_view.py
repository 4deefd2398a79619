"""Register files on the Register page: read, looked over, imported in one piece, and exported."""

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.theme import GAP, Theme
from fluiddesk.desktop.viewstate.register_calls import RegisterCalls
from fluiddesk.desktop.viewstate.register_words import counted
from fluiddesk.desktop.widgets.file_asking import (
    LastFolders,
    ask_export_folder,
    ask_register_files,
)
from fluiddesk.desktop.widgets.inline_notice import InlineNotice
from fluiddesk.desktop.widgets.page_work import PageWork
from fluiddesk.desktop.widgets.register_files_panel import RegisterFilesPanel
from fluiddesk.desktop.widgets.work_strip import WorkStrip
from fluiddesk.services.register_files.facts import (
    ExportedFile,
    RegisterImported,
    RegisterPreview,
)
from fluiddesk.wiring import Clock


class RegisterFilesView(QWidget):
    """Imports and exports the register's own files.

    Signals:
        previewed: the ``RegisterPreview`` whose tables are to be filled.
        opened: files are under preview; holds the sentence that tells of them.
        closed: the files were put aside, or imported.
        changed: what the import altered, as ``Changes``.
    """

    previewed = Signal(object)
    opened = Signal(str)
    closed = Signal(str)
    changed = Signal(object)

    def __init__(
        self,
        calls: RegisterCalls,
        panel: RegisterFilesPanel,
        *,
        clock: Clock,
        background: Background,
        notice: InlineNotice,
        folders: LastFolders,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._calls, self._clock, self._folders = calls, clock, folders
        self._paths: tuple[Path, ...] = ()
        self._preview: RegisterPreview | None = None
        self._is_opening = False
        self.panel = panel
        self._strip = WorkStrip()
        self.work = PageWork(background, strip=self._strip, notice=notice, parent=self)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        column.addWidget(self._strip)
        column.addWidget(self.panel, 1)
        self.panel.aside_button.clicked.connect(lambda: self.closed.emit(""))
        self.panel.import_button.clicked.connect(self.take_in)
        self.work.ended.connect(self._work_ended)
        self.panel.hide()

    def choose_files(self) -> None:
        """Let the person choose register files."""
        ask_register_files(self, then=self.open_files, folders=self._folders)

    def choose_folder(self) -> None:
        """Let the person choose where the register is written to."""
        ask_export_folder(self, then=self.export, folders=self._folders)

    def open_files(self, paths: Sequence[str | Path]) -> None:
        """Try files on the register and show what they would do."""
        if self.work.is_saving:
            return
        chosen = tuple(Path(path) for path in paths)
        self._paths = chosen
        today = self._clock.today()
        self._begin()
        self.opened.emit(self.tr("Reading {0}.").format(counted(len(chosen), "file")))
        self.work.start(
            lambda progress: self._calls.preview_files(chosen, today=today, progress=progress),
            done=self.show_preview,
            refusal=self.tr("The files were not read"),
            label=self.tr("Reading register files"),
        )

    def _begin(self) -> None:
        self.panel.hide()
        self._is_opening = True

    def _work_ended(self) -> None:
        """Work that ended without an answer leads back to where it was begun."""
        if self._is_opening:
            self._is_opening = False
            self.closed.emit("")

    def show_preview(self, preview: RegisterPreview) -> None:
        """Show what importing would do."""
        self._preview = preview
        self.previewed.emit(preview)
        self.panel.show_preview(preview)
        self.panel.show()
        self.opened.emit(preview.sentence)

    def take_in(self) -> None:
        """Import the files shown."""
        if not self._paths or self.work.is_under_way:
            return
        paths, preview = self._paths, self._preview
        moment, today = self._clock.moment(), self._clock.today()
        self.work.start(
            lambda progress: self._calls.import_files(
                paths, preview=preview, moment=moment, today=today, progress=progress
            ),
            done=self._imported,
            refusal=self.tr("Nothing was imported"),
            label=self.tr("Importing register files"),
            saves=True,
        )

    def _imported(self, done: RegisterImported) -> None:
        written = sum(one.added + one.changed for one in done.files)
        self._paths = ()
        self.panel.hide()
        self.closed.emit(self.tr("Imported {0}.").format(counted(written, "row")))
        self.changed.emit(done.changes)

    def export(self, folder: str | Path) -> None:
        """Write the register's files into a folder."""
        target = Path(folder)
        self._begin()
        self.opened.emit(self.tr("Writing the register."))
        self.work.start(
            lambda _: tuple(self._calls.export_files(target)),
            done=lambda files: self._exported(files, target),
            refusal=self.tr("Nothing was written"),
            label=self.tr("Writing register files"),
        )

    def _exported(self, files: Sequence[ExportedFile], target: Path) -> None:
        told = self.tr("Wrote {0} to {1}.")
        self.closed.emit(told.format(counted(len(files), "file"), target.name))

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self.panel.apply_theme(theme)
