"""Reads results from before this register: rows without our bottle codes; it changes nothing."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Final

from fluiddesk.domain.analytes import Analyte, AnalyteCode
from fluiddesk.domain.errors import CancelledError
from fluiddesk.domain.samples import ResultSheet
from fluiddesk.intake.files import open_lab_file
from fluiddesk.intake.layouts import LabLayout, Role, choose_layout, layout_named
from fluiddesk.intake.problems import HeldRow, LabFileError, Problem
from fluiddesk.intake.reading import layout_table, pieces
from fluiddesk.intake.rows import RowRead, RowReader

Progress = Callable[[int, int | None], bool]

MOST_ROWS: Final = 200_000
"""A file with more rows is asked for in parts: all of it is shown before anything is saved."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PastRow:
    """A sound row: whose sample the laboratory said it was, and what it measured.

    ``sheet.bottle_code`` is empty unless the row carries a bottle code of ours; the day is always
    known.
    """

    row: int
    site: str
    machine: str
    compartment: str
    sampled_on: date
    fluid_hours: float | None
    sheet: ResultSheet


@dataclass(slots=True, kw_only=True)
class PastReport:
    """What reading one file of past results came to."""

    file: str
    sha256: str
    layout: str
    laboratory: str
    rows: list[PastRow] = field(default_factory=list)
    held: list[HeldRow] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)


def read_past_file(
    path: Path | str,
    *,
    layouts: Sequence[LabLayout],
    analytes: Mapping[AnalyteCode, Analyte],
    today: date,
    layout_name: str | None = None,
    progress: Progress | None = None,
) -> PastReport:
    """Everything a file of past results says, with every problem in it.

    Without ``layout_name`` the one layout that fits is taken. A row without a machine or a day,
    with a day to come, or with a value that cannot be read, is held.

    Raises:
        OperatorError: when the file cannot be read at all, no single layout fits, it names no
            machine or no day, or ``progress`` answers to stop.
    """
    table = open_lab_file(path)
    if layout_name is None:
        layout = choose_layout(layouts, table, key=Role.MACHINE)
    else:
        layout = layout_named(layouts, layout_name)
    columns, rows = layout_table(table, layout, analytes, key=Role.MACHINE)
    if Role.SAMPLED_ON not in columns.roles:
        raise LabFileError(
            f"{table.path.name} has no column of sampling dates, so nobody can say when its "
            "samples were drawn. Ask the laboratory for it, or name its heading in the layout."
        )
    report = PastReport(
        file=table.path.name,
        sha256=table.sha256,
        layout=layout.name,
        laboratory=layout.laboratory,
        problems=list(columns.problems),
    )
    reader = RowReader(layout, columns, is_csv=table.kind == "csv", has_bottles=False)
    for piece in pieces(rows):
        for row in piece:
            if not row.is_blank:
                _add(report, reader.read(row), today)
        if len(report.rows) + len(report.held) > MOST_ROWS:
            raise LabFileError(
                f"{report.file} has more than {MOST_ROWS} rows. Take it in by parts, a year each."
            )
        if progress is not None and not progress(piece[-1].number, table.expected_rows):
            raise CancelledError(f"Reading {report.file} was stopped. Nothing was taken in.")
    if not report.rows and not report.held:
        raise LabFileError(
            f"{report.file} has headings but no rows below them. Ask the laboratory for the file."
        )
    return report


def _add(report: PastReport, read: RowRead, today: date) -> None:
    read.problems += _missing(read, today)
    report.problems += read.problems
    day = read.sheet.sampled_on_printed
    if read.is_held or day is None:
        report.held.append(
            HeldRow(row=read.row, cells=read.source.printed, reasons=tuple(read.problems))
        )
        return
    report.rows.append(
        PastRow(
            row=read.row,
            site=read.site,
            machine=read.machine,
            compartment=read.compartment,
            sampled_on=day,
            fluid_hours=read.fluid_hours,
            sheet=replace(read.sheet, report_number=_report_number(read, day)),
        )
    )


def _missing(read: RowRead, today: date) -> list[Problem]:
    problems = []
    day = read.sheet.sampled_on_printed
    if not read.machine:
        problems.append(
            Problem(
                row=read.row,
                wrong="the machine is missing",
                remedy="Write the machine's number into the row, or leave the row out.",
            )
        )
    if day is None and not any("date" in problem.wrong for problem in read.problems):
        problems.append(
            Problem(
                row=read.row,
                wrong="the day the sample was drawn is missing",
                remedy="Write it into the row; the report's own date is no substitute.",
            )
        )
    if day is not None and day > today:
        problems.append(
            Problem(
                row=read.row,
                printed=day.isoformat(),
                wrong=f"as sampling date lies after today ({today.isoformat()})",
                remedy="Compare it with the report, and correct the day, month and year.",
            )
        )
    if not read.sheet.readings or not read.sheet.has_results:
        problems.append(
            Problem(
                row=read.row,
                wrong="the row has no results",
                remedy="Leave it out; a sample that was never measured says nothing of the past.",
            )
        )
    return problems


def _report_number(read: RowRead, day: date) -> str:
    """The report's number, or what tells this report from others of the same laboratory."""
    printed = read.sheet.report_number
    return printed or f"{read.machine} {read.compartment} {day.isoformat()}".replace("  ", " ")
