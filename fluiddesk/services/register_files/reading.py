"""Reads one register file: which list it is, its columns in any order, and every row's values."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any, Final

from fluiddesk.domain.errors import OperatorError
from fluiddesk.intake.files import CellValue, FileHints, LabTable, Row, open_lab_file, printed_text
from fluiddesk.intake.problems import Problem, ProblemSeverity
from fluiddesk.intake.values import Fault
from fluiddesk.services.register_files.cells import (
    Spelling,
    looks_like_thousands,
    number,
    text_of,
)
from fluiddesk.services.register_files.columns import FILE_KINDS, Column, FileKind
from fluiddesk.services.register_files.counting import RowCount

_DELIMITERS: Final = (",", ";", "\t", "|")
_HEADING_ROWS: Final = 5
_SPELLINGS_TRIED: Final = 2_000
"""Rows looked at to tell which decimal mark a file uses."""


class RegisterFileError(OperatorError):
    """A register file cannot be read at all; nothing was imported."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FileRow:
    """One row: its number in the file, and the value of every column the file has.

    ``is_sound`` is false where a cell could not be read; its value is left out then.
    """

    number: int
    values: Mapping[str, Any]
    is_sound: bool


@dataclass(slots=True, kw_only=True)
class ReadFile:
    """A register file as read. ``given``: the names of its known columns."""

    name: str
    sha256: str
    kind: FileKind
    given: frozenset[str]
    rows: list[FileRow] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)


def read_register_file(
    path: Path, *, analytes: Sequence[str], today: date, count: RowCount
) -> ReadFile:
    """Read a whole register file; whatever is wrong with its cells is collected.

    Args:
        path: CSV or XLSX file; its name or its columns say which list it is.
        analytes: codes of analytes, for the lists that hold values of them.
        today: a later date lies in the future.
        count: counts the rows read.

    Raises:
        OperatorError: when the file cannot be read at all, or is no list of the register.
        CancelledError: when ``count`` is told to stop.
    """
    table = open_lab_file(path)
    delimiter, heads, start = _headings(table, analytes)
    kind = _kind_of(path, heads)
    rows = [row for row in _rows(table, delimiter) if row.number > start and not row.is_blank]
    columns, problems = _columns(kind, heads, analytes)
    found = ReadFile(
        name=path.name,
        sha256=table.sha256,
        kind=kind,
        given=frozenset(column.name for column in columns.values()),
        problems=problems,
    )
    spelling = _spelling(rows, columns, delimiter, today)
    for row in rows:
        count.step()
        found.rows.append(_read_row(row, columns, spelling, found.problems))
    return found


def _rows(table: LabTable, delimiter: str | None) -> Iterator[Row]:
    return table.rows(FileHints(delimiter=delimiter))


def _headings(table: LabTable, analytes: Sequence[str]) -> tuple[str | None, list[str], int]:
    """The sign between columns, the headings, and the number of their row."""
    known = {column.name for kind in FILE_KINDS for column in kind.columns} | set(analytes)
    best: tuple[int, str | None, list[str], int] = (0, None, [], 0)
    faults: list[OperatorError] = []
    for delimiter in _DELIMITERS if table.kind == "csv" else (None,):
        for row in _head(table, delimiter, faults):
            heads = [_heading(value) for value in row.values]
            score = sum(head in known for head in heads)
            if score > best[0]:
                best = (score, delimiter, heads, row.number)
    if not best[0]:
        raise next(iter(faults), _no_headings(table))
    return best[1], best[2], best[3]


def _head(table: LabTable, delimiter: str | None, faults: list[OperatorError]) -> list[Row]:
    try:
        return table.head(FileHints(delimiter=delimiter), count=_HEADING_ROWS)
    except OperatorError as fault:
        # A wrong guess of the sign between columns may leave a quotation mark open.
        faults.append(fault)
        return []


def _no_headings(table: LabTable) -> RegisterFileError:
    return RegisterFileError(
        f"{table.path.name} has no headings of a register file. The first row names the "
        "columns, for example: machine, kind, model. Export the register to see every file."
    )


def _heading(value: CellValue) -> str:
    return "_".join(text_of(value).casefold().replace("-", "_").split())


def _kind_of(path: Path, heads: Sequence[str]) -> FileKind:
    """The list a file is: by its name, else the only one whose needed columns are all there."""
    stem = _heading(path.stem)
    named = [kind for kind in FILE_KINDS if stem == kind.name or stem.startswith(kind.name + "_")]
    if named:
        return max(named, key=lambda kind: len(kind.name))
    fits = [kind for kind in FILE_KINDS if _needed(kind) <= set(heads)]
    known = [sum(kind.column(head) is not None for head in heads) for kind in fits]
    best = [kind for kind, count in zip(fits, known, strict=True) if count == max(known)]
    if len(best) == 1:
        return best[0]
    names = ", ".join(f"{kind.name}.csv" for kind in FILE_KINDS)
    raise RegisterFileError(
        f"{path.name} could be more than one list of the register, or none. Name it after the "
        f"list it is: {names}."
    )


def _needed(kind: FileKind) -> set[str]:
    return {column.name for column in kind.columns if column.needed}


def _columns(
    kind: FileKind, heads: Sequence[str], analytes: Sequence[str]
) -> tuple[dict[int, Column], list[Problem]]:
    """The column at each place, and what is odd about the headings."""
    found: dict[int, Column] = {}
    problems: list[Problem] = []
    for place, head in enumerate(heads):
        column = kind.column(head)
        if column is None and kind.takes_analytes and head in analytes:
            column = Column(name=head, read=number(), is_number=True)
        if column is None:
            if head:
                problems.append(_unused(head, kind))
        elif any(one.name == head for one in found.values()):
            problems.append(
                Problem(
                    column=head,
                    wrong="this heading stands twice",
                    remedy="Take one of the columns out.",
                )
            )
        else:
            found[place] = column
    return found, problems


def _unused(head: str, kind: FileKind) -> Problem:
    return Problem(
        column=head,
        wrong=f"{kind.name} files have no such column; it is not read",
        remedy="Correct the heading if it was meant to be one of theirs.",
        severity=ProblemSeverity.WARNING,
    )


def _spelling(
    rows: Sequence[Row], columns: Mapping[int, Column], delimiter: str | None, today: date
) -> Spelling:
    """Commas are decimal marks where they do not cut the columns and no number has a point."""
    if delimiter == ",":
        return Spelling(today=today, commas_are_decimal=False)
    figures = [place for place, column in columns.items() if column.is_number]
    cells = [row.cell(place).value for row in rows[:_SPELLINGS_TRIED] for place in figures]
    texts = [value for value in cells if isinstance(value, str)]
    has_points = any("." in text for text in texts)
    has_commas = any("," in text for text in texts)
    if has_commas and not has_points:
        return Spelling(today=today, decimal_mark=",")
    return Spelling(today=today, commas_are_decimal=has_commas or delimiter is not None)


def _read_row(
    row: Row, columns: Mapping[int, Column], spelling: Spelling, problems: list[Problem]
) -> FileRow:
    values: dict[str, Any] = {}
    is_sound = True
    for place, column in columns.items():
        value = row.cell(place).value
        found = _read_cell(value, column, spelling)
        if isinstance(found, Fault):
            problems.append(_problem(row.number, column.name, value, found))
            is_sound = False
            continue
        values[column.name] = found
        if column.is_number and looks_like_thousands(value, spelling):
            doubt = Fault(
                f"is read as {found:g}", "Write it without a mark if thousands were meant."
            )
            severity = ProblemSeverity.WARNING
            problems.append(_problem(row.number, column.name, value, doubt, severity))
    return FileRow(number=row.number, values=values, is_sound=is_sound)


def _read_cell(value: CellValue, column: Column, spelling: Spelling) -> Any:
    if isinstance(value, str) and not text_of(value):
        return Fault("the cell is empty", column.remedy) if column.needed else column.default
    return column.read(value, spelling)


def _problem(
    row: int,
    column: str,
    value: CellValue,
    fault: Fault,
    severity: ProblemSeverity = ProblemSeverity.HELD,
) -> Problem:
    printed = printed_text(value)
    return Problem(
        row=row,
        column=column,
        printed=printed if printed.strip() else None,
        wrong=fault.wrong,
        remedy=fault.remedy,
        severity=severity,
    )
