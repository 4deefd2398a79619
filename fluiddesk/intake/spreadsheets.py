"""Reads the rows of an XLSX workbook, after making sure that opening it is safe.

An XLSX file is a ZIP archive of XML. Its parts are inflated once in a stream and counted, because
the sizes written in the archive can lie; a small file that inflates without end is refused before
the reader sees it.
"""

import re
import zipfile
import zlib
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Final

from fluiddesk.intake.problems import LabFileError

SheetValue = str | int | float | bool | date | datetime | time | timedelta

MOST_PARTS: Final = 2_000
MOST_BYTES: Final = 200 * 1024 * 1024
MOST_TIMES: Final = 100
_PIECE: Final = 1 << 20
_ERRORS_NAMED: Final = 10
_OVERLAP: Final = 200
_ERROR_CELL: Final = re.compile(rb'<c\b[^<>]*?\br="([A-Z]{1,3}\d{1,7})"[^<>]*?\bt="e"')
_SAVE_AS_CSV: Final = "Open it in a spreadsheet program, save the sheet as CSV and read that."


def check_container(path: Path) -> None:
    """Refuse a workbook that is damaged, too large inside, or that holds error cells.

    Error cells (#N/A, #DIV/0!) would otherwise read as empty, that is as not tested.

    Raises:
        LabFileError: with the remedy.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            _check_parts(path, archive)
    except (zipfile.BadZipFile, zlib.error, EOFError) as fault:
        raise LabFileError(
            f"{path.name} is damaged: its parts cannot be unpacked. Ask for the file again."
        ) from fault
    except (RuntimeError, NotImplementedError) as fault:
        raise LabFileError(
            f"{path.name} is locked or packed in an unusual way. {_SAVE_AS_CSV}"
        ) from fault


def _check_parts(path: Path, archive: zipfile.ZipFile) -> None:
    parts = archive.infolist()
    if len(parts) > MOST_PARTS:
        raise LabFileError(
            f"{path.name} has {len(parts)} parts inside, more than {MOST_PARTS}. {_SAVE_AS_CSV}"
        )
    if "xl/workbook.xml" not in archive.namelist():
        raise LabFileError(
            f"{path.name} is a ZIP archive without a workbook inside. "
            "Unpack it and read the CSV or XLSX file in it."
        )
    most = min(MOST_BYTES, MOST_TIMES * path.stat().st_size)
    inflated = 0
    errors: list[str] = []
    for part in parts:
        for piece in _pieces(archive, part):
            inflated += len(piece) - _OVERLAP
            if inflated > most:
                raise LabFileError(
                    f"{path.name} unpacks to more than {most / 1024 / 1024:.0f} MB, which no "
                    f"laboratory report needs. {_SAVE_AS_CSV}"
                )
            if part.filename.startswith("xl/worksheets/") and len(errors) < _ERRORS_NAMED:
                errors += [cell.decode() for cell in _ERROR_CELL.findall(piece)]
    if errors:
        raise LabFileError(
            f"{path.name} has error cells such as #N/A in {', '.join(dict.fromkeys(errors))}. "
            "Correct or empty them and save the file again."
        )


def _pieces(archive: zipfile.ZipFile, part: zipfile.ZipInfo) -> Iterator[bytes]:
    """The inflated part in pieces; each starts with the end of the one before (spaces at first)."""
    tail = b" " * _OVERLAP
    with archive.open(part) as stream:
        while piece := stream.read(_PIECE):
            joined = tail + piece
            yield joined
            tail = joined[-_OVERLAP:]


def sheet_names(path: Path) -> list[str]:
    """The sheets of a workbook in their order, hidden ones included.

    Raises:
        LabFileError: when the workbook cannot be read.
    """
    from python_calamine import CalamineError, CalamineWorkbook

    try:
        return list(CalamineWorkbook.from_path(path).sheet_names)
    except CalamineError as fault:
        raise LabFileError(
            f"{path.name} cannot be read as a spreadsheet. {_SAVE_AS_CSV}"
        ) from fault


def sheet_rows(path: Path, sheet: str | None) -> tuple[str, Iterator[tuple[SheetValue, ...]]]:
    """The name of a sheet and its rows from the first row and the first column on.

    Without a name the first sheet with anything in it is taken.

    Raises:
        LabFileError: when the workbook cannot be read or has no such sheet.
    """
    from python_calamine import CalamineError, CalamineWorkbook

    try:
        workbook = CalamineWorkbook.from_path(path)
        names = workbook.sheet_names
        if sheet is not None and sheet not in names:
            raise LabFileError(
                f'{path.name} has no sheet "{sheet}"; it has {", ".join(names)}. '
                "Choose another layout, or rename the sheet."
            )
        for name in names if sheet is None else [sheet]:
            found = workbook.get_sheet_by_name(name)
            if found.start is not None:
                left = ("",) * found.start[1]
                return name, (left + tuple(row) for row in found.iter_rows())
    except CalamineError as fault:
        raise LabFileError(
            f"{path.name} cannot be read as a spreadsheet. {_SAVE_AS_CSV}"
        ) from fault
    return sheet or names[0], iter(())
