"""Compliance as a workbook, with figures as figures."""

from pathlib import Path

from fluiddesk.domain.errors import CannotWriteError
from fluiddesk.domain.sampling.compliance import Compliance
from fluiddesk.services.interval_compliance.facts import ComplianceTable

HEADINGS = (
    "Group", "Due", "Excused", "On time", "Late", "Missed", "Too early", "Open", "Usable",
    "On time %", "Taken %", "Usable %", "Early samples %", "Mean lateness % of interval",
)  # fmt: skip


def write_compliance_workbook(table: ComplianceTable, path: Path) -> None:
    """Write the whole and every group as one sheet.

    Names are written as text, so that none is taken for a formula.

    Raises:
        CannotWriteError: when the file cannot be written.
    """
    import xlsxwriter

    if not path.parent.is_dir():
        raise CannotWriteError(f"There is no folder {path.parent}. Make it first.")
    unfinished = path.with_name(f".{path.name}.unfinished")
    try:
        with xlsxwriter.Workbook(str(unfinished), {"strings_to_formulas": False}) as book:
            sheet = book.add_worksheet("Compliance")
            bold = book.add_format({"bold": True})
            sheet.write_string(0, 0, table.sentence)
            for column, word in enumerate(HEADINGS):
                sheet.write_string(2, column, word, bold)
            lines = [("All", table.total)] + [(one.group, one.measures) for one in table.lines]
            for row, (name, measures) in enumerate(lines, start=3):
                sheet.write_string(row, 0, name)
                for column, figure in enumerate(_figures(measures), start=1):
                    if figure is not None:
                        sheet.write_number(row, column, figure)
            sheet.set_column(0, 0, 32)
            sheet.freeze_panes(3, 1)
        unfinished.replace(path)
    except OSError as fault:
        raise CannotWriteError(f"{path} cannot be written: {fault.strerror}.") from fault
    finally:
        unfinished.unlink(missing_ok=True)


def _figures(found: Compliance) -> tuple[float | None, ...]:
    return (
        found.due, found.excused, found.on_time, found.late, found.missed, found.early,
        found.still_open, found.usable, found.on_time_share.percent, found.taken_share.percent,
        found.usable_share.percent, found.early_samples.percent, found.mean_lateness_percent,
    )  # fmt: skip
