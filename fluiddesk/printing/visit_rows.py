"""The list of bottles of a visit sheet: one row a bottle, in large type where there is room."""

from dataclasses import dataclass
from typing import Final

from PySide6.QtCore import QRectF, QSizeF

from fluiddesk.domain.samples import DrawMethod
from fluiddesk.printing.page import BOLD, FAINT, INK, NORMAL, Paper
from fluiddesk.services.visit_papers.facts import SheetRow

LEFT: Final = 120.0
"""Where everything on the page begins, tenths of a millimetre."""

_METHODS: Final = {
    DrawMethod.VALVE_PROBE: "valve probe, running",
    DrawMethod.VACUUM_TUBE: "pump and tube, stopped",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class RowType:
    """How large a row is set; lengths and sizes in tenths of a millimetre.

    Attributes:
        lowest: the least height of a row.
        highest: the most.
        name: size of the compartment's name and of the bottle code.
        fluid: size of the fluid.
        ways: sizes tried for the port and the way, largest first.
        tick: size of the words to be ticked, and of "litres added".
        starts: where the way, the bottle and the ticks begin, from the left of the row.
        ticks: the columns of words, where each begins and what stands under each other.
    """

    lowest: float
    highest: float
    name: int
    fluid: int
    ways: tuple[int, ...]
    tick: int
    starts: tuple[float, float, float]
    ticks: tuple[tuple[float, tuple[str, ...]], ...]


ROOMY: Final = RowType(
    lowest=190.0,
    highest=215.0,
    name=42,
    fluid=30,
    ways=(34, 32, 30, 28, 26, 24),
    tick=31,
    starts=(576.0, 1060.0, 1384.0),
    ticks=(
        (0.0, ("flushed", "warm", "mixed", "above line")),
        (225.0, ("lid marked", "fluid changed", "filter changed")),
    ),
)
MIDDLE: Final = RowType(
    lowest=142.0,
    highest=190.0,
    name=38,
    fluid=28,
    ways=(32, 30, 28, 26, 24),
    tick=27,
    starts=(500.0, 946.0, 1264.0),
    ticks=(
        (0.0, ("flushed", "warm", "mixed")),
        (158.0, ("above line", "lid marked")),
        (356.0, ("fluid changed", "filter changed")),
    ),
)
CLOSE: Final = RowType(
    lowest=128.0,
    highest=160.0,
    name=36,
    fluid=25,
    ways=(26, 24, 22),
    tick=23,
    starts=(576.0, 1060.0, 1384.0),
    ticks=(
        (0.0, ("flushed", "warm", "mixed")),
        (130.0, ("above line", "lid marked")),
        (291.0, ("fluid changed", "filter changed")),
    ),
)


def draw_rows(
    paper: Paper, rows: tuple[SheetRow, ...], y: float, *, high: float, width: float, look: RowType
) -> float:
    """Draw the rows, each ``high``; returns where the next thing may stand."""
    paper.line(LEFT, y, LEFT + width, y, width=5)
    for row in rows:
        _row(paper, row, y, high, look)
        y += high
        paper.line(LEFT, y, LEFT + width, y)
    return y + 16


def _row(paper: Paper, row: SheetRow, y: float, high: float, look: RowType) -> None:
    top = y + 10
    paper.text(f"{row.place}", QRectF(LEFT, top, 70, 60), size=46, weight=BOLD)
    ways, bottle, ticks = look.starts
    room = ways - 86
    name = paper.size_that_fits(
        row.compartment, QSizeF(room, 0.66 * high), (look.name, 34, 30, 26), weight=BOLD
    )
    box = QRectF(LEFT + 76, top, room, high)
    used = paper.text(row.compartment, box, size=name, weight=BOLD)
    below = QRectF(LEFT + 76, top + used, room, high - used - 12)
    fluid = paper.size_that_fits(row.fluid, below.size(), (look.fluid, 25, 22, 20))
    paper.text(row.fluid, below, size=fluid, color=FAINT)
    _how(paper, row, QRectF(LEFT + ways, top, bottle - ways - 14, high - 10), look)
    _bottle(paper, row, QRectF(LEFT + bottle, top, ticks - bottle - 14, high - 10), look)
    _ticks(paper, LEFT + ticks, y + 12, look)


def _bottle(paper: Paper, row: SheetRow, box: QRectF, look: RowType) -> None:
    """The bottle's code, a bar where it is special, and the litres added."""
    x, top = box.x(), box.y()
    size = min(look.name, 38)
    paper.text(row.bottle_code or "no label yet", box, size=size, weight=BOLD)
    if row.is_special:
        paper.bar(QRectF(x, top + 46, 284, 9))
        word = row.reason.value.replace("_", " ")
        paper.text(word, QRectF(x, top + 54, 284, 44), size=look.fluid, weight=BOLD)
    low = box.bottom() - 14
    words = QRectF(x, low - 1.3 * look.tick, 250, 60)
    paper.text("litres added", words, size=look.tick)
    paper.line(x + 6.3 * look.tick, low, box.right(), low)


def _how(paper: Paper, row: SheetRow, box: QRectF, look: RowType) -> None:
    """The port and the way the sample is drawn there; hazards before all else."""
    lines = [(row.hazards, BOLD, INK)] if row.hazards else []
    if row.before_change:
        lines.append((f"Draw {row.before_change}; tick the change here", BOLD, INK))
    lines.append((row.port, NORMAL, INK))
    told = [_METHODS.get(row.method, row.method.value), f"flush {row.flush}"]
    told += [f"tube {row.tube}"] if row.tube else []
    lines.append((", ".join(told), NORMAL, FAINT))
    size = next(
        (
            one
            for one in look.ways
            if sum(
                paper.height_of(text, box.width(), size=one, weight=weight)
                for text, weight, _ in lines
            )
            <= box.height()
        ),
        20,
    )
    y = box.y()
    for text, weight, color in lines:
        place = QRectF(box.x(), y, box.width(), 200)
        y += paper.text(text, place, size=size, weight=weight, color=color)


def _ticks(paper: Paper, x: float, y: float, look: RowType) -> None:
    """What was done, to be ticked at the machine."""
    pitch = 1.45 * look.tick + 4
    for offset, words in look.ticks:
        for down, word in enumerate(words):
            start, top = x + offset, y + pitch * down
            paper.square(start, top, side=1.1 * look.tick)
            box = QRectF(start + 1.45 * look.tick, top - 2, 260, 2.0 * look.tick)
            paper.text(word, box, size=look.tick)
