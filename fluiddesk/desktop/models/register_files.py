"""Tables of register files under preview: what each file would do, and what is wrong with it."""

from PySide6.QtCore import QObject
from typing_extensions import override

from fluiddesk.desktop.models.fact_model import FactColumn, FactModel
from fluiddesk.desktop.theme import Theme
from fluiddesk.services.register_files.facts import FileOutcome, FileProblem


class FileModel(FactModel):
    """The files with what importing them would do."""

    def __init__(self, *, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(theme=theme, parent=parent)
        self._files: tuple[FileOutcome, ...] = ()

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("File")),
            FactColumn(title=self.tr("List")),
            FactColumn(title=self.tr("Rows"), is_number=True),
            FactColumn(title=self.tr("To add"), is_number=True),
            FactColumn(title=self.tr("To change"), is_number=True),
            FactColumn(title=self.tr("Unchanged"), is_number=True),
        )

    def show(self, files: tuple[FileOutcome, ...]) -> None:
        """Show these files."""
        self.beginResetModel()
        self._files = files
        self.endResetModel()

    @override
    def length(self) -> int:
        return len(self._files)

    @override
    def cell(self, row: int, column: int) -> str:
        one = self._files[row]
        texts = (one.file, one.kind.replace("_", " "), one.rows, one.added, one.changed,
                 one.unchanged)  # fmt: skip
        return str(texts[column])


class FileProblemModel(FactModel):
    """What is wrong in the files, with the remedy."""

    def __init__(self, *, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(theme=theme, parent=parent)
        self._problems: tuple[FileProblem, ...] = ()

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("File")),
            FactColumn(title=self.tr("Row"), is_number=True),
            FactColumn(title=self.tr("Column")),
            FactColumn(title=self.tr("Value")),
            FactColumn(title=self.tr("Problem")),
            FactColumn(title=self.tr("Remedy")),
        )

    def show(self, problems: tuple[FileProblem, ...]) -> None:
        """Show these problems."""
        self.beginResetModel()
        self._problems = problems
        self.endResetModel()

    @override
    def length(self) -> int:
        return len(self._problems)

    @override
    def cell(self, row: int, column: int) -> str:
        one = self._problems[row]
        where = "" if one.row is None else str(one.row)
        return (one.file, where, one.column, one.value, one.text, one.remedy)[column]

    @override
    def is_faint(self, row: int, column: int) -> bool:
        return not self._problems[row].refuses
