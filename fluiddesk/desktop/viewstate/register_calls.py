"""What the Register page asks of the services."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Protocol

from fluiddesk.desktop.viewstate.record_form import Values
from fluiddesk.desktop.viewstate.record_history import HistoryLine
from fluiddesk.desktop.viewstate.record_trail import TrailLine
from fluiddesk.desktop.viewstate.register_words import Record
from fluiddesk.services.register.facts import RegisterFacts
from fluiddesk.services.register.saving import Saved
from fluiddesk.services.register_files.facts import (
    ExportedFile,
    RegisterImported,
    RegisterPreview,
)


class Telling(Protocol):
    """Told how far work is; answers whether to go on."""

    def __call__(self, done: int, total: int | None) -> bool: ...


class RegisterCalls(Protocol):
    """The use cases of the page on one workplace. Every one may raise an ``OperatorError``."""

    def facts(self, *, today: date) -> RegisterFacts:
        """The register as it stands."""

    def layouts(self) -> tuple[str, ...]:
        """The names of the layouts a laboratory may report in."""

    def save(self, record: Record, *, moment: datetime, today: date) -> Saved:
        """Add a new record or save an edited one."""

    def act(
        self, key: str, record: Record, values: Values, *, moment: datetime, today: date
    ) -> Saved:
        """Do one of the actions of ``register_actions`` with what its form says."""

    def history(
        self, record: Record, *, fluids: Mapping[str, str], today: date
    ) -> tuple[HistoryLine, ...]:
        """What happened to a machine or a box, newest first; ``fluids`` are names by code."""

    def act_on(
        self, key: str, line: HistoryLine, values: Values, *, moment: datetime, today: date
    ) -> Saved:
        """Void a reading, correct an event or take a component out, as its form says."""

    def undo(self, record: Record, *, moment: datetime, today: date) -> Saved:
        """Take back the last change of a record by a change of its own."""

    def trail(self, record: Record) -> tuple[TrailLine, ...]:
        """The papers, remarks and changes of a record, newest first."""

    def attach(self, record: Record, path: Path, *, moment: datetime) -> Saved:
        """Keep a copy of a PDF or picture with a record."""

    def open_paper(self, paper: bytes) -> Path:
        """Copy a paper out, to be opened by another program."""

    def preview_files(
        self, paths: Sequence[Path], *, today: date, progress: Telling
    ) -> RegisterPreview:
        """Try register files on the register; nothing is changed."""

    def import_files(
        self,
        paths: Sequence[Path],
        *,
        preview: RegisterPreview | None = None,
        moment: datetime,
        today: date,
        progress: Telling,
    ) -> RegisterImported:
        """Import register files in one piece, if they still are what was previewed."""

    def export_files(self, folder: Path) -> Sequence[ExportedFile]:
        """Write the register as files."""
