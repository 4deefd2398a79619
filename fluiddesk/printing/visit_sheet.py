"""A visit sheet: one machine a page, in working order, to be filled in at the machine."""

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Final

from PySide6.QtCore import QRectF

from fluiddesk.domain.samples import DrawMethod
from fluiddesk.printing.page import A4, BOLD, FAINT, INK, NORMAL, RIGHT, Paper, pdf_paper
from fluiddesk.services.visit_papers.facts import Caution, Kit, Sheet, SheetRow

_LEFT: Final = 120.0
_WIDTH: Final = A4[0] - 2 * _LEFT
_BOTTOM: Final = A4[1] - 70.0
_HIGHEST_ROW: Final = 160.0
_LOWEST_ROW: Final = 128.0
_STEP_SIZE: Final = 26

_METHODS: Final = {
    DrawMethod.VALVE_PROBE: "valve probe, running",
    DrawMethod.VACUUM_TUBE: "pump and tube, stopped",
}


def write_visit_sheets(sheets: Sequence[Sheet], path: Path, *, printed_on: date) -> int:
    """Write the sheets of a round as one PDF; returns the number of pages.

    Raises:
        CannotWriteError: when the file cannot be written.
    """
    pages = 0
    with pdf_paper(path, title="Sampling visits") as paper:
        for sheet in sheets:
            rest: tuple[SheetRow, ...] = sheet.rows
            is_first = True
            while rest or is_first:
                if pages:
                    paper.new_page()
                pages += 1
                rest = _page(paper, sheet, rest, printed_on=printed_on, is_first=is_first)
                is_first = False
    return pages


def _page(
    paper: Paper, sheet: Sheet, rows: tuple[SheetRow, ...], *, printed_on: date, is_first: bool
) -> tuple[SheetRow, ...]:
    """Draw one page; returns the rows for which it had no room."""
    y = _header(paper, sheet, is_first=is_first)
    foot = _footer(paper, sheet, printed_on)
    below = 0.0
    if is_first:
        y = _before(paper, sheet, y)
        below = _lower(paper, sheet, 0.0, draws=False) + 30
    room = foot - y - below
    count = min(len(rows), max(1, int(room // _LOWEST_ROW)))
    high = min(_HIGHEST_ROW, room / max(count, 1))
    y = _table(paper, rows[:count], y, high=high)
    if is_first:
        _lower(paper, sheet, y, draws=True)
    return rows[count:]


def _lower(paper: Paper, sheet: Sheet, y: float, *, draws: bool) -> float:
    """Everything below the list of bottles; returns where it ends."""
    y = _missing_points(paper, sheet, y, draws=draws)
    y = _ways(paper, sheet, y, draws=draws)
    return _cautions(paper, sheet.cautions[1:], y, draws=draws)


def _header(paper: Paper, sheet: Sheet, *, is_first: bool) -> float:
    y = 90.0
    paper.text(sheet.machine, QRectF(_LEFT, y, 1100, 140), size=104, weight=BOLD)
    box = QRectF(_LEFT, y, _WIDTH, 60)
    going_on = "" if is_first else ", continued"
    paper.text(f"Sampling visit{going_on}", box, size=36, color=FAINT, align=RIGHT)
    box = QRectF(_LEFT, y + 46, _WIDTH, 80)
    paper.text(sheet.planned_on.isoformat(), box, size=58, weight=BOLD, align=RIGHT)
    told = [sheet.machine_kind, sheet.site, sheet.area, f"crew {sheet.crew}" if sheet.crew else ""]
    told.append(f"about {sheet.minutes:.0f} min")
    words = ", ".join(part for part in told if part)
    paper.text(words, QRectF(_LEFT, y + 128, _WIDTH, 50), size=34)
    y += 186
    fields = (("Meter", 0.0, 420.0), ("Date, time", 440.0, 560.0), ("Taken by", 1020.0, 840.0))
    for word, start, wide in fields:
        x = _LEFT + start
        paper.text(word, QRectF(x, y, 200, 50), size=32, weight=BOLD)
        paper.line(x + 34 + 17 * len(word), y + 44, x + wide, y + 44)
    return y + 70


def _before(paper: Paper, sheet: Sheet, y: float) -> float:
    half = (len(sheet.before) + 1) // 2
    width = _WIDTH / 2 - 20
    ends = [y]
    for at, some in enumerate((sheet.before[:half], sheet.before[half:])):
        box = QRectF(_LEFT + at * (width + 40), y, width, 1e4)
        ends.append(paper.numbered(some, box, size=28, start=1 + at * half))
    return max(ends) + 10


def _table(paper: Paper, rows: tuple[SheetRow, ...], y: float, *, high: float) -> float:
    paper.line(_LEFT, y, _LEFT + _WIDTH, y, width=5)
    for row in rows:
        _row(paper, row, y, high)
        y += high
        paper.line(_LEFT, y, _LEFT + _WIDTH, y)
    return y + 16


def _row(paper: Paper, row: SheetRow, y: float, high: float) -> None:
    top = y + 10
    paper.text(f"{row.place}", QRectF(_LEFT, top, 70, 60), size=46, weight=BOLD)
    box = QRectF(_LEFT + 76, top, 490, 100)
    used = paper.text(row.compartment, box, size=36, weight=BOLD)
    box = QRectF(_LEFT + 76, top + used, 490, high - used - 10)
    paper.text(row.fluid, box, size=25, color=FAINT)
    _how(paper, row, QRectF(_LEFT + 576, top, 470, high - 10))
    x = _LEFT + 1060
    code = row.bottle_code or "no label yet"
    paper.text(code, QRectF(x, top, 320, 60), size=36, weight=BOLD)
    if row.is_special:
        paper.bar(QRectF(x, y + 58, 290, 12))
        word = row.reason.value.replace("_", " ")
        paper.text(word, QRectF(x, y + 68, 290, 34), size=25, weight=BOLD)
    paper.text("litres added", QRectF(x, y + high - 38, 200, 34), size=25)
    paper.line(x + 155, y + high - 10, x + 290, y + high - 10)
    _ticks(paper, _LEFT + 1384, y + 12)


def _how(paper: Paper, row: SheetRow, box: QRectF) -> None:
    """The port and the way the sample is drawn there; hazards before all else."""
    lines = [(row.hazards, BOLD, INK)] if row.hazards else []
    lines.append((row.port, NORMAL, INK))
    told = [_METHODS.get(row.method, row.method.value), f"flush {row.flush}"]
    told += [f"tube {row.tube}"] if row.tube else []
    lines.append((", ".join(told), NORMAL, FAINT))
    size = next(
        (
            one
            for one in (26, 24, 22)
            if sum(paper.height_of(text, box.width(), size=one) for text, _, _ in lines)
            <= box.height()
        ),
        20,
    )
    y = box.y()
    for text, weight, color in lines:
        place = QRectF(box.x(), y, box.width(), 200)
        y += paper.text(text, place, size=size, weight=weight, color=color)


def _ticks(paper: Paper, x: float, y: float) -> None:
    """What was done, to be ticked at the machine."""
    words = (
        ("flushed", "above line", "fluid changed"),
        ("warm", "lid marked", "filter changed"),
        ("mixed", "", ""),
    )
    starts = (0.0, 130.0, 291.0)
    for line, some in enumerate(words):
        for start, word in zip(starts, some, strict=True):
            if word:
                top = y + 38 * line
                paper.square(x + start, top, side=26)
                paper.text(word, QRectF(x + start + 33, top - 2, 160, 40), size=23)


def _missing_points(paper: Paper, sheet: Sheet, y: float, *, draws: bool) -> float:
    if not sheet.no_way:
        return y
    words = (
        f"Not on this sheet: {', '.join(sheet.no_way)}. The register knows only a drain there; a "
        "sample is never planned from the drain stream."
    )
    box = QRectF(_LEFT, y, _WIDTH, 200)
    return y + paper.text(words, box, size=28, weight=BOLD, draws=draws) + 8


def _ways(paper: Paper, sheet: Sheet, y: float, *, draws: bool) -> float:
    columns = max(1, len(sheet.ways))
    width = (_WIDTH - 40 * (columns - 1)) / columns
    ends = [y]
    for at, way in enumerate(sheet.ways):
        x = _LEFT + at * (width + 40)
        title = QRectF(x, y, width, 100)
        below = y + paper.text(way.title, title, size=28, weight=BOLD, draws=draws) + 4
        steps = way.steps if at < columns - 1 else (*way.steps, *sheet.after)
        box = QRectF(x, below, width, 1e4)
        ends.append(paper.numbered(steps, box, size=_STEP_SIZE, draws=draws))
    return max(ends) + 8


def _cautions(paper: Paper, cautions: Sequence[Caution], y: float, *, draws: bool) -> float:
    if draws:
        paper.line(_LEFT, y, _LEFT + _WIDTH, y, width=5)
    half = (len(cautions) + 1) // 2
    width = _WIDTH / 2 - 20
    ends = [y]
    for at, some in enumerate((cautions[:half], cautions[half:])):
        x, below = _LEFT + at * (width + 40), y + 12
        for one in some:
            box = QRectF(x, below, width, 400)
            words = f"{one.topic}: {one.text}"
            below += paper.text(words, box, size=_STEP_SIZE, draws=draws) + 4
        ends.append(below)
    return max(ends)


def _footer(paper: Paper, sheet: Sheet, printed_on: date) -> float:
    """The order of authority, at the foot of every page; returns where it begins."""
    words = sheet.cautions[0].text if sheet.cautions else ""
    told = f"{words} Printed {printed_on.isoformat()}."
    high = paper.height_of(told, _WIDTH, size=26, weight=BOLD)
    top = _BOTTOM - high
    paper.text(told, QRectF(_LEFT, top, _WIDTH, high + 20), size=26, weight=BOLD)
    return top - 14


def write_kit_list(kit: Kit, path: Path, *, round_name: str, printed_on: date) -> None:
    """Write what a round needs as a list to be ticked off.

    Raises:
        CannotWriteError: when the file cannot be written.
    """
    with pdf_paper(path, title="Kit for a round") as paper:
        y = 100.0
        y += paper.text("Kit", QRectF(_LEFT, y, _WIDTH, 120), size=90, weight=BOLD) + 10
        told = f"{round_name}, printed {printed_on.isoformat()}"
        y += paper.text(told, QRectF(_LEFT, y, _WIDTH, 60), size=34, color=FAINT) + 30
        for line in kit.lines:
            if y > _BOTTOM - 60:
                paper.new_page()
                y = 100.0
            paper.square(_LEFT, y + 8, side=38)
            paper.text(line.what, QRectF(_LEFT + 70, y, 900, 60), size=40)
            paper.text(line.how_much, QRectF(_LEFT + 990, y, 870, 60), size=40)
            y += 66
            paper.line(_LEFT, y - 4, _LEFT + _WIDTH, y - 4, width=1)
