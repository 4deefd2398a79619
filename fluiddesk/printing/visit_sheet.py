"""A visit sheet: one machine a page, in working order, to be filled in at the machine."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Final

from PySide6.QtCore import QRectF

from fluiddesk.printing.page import A4, BOLD, FAINT, RIGHT, Paper, pdf_paper
from fluiddesk.printing.visit_rows import CLOSE, LEFT, ROOMY, RowType, draw_rows
from fluiddesk.services.visit_papers.facts import Caution, Sheet, SheetRow

_WIDTH: Final = A4[0] - 2 * LEFT
_BOTTOM: Final = A4[1] - 70.0
_GAP: Final = 30.0


@dataclass(frozen=True, slots=True)
class _Look:
    """How large a page is set: the rows, and the size of the steps and cautions."""

    rows: RowType
    steps: int


# From what is read at arm's length down to what a long list leaves room for; 35 are 10 points.
_LOOKS: Final = (
    *(_Look(ROOMY, size) for size in (40, 38, 36, 34, 32, 30)),
    *(_Look(CLOSE, size) for size in (34, 32, 30, 28)),
    _Look(CLOSE, 26),
)


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
    look = _look_for(paper, sheet, rows, foot - y, is_first=is_first)
    below = 0.0
    if is_first:
        y = _before(paper, sheet, y, look, draws=True)
        below = _lower(paper, sheet, 0.0, look, draws=False) + _GAP
    room = foot - y - below
    count = min(len(rows), max(1, int(room // look.rows.lowest)))
    high = min(look.rows.highest, room / max(count, 1))
    y = draw_rows(paper, rows[:count], y, high=high, width=_WIDTH, look=look.rows)
    if is_first:
        _lower(paper, sheet, y, look, draws=True)
    return rows[count:]


def _look_for(
    paper: Paper, sheet: Sheet, rows: Sequence[SheetRow], room: float, *, is_first: bool
) -> _Look:
    """The largest type in which everything stands on the page, else the smallest."""
    for look in _LOOKS:
        needed = len(rows) * look.rows.lowest
        if is_first:
            needed += _before(paper, sheet, 0.0, look, draws=False) + _GAP
            needed += _lower(paper, sheet, 0.0, look, draws=False)
        if needed <= room:
            return look
    return _LOOKS[-1]


def _lower(paper: Paper, sheet: Sheet, y: float, look: _Look, *, draws: bool) -> float:
    """Everything below the list of bottles; returns where it ends."""
    y = _missing_points(paper, sheet, y, draws=draws)
    y = _ways(paper, sheet, y, look.steps, draws=draws)
    return _cautions(paper, sheet.cautions[1:], y, look.steps, draws=draws)


def _header(paper: Paper, sheet: Sheet, *, is_first: bool) -> float:
    y = 90.0
    paper.text(sheet.machine, QRectF(LEFT, y, 1100, 140), size=104, weight=BOLD)
    box = QRectF(LEFT, y, _WIDTH, 60)
    going_on = "" if is_first else ", continued"
    paper.text(f"Sampling visit{going_on}", box, size=36, color=FAINT, align=RIGHT)
    box = QRectF(LEFT, y + 46, _WIDTH, 80)
    paper.text(sheet.planned_on.isoformat(), box, size=58, weight=BOLD, align=RIGHT)
    told = [sheet.machine_kind, sheet.site, sheet.area, f"crew {sheet.crew}" if sheet.crew else ""]
    told.append(f"about {sheet.minutes:.0f} min")
    words = ", ".join(part for part in told if part)
    paper.text(words, QRectF(LEFT, y + 128, _WIDTH, 50), size=34)
    y += 186
    fields = (("Meter", 0.0, 420.0), ("Date, time", 440.0, 560.0), ("Taken by", 1020.0, 840.0))
    for word, start, wide in fields:
        x = LEFT + start
        paper.text(word, QRectF(x, y, 200, 50), size=32, weight=BOLD)
        paper.line(x + 34 + 17 * len(word), y + 44, x + wide, y + 44)
    return y + 70


def _before(paper: Paper, sheet: Sheet, y: float, look: _Look, *, draws: bool) -> float:
    half = (len(sheet.before) + 1) // 2
    width = _WIDTH / 2 - 20
    ends = [y]
    for at, some in enumerate((sheet.before[:half], sheet.before[half:])):
        box = QRectF(LEFT + at * (width + 40), y, width, 1e4)
        size = max(look.steps, 28)
        ends.append(paper.numbered(some, box, size=size, start=1 + at * half, draws=draws))
    return max(ends) + 10


def _missing_points(paper: Paper, sheet: Sheet, y: float, *, draws: bool) -> float:
    if not sheet.no_way:
        return y
    words = (
        f"Not on this sheet: {', '.join(sheet.no_way)}. The register knows only a drain there; a "
        "sample is never planned from the drain stream."
    )
    box = QRectF(LEFT, y, _WIDTH, 200)
    return y + paper.text(words, box, size=28, weight=BOLD, draws=draws) + 8


def _ways(paper: Paper, sheet: Sheet, y: float, size: int, *, draws: bool) -> float:
    columns = max(1, len(sheet.ways))
    width = (_WIDTH - 40 * (columns - 1)) / columns
    ends = [y]
    for at, way in enumerate(sheet.ways):
        x = LEFT + at * (width + 40)
        title = QRectF(x, y, width, 100)
        below = y + paper.text(way.title, title, size=size + 2, weight=BOLD, draws=draws) + 4
        steps = way.steps if at < columns - 1 else (*way.steps, *sheet.after)
        box = QRectF(x, below, width, 1e4)
        ends.append(paper.numbered(steps, box, size=size, draws=draws))
    return max(ends) + 8


def _cautions(
    paper: Paper, cautions: Sequence[Caution], y: float, size: int, *, draws: bool
) -> float:
    if draws:
        paper.line(LEFT, y, LEFT + _WIDTH, y, width=5)
    width = _WIDTH / 2 - 20

    def high(one: Caution) -> float:
        return paper.height_of(f"{one.topic}: {one.text}", width, size=size) + 4

    first = _half_way([high(one) for one in cautions])
    ends = [y]
    for at, some in enumerate((cautions[:first], cautions[first:])):
        x, below = LEFT + at * (width + 40), y + 12
        for one in some:
            words = f"{one.topic}: {one.text}"
            box = QRectF(x, below, width, 400)
            below += paper.text(words, box, size=size, draws=draws) + 4
        ends.append(below)
    return max(ends)


def _half_way(heights: Sequence[float]) -> int:
    """How many of them stand in the first of two columns, so that both are of like height."""
    whole = sum(heights)
    return min(
        range(len(heights) + 1), key=lambda count: abs(2 * sum(heights[:count]) - whole), default=0
    )


def _footer(paper: Paper, sheet: Sheet, printed_on: date) -> float:
    """The order of authority, at the foot of every page; returns where it begins."""
    words = sheet.cautions[0].text if sheet.cautions else ""
    told = f"{words} Printed {printed_on.isoformat()}."
    high = paper.height_of(told, _WIDTH, size=26, weight=BOLD)
    top = _BOTTOM - high
    paper.text(told, QRectF(LEFT, top, _WIDTH, high + 20), size=26, weight=BOLD)
    return top - 14
