"""Compliance of a period on paper: the whole, then every group, with what each figure means."""

from datetime import date
from pathlib import Path
from typing import Final

from PySide6.QtCore import QRectF

from fluiddesk.domain.sampling.compliance import Share
from fluiddesk.printing.page import A4, BOLD, FAINT, NORMAL, RIGHT, Paper, pdf_paper
from fluiddesk.services.interval_compliance.facts import ComplianceLine, ComplianceTable

_LEFT: Final = 120.0
_WIDTH: Final = A4[0] - 2 * _LEFT
_BOTTOM: Final = A4[1] - 150.0
_ROW: Final = 58.0
_COLUMNS: Final = (
    ("due", 640.0),
    ("excused", 790.0),
    ("on time", 1000.0),
    ("taken", 1210.0),
    ("usable", 1420.0),
    ("missed", 1600.0),
    ("early samples", 1860.0),
)
_MEANING: Final = (
    "Due: samples whose window closed in the period. On time: drawn inside the window, a tenth of "
    "the interval before and after (US Army TB 43-0211); taken: on time or late; usable: with a "
    "verdict; each of those owed, which is due less excused. Early samples: share of routine "
    "samples drawn before their window. Counted are due samples, not bottles."
)


def write_compliance(table: ComplianceTable, path: Path, *, printed_on: date) -> int:
    """Write compliance by group as a PDF; returns the number of pages.

    Raises:
        CannotWriteError: when the file cannot be written.
    """
    pages = 1
    with pdf_paper(path, title="Sampling compliance") as paper:
        y = _head(paper, table, printed_on)
        for line in (ComplianceLine(group="All", measures=table.total), *table.lines):
            if y > _BOTTOM - _ROW:
                paper.new_page()
                pages += 1
                y = _columns(paper, table, 110.0)
            y = _line(paper, line, y, is_bold=line.group == "All")
        paper.text(_MEANING, QRectF(_LEFT, _BOTTOM + 20, _WIDTH, 130), size=25, color=FAINT)
    return pages


def _head(paper: Paper, table: ComplianceTable, printed_on: date) -> float:
    y = 100.0
    title = QRectF(_LEFT, y, _WIDTH, 120)
    y += paper.text("Sampling compliance", title, size=76, weight=BOLD) + 8
    told = f"{table.first_day.isoformat()} to {table.last_day.isoformat()}, by "
    told += f"{table.by.value.replace('_', ' ')}, printed {printed_on.isoformat()}"
    y += paper.text(told, QRectF(_LEFT, y, _WIDTH, 60), size=34, color=FAINT) + 14
    y += paper.text(table.sentence, QRectF(_LEFT, y, _WIDTH, 160), size=40) + 30
    return _columns(paper, table, y)


def _columns(paper: Paper, table: ComplianceTable, y: float) -> float:
    name = table.by.value.replace("_", " ").capitalize()
    paper.text(name, QRectF(_LEFT, y, 500, 50), size=30, weight=BOLD)
    for word, end in _COLUMNS:
        box = QRectF(_LEFT + end - 250, y, 250, 50)
        paper.text(word, box, size=30, weight=BOLD, align=RIGHT)
    paper.line(_LEFT, y + 46, _LEFT + _WIDTH, y + 46, width=4)
    return y + 56


def _line(paper: Paper, line: ComplianceLine, y: float, *, is_bold: bool) -> float:
    found = line.measures
    cells = (
        str(found.due),
        str(found.excused),
        _percent(found.on_time_share),
        _percent(found.taken_share),
        _percent(found.usable_share),
        str(found.missed),
        _percent(found.early_samples),
    )
    weight = BOLD if is_bold else NORMAL
    paper.text(line.group, QRectF(_LEFT, y, 520, _ROW), size=32, weight=weight)
    for (_, end), cell in zip(_COLUMNS, cells, strict=True):
        box = QRectF(_LEFT + end - 250, y, 250, _ROW)
        paper.text(cell, box, size=32, weight=weight, align=RIGHT)
    high = max(paper.height_of(line.group, 520, size=32) + 14, _ROW)
    paper.line(_LEFT, y + high - 6, _LEFT + _WIDTH, y + high - 6, width=1)
    return y + high


def _percent(share: Share) -> str:
    percent = share.percent
    return "-" if percent is None else f"{percent:.0f} %"
