"""A visit sheet: one machine a page, in working order, to be filled in at the machine."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Final

from PySide6.QtCore import QRectF, QSizeF

from fluiddesk.printing.page import A4, BOLD, FAINT, RIGHT, Paper, pdf_paper
from fluiddesk.printing.visit_rows import CLOSE, LEFT, MIDDLE, ROOMY, RowType, draw_rows
from fluiddesk.services.visit_papers.facts import Caution, Sheet, SheetRow

_WIDTH: Final = A4[0] - 2 * LEFT
_BOTTOM: Final = A4[1] - 70.0
_GAP: Final = 30.0
_ONWARD: Final = 56.0
"""The line that says that a sheet goes on."""


@dataclass(frozen=True, slots=True)
class _Look:
    """How large a page is set: the rows, and the size of the steps and cautions."""

    rows: RowType
    steps: int


# From what is read at arm's length down to what a list on one page leaves room for; 35 are 10
# points.
_LOOKS: Final = (
    *(_Look(ROOMY, size) for size in (40, 38, 36, 34, 32, 30)),
    *(_Look(MIDDLE, size) for size in (34, 32, 30, 28)),
    *(_Look(CLOSE, size) for size in (32, 30, 28, 26)),
)
# What goes over several pages needs no small type.
_WIDE: Final = _Look(ROOMY, 36)
_STEPS: Final = (40, 38, 36, 34, 32, 30, 28, 26)
_NAMES: Final = (104, 92, 80, 70, 60, 52)


def write_visit_sheets(sheets: Sequence[Sheet], path: Path, *, printed_on: date) -> int:
    """Write the sheets of a round as one PDF; returns the number of pages.

    Raises:
        CannotWriteError: when the file cannot be written.
    """
    pages = 0
    with pdf_paper(path, title="Sampling visits") as paper:
        for sheet in sheets:
            if pages:
                paper.new_page()
            pages += _draw(paper, sheet, printed_on)
    return pages


def _draw(paper: Paper, sheet: Sheet, printed_on: date) -> int:
    """Draw one sheet from a fresh page on; returns the number of pages that it took."""
    y = _header(paper, sheet, is_first=True)
    foot = _footer(paper, sheet, printed_on)
    look = _look_for(paper, sheet, foot - y)
    if look is not None:
        y = _before(paper, sheet, y, look, draws=True)
        room = foot - y - _lower(paper, sheet, 0.0, look, draws=False) - _GAP
        _lower(paper, sheet, _rows(paper, sheet.rows, y, room, look), look, draws=True)
        return 1
    y = _before(paper, sheet, y, _WIDE, draws=True)
    return 1 + _over_pages(paper, sheet, printed_on, y, foot)


def _over_pages(paper: Paper, sheet: Sheet, printed_on: date, y: float, foot: float) -> int:
    """Draw a list that is too long for one page, the steps on the last; returns the pages added."""
    rest = sheet.rows
    for page in range(1, len(sheet.rows) + 2):
        room = foot - y - _ONWARD
        count = min(len(rest), int(room // _WIDE.rows.lowest))
        _rows(paper, rest[:count], y, room, _WIDE)
        rest = rest[count:]
        goes_on = "The list, the steps" if rest else "The steps"
        told = f"{goes_on} and the cautions go on over the page."
        paper.text(told, QRectF(LEFT, foot - _ONWARD + 8, _WIDTH, 60), size=30, color=FAINT)
        paper.new_page()
        y = _header(paper, sheet, is_first=False)
        foot = _footer(paper, sheet, printed_on)
        room = foot - y - len(rest) * _WIDE.rows.lowest - _GAP
        fitting = [
            _Look(ROOMY, size)
            for size in _STEPS
            if _lower(paper, sheet, 0.0, _Look(ROOMY, size), draws=False) <= room
        ]
        if fitting or not rest:
            look = fitting[0] if fitting else _Look(ROOMY, _STEPS[-1])
            below = _lower(paper, sheet, 0.0, look, draws=False) + _GAP
            y = _rows(paper, rest, y, foot - y - below, look)
            _lower(paper, sheet, y, look, draws=True)
            return page
    raise AssertionError("every page takes a row at least")


def _rows(paper: Paper, rows: tuple[SheetRow, ...], y: float, room: float, look: _Look) -> float:
    """Draw rows in a room; returns where the next thing may stand."""
    if not rows:
        return y
    high = min(look.rows.highest, room / len(rows))
    return draw_rows(paper, rows, y, high=high, width=_WIDTH, look=look.rows)


def _look_for(paper: Paper, sheet: Sheet, room: float) -> _Look | None:
    """The largest type in which everything stands on one page."""
    for look in _LOOKS:
        needed = len(sheet.rows) * look.rows.lowest + _GAP
        needed += _before(paper, sheet, 0.0, look, draws=False)
        needed += _lower(paper, sheet, 0.0, look, draws=False)
        if needed <= room:
            return look
    return None


def _lower(paper: Paper, sheet: Sheet, y: float, look: _Look, *, draws: bool) -> float:
    """Everything below the list of bottles; returns where it ends."""
    y = _missing_points(paper, sheet, y, draws=draws)
    y = _ways(paper, sheet, y, look.steps, draws=draws)
    return _cautions(paper, sheet.cautions[1:], y, look.steps, draws=draws)


def _header(paper: Paper, sheet: Sheet, *, is_first: bool) -> float:
    y = 90.0
    room = QSizeF(1280, 136)
    size = paper.size_that_fits(sheet.machine, room, _NAMES, weight=BOLD)
    # However long the name is, it stands on the line below it.
    top = y + 136 - max(paper.height_of(sheet.machine, 1280, size=size, weight=BOLD), 126)
    paper.text(sheet.machine, QRectF(LEFT, top, 1280, 140), size=size, weight=BOLD)
    box = QRectF(LEFT, y, _WIDTH, 60)
    going_on = "" if is_first else ", continued"
    paper.text(f"Sampling visit{going_on}", box, size=36, color=FAINT, align=RIGHT)
    box = QRectF(LEFT, y + 46, _WIDTH, 80)
    paper.text(sheet.planned_on.isoformat(), box, size=58, weight=BOLD, align=RIGHT)
    told = [sheet.machine_kind, sheet.site, sheet.area, f"crew {sheet.crew}" if sheet.crew else ""]
    told.append(f"about {sheet.minutes:.0f} min")
    words = ", ".join(part for part in told if part)
    y += 128
    y += paper.text(words, QRectF(LEFT, y, _WIDTH, 200), size=34) + 16
    fields = (("Meter", 0.0, 420.0), ("Date, time", 440.0, 560.0), ("Taken by", 1020.0, 840.0))
    for word, start, wide in fields:
        x = LEFT + start
        paper.text(word, QRectF(x, y, 200, 50), size=32, weight=BOLD)
        paper.line(x + 34 + 17 * len(word), y + 44, x + wide, y + 44)
    return y + 70


def _before(paper: Paper, sheet: Sheet, y: float, look: _Look, *, draws: bool) -> float:
    width = _WIDTH / 2 - 20
    size = max(look.steps, 28)

    def high(step: str) -> float:
        return paper.height_of(step, width - 1.4 * size, size=size) + 5

    first = _half_way([high(one) for one in sheet.before])
    ends = [y]
    for at, some in enumerate((sheet.before[:first], sheet.before[first:])):
        box = QRectF(LEFT + at * (width + 40), y, width, 1e4)
        start = 1 + at * first
        ends.append(paper.numbered(some, box, size=size, start=start, draws=draws))
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
