"""A first look at a file nobody described yet: what its rules say, each of them changeable.

Encoding: byte order mark, pattern of zero bytes, strict UTF-8, else the code page given. Delimiter:
the best table (``dialects.py``). Heading row: the row that looks most like headings above rows of
values. Decimal mark: the one that most numbers have.
"""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.units import UnitError, unit_named
from fluiddesk.intake.dialects import best_delimiter
from fluiddesk.intake.files import FileHints, LabTable, Row, open_lab_file, printed_text
from fluiddesk.intake.problems import LabFileError
from fluiddesk.intake.spreadsheets import sheet_names

LOOKED_AT: Final = 400
_HEADINGS_WITHIN: Final = 40
_START: Final = 1 << 16
_NUMBER: Final = re.compile(
    r"\s*[<>\u2264\u2265]?\s*[-+]?[0-9][0-9.,' \u2019]*(?:[eE][-+]?[0-9]+)?\s*"
)
_COMMA: Final = re.compile(r"[<>\s]*[-+]?[0-9]+,[0-9]+")
_POINT: Final = re.compile(r"[<>\s]*[-+]?[0-9]+\.[0-9]+")
_THOUSANDS_COMMA: Final = re.compile(r"[<>\s]*[-+]?[0-9]{1,3}(?:,[0-9]{3})+\.[0-9]+")
_THOUSANDS_POINT: Final = re.compile(r"[<>\s]*[-+]?[0-9]{1,3}(?:\.[0-9]{3})+,[0-9]+")
_LEAST_HEADINGS: Final = 2
_UNITS_SHARE: Final = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingChoices:
    """What a person says of a file against the rules; ``None`` leaves it to them.

    ``header_row`` counts from 1. ``is_long_form``: one value a row, against one sample a row.
    """

    code_page: str | None = None
    delimiter: str | None = None
    sheet: str | None = None
    decimal_mark: str | None = None
    header_row: int | None = None
    is_long_form: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TableLook:
    """A file as its rules read it.

    ``rows`` are the first rows below the headings (and below a row of units), ``above`` what stands
    over them. ``encoding`` is ``None`` for a workbook.
    """

    table: LabTable
    hints: FileHints
    sheets: tuple[str, ...]
    sheet: str
    encoding: str | None
    delimiter: str | None
    decimal_mark: str
    thousands_mark: str
    header: Row
    units: Row | None
    above: tuple[Row, ...]
    rows: tuple[Row, ...]

    def column(self, place: int) -> list[str]:
        """The cells of a column as printed, empty ones left out."""
        texts = (printed_text(row.values[place]) for row in self.rows if place < len(row.values))
        return [text.strip() for text in texts if text.strip()]


def look_at(path: Path | str, choices: ReadingChoices | None = None) -> TableLook:
    """Read the beginning of a file by the rules, and by what a person chose against them.

    Raises:
        OperatorError: when the file cannot be read at all, or holds no table.
    """
    choices = choices or ReadingChoices()
    table = open_lab_file(path)
    if choices.code_page:
        _refuse_unknown(choices.code_page)
        table = replace(table, encoding=choices.code_page if table.kind == "csv" else None)
    hints = FileHints(delimiter=choices.delimiter, sheet=choices.sheet)
    hints = replace(hints, delimiter=_delimiter(table, hints))
    sheets = tuple(sheet_names(table.path)) if table.kind == "xlsx" else ()
    head = table.head(hints, count=LOOKED_AT)
    header = _header(table, head, choices.header_row)
    below = [row for row in head if row.number > header.number and not row.is_blank]
    units = below[0] if below and _is_units(below[0]) else None
    rows = below[1:] if units else below
    mark, thousands = _marks(rows, choices.decimal_mark)
    return TableLook(
        table=table,
        hints=hints,
        sheets=sheets,
        sheet=header.sheet,
        encoding=(table.encoding or hints.code_page) if table.kind == "csv" else None,
        delimiter=hints.delimiter,
        decimal_mark=mark,
        thousands_mark=thousands,
        header=header,
        units=units,
        above=tuple(row for row in head if row.number < header.number),
        rows=tuple(rows),
    )


def _refuse_unknown(code_page: str) -> None:
    try:
        "".encode(code_page)
    except (LookupError, ValueError) as fault:
        raise LabFileError(
            f'"{code_page}" is not a code page. Choose one such as utf-8, cp1252 or latin-1.'
        ) from fault


def _delimiter(table: LabTable, hints: FileHints) -> str | None:
    if table.kind == "xlsx" or hints.delimiter is not None:
        return hints.delimiter
    try:
        with table.path.open(encoding=table.encoding or hints.code_page, newline="") as text:
            return best_delimiter(text.read(_START))
    except UnicodeDecodeError as fault:
        raise LabFileError(
            f"{table.path.name} cannot be read as {table.encoding or hints.code_page}. "
            "Choose another code page."
        ) from fault


def _header(table: LabTable, head: Sequence[Row], wanted: int | None) -> Row:
    if wanted is not None:
        for row in head:
            if row.number == wanted:
                return row
        raise LabFileError(
            f"{table.path.name} has no row {wanted} among its first {LOOKED_AT}. Choose another "
            "row of headings."
        )
    near = [row for row in head[:_HEADINGS_WITHIN] if not row.is_blank]
    scored = [(_heading_score(row, near[at + 1 : at + 6]), -at) for at, row in enumerate(near)]
    if not scored or max(scored)[0] <= 0:
        raise LabFileError(
            f"{table.path.name} holds no table: no row looks like headings. Choose the row of "
            "headings, the sheet or the sign between columns."
        )
    return near[-max(scored)[1]]


def _heading_score(row: Row, below: Sequence[Row]) -> float:
    """Different words side by side, above rows that have numbers under them."""
    texts = [text.strip() for text in row.printed if text.strip()]
    words = {text for text in texts if not _NUMBER.fullmatch(text)}
    if len(words) < _LEAST_HEADINGS:
        return 0.0
    numbers = len(texts) - sum(not _NUMBER.fullmatch(text) for text in texts)
    filled = [sum(bool(text.strip()) for text in other.printed) for other in below]
    under = max(filled, default=0)
    values = [
        sum(_NUMBER.fullmatch(text) is not None for text in other.printed if text.strip())
        for other in below
    ]
    has_values = 1.0 if max(values, default=0) else 0.3
    return has_values * (len(words) - 2.0 * numbers) * min(1.0, (under + 1) / len(texts))


def _is_units(row: Row) -> bool:
    """Whether a row says units: at least half of its cells are units the table knows."""
    texts = [text.strip() for text in row.printed if text.strip()]
    return len(texts) > 1 and sum(map(is_unit, texts)) >= _UNITS_SHARE * len(texts)


def is_unit(text: str) -> bool:
    """Whether a text is a unit of the table."""
    try:
        unit_named(text)
    except UnitError:
        return False
    return True


def _marks(rows: Sequence[Row], wanted: str | None) -> tuple[str, str]:
    """Decimal and thousands mark by what most numbers have; a point where none has any."""
    if wanted is not None and wanted not in (".", ","):
        raise OperatorError(
            f'The decimal mark cannot be "{wanted}". Choose the point or the comma.'
        )
    counts: Counter[str] = Counter()
    for row in rows:
        for value in row.values:
            if isinstance(value, str):
                counts["thousands ,"] += _THOUSANDS_COMMA.fullmatch(value) is not None
                counts["thousands ."] += _THOUSANDS_POINT.fullmatch(value) is not None
                counts[","] += _COMMA.fullmatch(value) is not None
                counts["."] += _POINT.fullmatch(value) is not None
    by_count = "," if counts[","] + counts["thousands ."] > counts["."] else "."
    mark = wanted or by_count
    other = "," if mark == "." else "."
    return mark, other if counts[f"thousands {other}"] else ""
