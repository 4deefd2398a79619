"""Opens CSV and XLSX files; every cell keeps its file, sheet, row and column.

A file is looked through once before anything is parsed: its fingerprint is taken, and a file that
is not what its name says, or that would inflate without end, is refused. Rows are then handed out
one by one, so that the size of a CSV file does not matter.
"""

import codecs
import csv
import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Final, Literal

from fluiddesk.domain.errors import NotFoundError
from fluiddesk.intake.dialects import best_delimiter
from fluiddesk.intake.problems import LabFileError
from fluiddesk.intake.spreadsheets import check_container, sheet_rows

CellValue = str | int | float | bool | date | datetime | time | timedelta

_PIECE: Final = 1 << 20
_LARGEST_WHOLE: Final = 1e15
_HEAD_BYTES: Final = 1 << 16
_BYTE_ORDER_MARKS: Final = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_CSV_ENDINGS: Final = (".csv", ".tsv", ".txt")
_OLD_SPREADSHEET: Final = bytes.fromhex("d0cf11e0a1b11ae1")


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell and where it stands; row and column count from 1."""

    file: str
    sheet: str
    row: int
    column: int
    value: CellValue

    @property
    def printed(self) -> str:
        """The cell as text: what was written, or the shortest form of a stored number or date."""
        return printed_text(self.value)


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a file; ``number`` counts from 1, as a spreadsheet shows it."""

    file: str
    sheet: str
    number: int
    values: tuple[CellValue, ...]

    def cell(self, index: int) -> Cell:
        """The cell at a position counted from 0; beyond the row's end it is empty."""
        value = self.values[index] if index < len(self.values) else ""
        return Cell(self.file, self.sheet, self.number, index + 1, value)

    @property
    def is_blank(self) -> bool:
        """Whether nothing is written in this row."""
        for value in self.values:
            if not isinstance(value, str) or (value and not value.isspace()):
                return False
        return True

    @property
    def printed(self) -> tuple[str, ...]:
        """Every cell as text."""
        return tuple(map(printed_text, self.values))


@dataclass(frozen=True, slots=True, kw_only=True)
class FileHints:
    """What a layout knows about its files beforehand.

    ``code_page`` is used when the file has no byte order mark and is not UTF-8.
    """

    code_page: str = "cp1252"
    delimiter: str | None = None
    sheet: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LabTable:
    """A laboratory file that has been looked through and can be read row by row.

    ``expected_rows`` is an upper bound for progress, ``None`` where it is not known beforehand.
    """

    path: Path
    kind: Literal["csv", "xlsx"]
    sha256: str
    encoding: str | None = None
    expected_rows: int | None = None

    def rows(self, hints: FileHints | None = None) -> Iterator[Row]:
        """Every row in order, blank ones included.

        Raises:
            LabFileError: when the file breaks off or cannot be decoded.
        """
        hints = hints or FileHints()
        if self.kind == "xlsx":
            sheet, rows = sheet_rows(self.path, hints.sheet)
            for number, values in enumerate(rows, start=1):
                yield Row(self.path.name, sheet, number, values)
            return
        yield from self._csv_rows(hints)

    def head(self, hints: FileHints | None = None, *, count: int = 40) -> list[Row]:
        """The first rows, for finding the headings."""
        found = []
        for row in self.rows(hints):
            found.append(row)
            if len(found) == count:
                break
        return found

    def _csv_rows(self, hints: FileHints) -> Iterator[Row]:
        encoding = self.encoding or hints.code_page
        number = 0
        try:
            with self.path.open(encoding=encoding, newline="") as text:
                start = text.read(_HEAD_BYTES)
                text.seek(0)
                delimiter = hints.delimiter or best_delimiter(start)
                for values in csv.reader(text, delimiter=delimiter, strict=True):
                    number += 1
                    yield Row(self.path.name, "", number, tuple(values))
        except UnicodeDecodeError as fault:
            raise LabFileError(
                f"{self.path.name} cannot be read as {encoding} after row {number}: "
                f"byte {fault.object[fault.start]:#04x} has no letter there. "
                "Name the file's code page in the layout, or save the file as UTF-8."
            ) from fault
        except csv.Error as fault:
            raise LabFileError(
                f"{self.path.name}, row {number + 1}: a quotation mark is opened and not closed "
                f"({fault}). Correct that row and read the file again."
            ) from fault


def printed_text(value: CellValue) -> str:
    """A cell's value as text.

    >>> printed_text(12.0), printed_text(0.05), printed_text(date(2026, 5, 3))
    ('12', '0.05', '2026-05-03')
    """
    if isinstance(value, str):
        return value
    if isinstance(value, float) and value.is_integer() and abs(value) < _LARGEST_WHOLE:
        return str(int(value))
    if isinstance(value, datetime):
        return value.isoformat(sep=" ")
    return value.isoformat() if isinstance(value, date | time) else str(value)


def open_lab_file(path: Path | str) -> LabTable:
    """Look through a file and make it ready to be read row by row.

    Raises:
        NotFoundError: when there is no such file.
        LabFileError: when it is empty, damaged, too large inside, or not what its name says.
    """
    path = Path(path)
    if path.is_dir():
        raise NotFoundError(f"{path} is a folder. Choose a file in it.")
    if not path.is_file():
        raise NotFoundError(f"{path} is not there. Check the name and the folder.")
    ending = path.suffix.lower()
    if ending not in (".xlsx", *_CSV_ENDINGS):
        raise LabFileError(
            f'{path.name} ends in "{path.suffix}". '
            "Laboratory files are read as CSV (.csv, .tsv, .txt) or XLSX; save it as one of them."
        )
    try:
        return _looked_through(path, ending)
    except OSError as fault:
        raise LabFileError(
            f"{path.name} cannot be read: {fault.strerror}. Check the file's permissions and disk."
        ) from fault


def _looked_through(path: Path, ending: str) -> LabTable:
    with path.open("rb") as stream:
        head = stream.read(4096)
    if not head.strip(b"\x00\t\r\n \xef\xbb\xbf\xff\xfe"):
        raise LabFileError(f"{path.name} is empty. Choose another file, or have it sent again.")
    _refuse_false_ending(path, ending, head)
    if ending == ".xlsx":
        check_container(path)
        return LabTable(path=path, kind="xlsx", sha256=_fingerprint(path))
    return _looked_through_text(path, head)


def _refuse_false_ending(path: Path, ending: str, head: bytes) -> None:
    """Compare the first bytes with what the ending promises."""
    is_zip = head.startswith(b"PK\x03\x04")
    start = head.lstrip(b"\xef\xbb\xbf\r\n\t ").lower()
    found = None
    if head.startswith(_OLD_SPREADSHEET):
        found = "an old or a password-protected spreadsheet"
    elif head.startswith(b"%PDF"):
        found = "a PDF document"
    elif start.startswith((b"<!doctype", b"<html", b"<?xml", b"<table")):
        found = "a web page or XML"
    elif ending == ".xlsx" and not is_zip:
        found = "not a spreadsheet"
    elif ending != ".xlsx" and is_zip:
        found = "a ZIP archive or a spreadsheet"
    if found is not None:
        raise LabFileError(
            f'{path.name} ends in "{ending}" but is {found}. '
            "Open it in a spreadsheet program and save it as CSV, or ask for the right file."
        )


def _fingerprint(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _looked_through_text(path: Path, head: bytes) -> LabTable:
    """One pass in pieces: fingerprint, lines, and whether it is UTF-8 throughout."""
    encoding = _encoding_by_marks(head)
    decoder: codecs.IncrementalDecoder | None = None
    if encoding is None:
        decoder = codecs.getincrementaldecoder("utf-8")()
    digest, lines, has_nul = hashlib.sha256(), 1, False
    with path.open("rb") as stream:
        while piece := stream.read(_PIECE):
            digest.update(piece)
            lines += piece.count(b"\n")
            has_nul = has_nul or b"\x00" in piece
            decoder = _still_utf8(decoder, piece)
    if has_nul and not (encoding or "").startswith("utf-16"):
        raise LabFileError(
            f'{path.name} ends in "{path.suffix}" but is not text. '
            "Choose another file, or have it sent as CSV or XLSX."
        )
    if decoder is not None and _still_utf8(decoder, b"", final=True) is not None:
        encoding = "utf-8"
    return LabTable(
        path=path,
        kind="csv",
        sha256=digest.hexdigest(),
        encoding=encoding,
        expected_rows=lines,
    )


def _still_utf8(
    decoder: codecs.IncrementalDecoder | None, piece: bytes, *, final: bool = False
) -> codecs.IncrementalDecoder | None:
    """The decoder, or nothing once a byte did not fit."""
    if decoder is None:
        return None
    try:
        decoder.decode(piece, final)
    except UnicodeDecodeError:
        return None
    return decoder


def _encoding_by_marks(head: bytes) -> str | None:
    """What a byte order mark or the pattern of zero bytes says; nothing for anything else."""
    for mark, encoding in _BYTE_ORDER_MARKS:
        if head.startswith(mark):
            return encoding
    pairs = len(head) // 2
    odd, even = head[1::2].count(0), head[0::2].count(0)
    if pairs and odd > pairs // 2 and even * 10 < pairs:
        return "utf-16-le"
    if pairs and even > pairs // 2 and odd * 10 < pairs:
        return "utf-16-be"
    return None
