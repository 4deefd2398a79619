"""Tables of register files under preview: what each file would do, and what is wrong with it."""

from typing_extensions import override

from fluiddesk.desktop.models.fact_model import FactColumn
from fluiddesk.desktop.models.list_model import ListModel
from fluiddesk.services.register_files.facts import FileOutcome, FileProblem


class FileModel(ListModel[FileOutcome]):
    """The files with what importing them would do."""

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

    @override
    def cell(self, row: int, column: int) -> str:
        one = self.rows[row]
        texts = (one.file, one.kind.replace("_", " "), one.rows, one.added, one.changed,
                 one.unchanged)  # fmt: skip
        return str(texts[column])


class FileProblemModel(ListModel[FileProblem]):
    """What is wrong in the files, with the remedy."""

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

    @override
    def cell(self, row: int, column: int) -> str:
        one = self.rows[row]
        where = "" if one.row is None else str(one.row)
        return (one.file, where, one.column, one.value, one.text, one.remedy)[column]

    @override
    def is_faint(self, row: int, column: int) -> bool:
        return not self.rows[row].refuses
