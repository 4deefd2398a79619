"""Reads a laboratory file into rows accepted, rows held and problems; it changes nothing."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import islice
from pathlib import Path
from typing import Final

from fluiddesk.domain.analytes import Analyte, AnalyteCode
from fluiddesk.domain.errors import CancelledError
from fluiddesk.domain.samples import OpenBottle
from fluiddesk.intake.columns import BoundColumns, bind_columns
from fluiddesk.intake.files import LabTable, Row, open_lab_file
from fluiddesk.intake.layouts import LabLayout, Role, choose_layout, layout_named
from fluiddesk.intake.long_form import gathered_rows
from fluiddesk.intake.matching import Matcher
from fluiddesk.intake.problems import IntakeReport, LabFileError
from fluiddesk.intake.rows import RowReader

ROWS_AT_ONCE: Final = 500

Progress = Callable[[int, int | None], bool]
"""Told the rows done and the rows expected; answers whether to go on."""


def read_lab_file(
    path: Path | str,
    *,
    layouts: Sequence[LabLayout],
    analytes: Mapping[AnalyteCode, Analyte],
    open_bottles: Callable[[Sequence[str]], Sequence[OpenBottle]],
    layout_name: str | None = None,
    progress: Progress | None = None,
) -> IntakeReport:
    """Everything one file says, matched to its bottles, with every problem in it.

    ``open_bottles`` is asked, a few hundred codes at a time, for the bottles on the register.
    Without ``layout_name`` the one layout that fits is taken.

    Raises:
        OperatorError: when the file cannot be read at all, no single layout fits, or ``progress``
            answers to stop.
    """
    table = open_lab_file(path)
    if layout_name is None:
        layout = choose_layout(layouts, table)
    else:
        layout = layout_named(layouts, layout_name)
    columns, rows = layout_table(table, layout, analytes)
    report = IntakeReport(
        file=table.path.name,
        sha256=table.sha256,
        layout=layout.name,
        laboratory=layout.laboratory,
        headers=columns.headers,
    )
    report.add_problems(columns.problems)
    reader = RowReader(layout, columns, is_csv=table.kind == "csv")
    matcher = Matcher(layout, report)
    for piece in pieces(rows):
        read = [reader.read(row) for row in piece if not row.is_blank]
        codes = sorted({row.bottle_code for row in read} - {""})
        bottles = {bottle.bottle_code: bottle for bottle in open_bottles(codes)} if codes else {}
        for row in read:
            matcher.add(row, bottles.get(row.bottle_code))
        report.rows_read += len(read)
        if progress is not None and not progress(piece[-1].number, table.expected_rows):
            raise CancelledError(f"Reading {report.file} was stopped. Nothing was taken in.")
    if report.rows_read == 0:
        raise LabFileError(
            f"{report.file} has headings but no rows below them. Ask the laboratory for the file."
        )
    matcher.settle()
    return report


def read_held_row(
    held: Row,
    headers: Sequence[str],
    *,
    layout: LabLayout,
    analytes: Mapping[AnalyteCode, Analyte],
    open_bottles: Callable[[Sequence[str]], Sequence[OpenBottle]],
) -> IntakeReport:
    """One row that was put aside, read again after a person corrected its cells.

    Raises:
        OperatorError: when the headings are not those of the layout any more.
    """
    header = Row(held.file, held.sheet, 0, tuple(headers))
    columns = bind_columns(layout, header, units=None, analytes=analytes)
    report = IntakeReport(
        file=held.file,
        sha256="",
        layout=layout.name,
        laboratory=layout.laboratory,
        headers=columns.headers,
        rows_read=1,
    )
    read = RowReader(layout, columns, is_csv=False).read(held)
    matcher = Matcher(layout, report)
    found = open_bottles([read.bottle_code]) if read.bottle_code else []
    matcher.add(read, found[0] if found else None)
    matcher.settle()
    return report


def layout_table(
    table: LabTable,
    layout: LabLayout,
    analytes: Mapping[AnalyteCode, Analyte],
    *,
    key: Role = Role.BOTTLE,
) -> tuple[BoundColumns, Iterator[Row]]:
    """The layout's columns in this file, and its rows of values, one a sample.

    Raises:
        LabFileError: when the file has not the headings of the layout.
    """
    if layout.long_form is not None:
        header = _header(table, layout, table.head(layout.hints), key)
        return gathered_rows(table, layout, header, analytes)
    columns, first_row = bound_table(table, layout, analytes, key=key)
    return columns, (row for row in table.rows(layout.hints) if row.number >= first_row)


def bound_table(
    table: LabTable,
    layout: LabLayout,
    analytes: Mapping[AnalyteCode, Analyte],
    *,
    key: Role = Role.BOTTLE,
) -> tuple[BoundColumns, int]:
    """The layout's columns in this file, and the number of the first row of values.

    Raises:
        LabFileError: when the file has not the headings of the layout.
    """
    head = table.head(layout.hints)
    header = _header(table, layout, head, key)
    units = None
    if layout.has_units_row:
        units = next((row for row in head if row.number > header.number), None)
    columns = bind_columns(layout, header, units=units, analytes=analytes)
    return columns, (units or header).number + 1


def _header(table: LabTable, layout: LabLayout, head: Sequence[Row], key: Role) -> Row:
    header = layout.header_of(head, key=key)
    if header is None:
        raise LabFileError(
            f"{table.path.name} has not the headings of layout {layout.name}. "
            "Choose the laboratory that sent it, or correct the layout."
        )
    return header


def pieces(rows: Iterable[Row]) -> Iterator[list[Row]]:
    """The rows in pieces, so that neither they nor the questions asked of the register pile up."""
    walker = iter(rows)
    while piece := list(islice(walker, ROWS_AT_ONCE)):
        yield piece
