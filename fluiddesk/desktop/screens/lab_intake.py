"""The Results page: reports are keyed, files are taken in, unknown ones are described."""

from enum import StrEnum
from pathlib import Path

from PySide6.QtCore import Signal
from PySide6.QtGui import QKeyEvent, QKeySequence, QShowEvent
from PySide6.QtWidgets import QStackedWidget, QVBoxLayout, QWidget
from typing_extensions import override

from fluiddesk.charts.look import Look
from fluiddesk.desktop.background import Background
from fluiddesk.desktop.theme import GAP, MARGIN, STEP, Theme
from fluiddesk.desktop.viewstate.intake_calls import IntakeCalls
from fluiddesk.desktop.viewstate.keying_calls import KeyingCalls
from fluiddesk.desktop.viewstate.mapping_calls import MappingCalls
from fluiddesk.desktop.widgets.file_asking import LastFolders
from fluiddesk.desktop.widgets.file_intake_view import FileIntakeView
from fluiddesk.desktop.widgets.keying_view import KeyingView
from fluiddesk.desktop.widgets.mapping_view import MappingView
from fluiddesk.desktop.widgets.section_bar import SectionBar
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.workplace import Workplace
from fluiddesk.wiring import Clock


class Section(StrEnum):
    """The parts of the page."""

    KEYING = "keying"
    FILES = "files"
    MAPPING = "mapping"


class LabIntakeScreen(QWidget):
    """The clerk's page.

    Signals:
        changed: what saving, taking in or undoing altered, as ``Changes``.
        box_opened: the compartment whose page is to be shown.
    """

    changed = Signal(object)
    box_opened = Signal(object)

    def __init__(
        self,
        place: Workplace,
        *,
        clock: Clock,
        theme: Theme,
        background: Background,
        last_folders: LastFolders | None = None,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.title = self.tr("Results")
        self.keying = KeyingView(
            KeyingCalls(place=place), clock=clock, theme=theme, background=background
        )
        self.files = FileIntakeView(
            IntakeCalls(place=place),
            clock=clock,
            theme=theme,
            background=background,
            last_folders=last_folders,
        )
        self.mapping = MappingView(
            MappingCalls(place=place),
            clock=clock,
            theme=theme,
            background=background,
            last_folders=last_folders,
        )
        self._sections: dict[Section, KeyingView | FileIntakeView | MappingView] = {
            Section.KEYING: self.keying,
            Section.FILES: self.files,
            Section.MAPPING: self.mapping,
        }
        self._heads = {key: part.head for key, part in self._sections.items()}
        words = [
            (Section.KEYING.value, self.tr("Key reports")),
            (Section.FILES.value, self.tr("Files")),
            (Section.MAPPING.value, self.tr("Describe a file")),
        ]
        self.bar = SectionBar(words, _look(theme), self)
        self._stack = QStackedWidget()
        self._lay_out()
        self.bar.chosen.connect(lambda key: self.show_section(Section(key)))
        for part in (self.keying, self.files):
            part.changed.connect(self.changed)
        self.keying.box_opened.connect(self.box_opened)
        self.files.describe_asked.connect(self.describe_file)
        self.mapping.saved.connect(self.open_file)
        self.show_section(Section.KEYING)

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(MARGIN, MARGIN, MARGIN, GAP + STEP)
        column.setSpacing(GAP)
        for head in self._heads.values():
            column.addWidget(head)
        column.addWidget(self.bar)
        column.addSpacing(STEP)
        column.addWidget(self._stack, 1)
        for section in self._sections.values():
            self._stack.addWidget(section)

    @property
    def section(self) -> Section:
        """The part on screen."""
        return next(
            key for key, part in self._sections.items() if part is self._stack.currentWidget()
        )

    @property
    def sentence(self) -> str:
        """The page's sentence as shown."""
        return self._heads[self.section].text()

    @property
    def is_busy(self) -> bool:
        """Whether something of the page is being read or saved."""
        return any(part.is_busy for part in self._sections.values())

    def show_section(self, section: Section) -> None:
        """Bring a part of the page on screen."""
        self._stack.setCurrentWidget(self._sections[section])
        for key, head in self._heads.items():
            head.setVisible(key is section)
        self.bar.show_chosen(section.value)
        if self.isVisible():
            self.focus_first()

    def focus_first(self) -> None:
        """Give the keyboard to where work begins."""
        self._sections[self.section].focus_first()

    def open_file(self, path: Path | str, layout_name: str | None = None) -> None:
        """Show what taking a laboratory's file in would do."""
        self.show_section(Section.FILES)
        self.files.open_file(path, layout_name=layout_name)

    def describe_file(self, path: Path | str) -> None:
        """Describe a file whose form is not known yet."""
        self.show_section(Section.MAPPING)
        self.mapping.describe(path)

    def show_picture(self, section: str, lab_file: Path | None) -> None:
        """Show a part of the page for a picture: "queue", "keying", "mapping", else the files."""
        if section == "mapping" and lab_file is not None:
            self.describe_file(lab_file)
        elif section == "keying":
            self.keying.show_example()
        elif section != "queue" and lab_file is not None:
            self.open_file(lab_file)

    def keep_now(self) -> None:
        """Save what was typed last: the program is about to close."""
        self.keying.keep_now()

    def refresh(self) -> None:
        """Read the queue and the past files anew."""
        self.keying.refresh()
        self.files.refresh()

    def show_changes(self, changes: Changes) -> None:
        """Read anew what others changed."""
        self.files.show_changes(changes)
        if changes.subjects & {Subject.RESULTS, Subject.FLEET, Subject.ASSESSMENTS}:
            self.keying.refresh()

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        for head in self._heads.values():
            head.apply_theme(theme)
        self.bar.apply_look(_look(theme))
        for part in self._sections.values():
            part.apply_theme(theme)

    @override
    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self.focus_first()

    @override
    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.matches(QKeySequence.StandardKey.Refresh):
            self.refresh()
        else:
            super().keyPressEvent(event)


def _look(theme: Theme) -> Look:
    return Look(colors=theme.colors, body=theme.body, small=theme.small, strong=theme.strong)
