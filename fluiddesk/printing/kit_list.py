"""The kit of a round as a list to be ticked off."""

from datetime import date
from pathlib import Path
from typing import Final

from PySide6.QtCore import QRectF

from fluiddesk.printing.page import A4, BOLD, FAINT, pdf_paper
from fluiddesk.services.visit_papers.facts import Kit

_LEFT: Final = 120.0
_WIDTH: Final = A4[0] - 2 * _LEFT
_BOTTOM: Final = A4[1] - 70.0


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
            what, much = QRectF(_LEFT + 70, y, 900, 400), QRectF(_LEFT + 990, y, 870, 400)
            high = max(
                paper.height_of(line.what, what.width(), size=40),
                paper.height_of(line.how_much, much.width(), size=40),
            )
            if y + high > _BOTTOM:
                paper.new_page()
                y = 100.0
                what.moveTop(y)
                much.moveTop(y)
            paper.square(_LEFT, y + 8, side=38)
            paper.text(line.what, what, size=40)
            paper.text(line.how_much, much, size=40)
            y += high + 16
            paper.line(_LEFT, y - 6, _LEFT + _WIDTH, y - 6, width=1)
