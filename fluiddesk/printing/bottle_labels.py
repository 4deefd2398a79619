"""Bottle labels on sheets or rolls: words for people, a QR code of the bottle code for readers.

The QR code follows ISO/IEC 18004 (drawn from the modules of the library ``segno``, error level M)
with a quiet zone of four modules.
"""

from collections.abc import Sequence
from pathlib import Path
from typing import Final

import segno
from PySide6.QtCore import QRectF, QSizeF

from fluiddesk.domain.errors import OperatorError
from fluiddesk.printing.page import BOLD, FAINT, Paper, pdf_paper
from fluiddesk.services.visit_papers.facts import Label, LabelStock

_QUIET: Final = 4
_EDGE: Final = 28.0
_NAME_HEIGHT: Final = 70.0
_NAMES: Final = (46, 42, 38, 34, 30, 27, 24, 21)
_BLANKS: Final = ("date, time", "meter", "litres added", "by")
_ASKED: Final = ("fluid changed", "filter changed")


def write_labels(
    labels: Sequence[Label], stock: LabelStock, path: Path, *, start_at: int = 1
) -> int:
    """Write labels in order, sheet after sheet; returns the number of sheets.

    Args:
        labels: the labels.
        stock: what they are printed on.
        path: the PDF file.
        start_at: the first free place of a sheet that was begun, counted from 1.

    Raises:
        OperatorError: when there is nothing to print, or the sheet has no such place.
        CannotWriteError: when the file cannot be written.
    """
    places = stock.columns * stock.rows
    if not labels:
        raise OperatorError("There is no label to print. Issue the bottles of a visit first.")
    if not 1 <= start_at <= places:
        raise OperatorError(
            f"Place {start_at} is not on the sheet {stock.name}. Give 1 to {places}."
        )
    size = (10 * stock.page[0], 10 * stock.page[1])
    with pdf_paper(path, title="Bottle labels", size=size) as paper:
        for at, label in enumerate(labels, start=start_at - 1):
            if at > start_at - 1 and at % places == 0:
                paper.new_page()
            _label(paper, label, _place(stock, at % places))
    return (start_at - 2 + len(labels)) // places + 1


def _place(stock: LabelStock, at: int) -> QRectF:
    down, across = divmod(at, stock.columns)
    x = stock.first[0] + across * stock.pitch[0]
    y = stock.first[1] + down * stock.pitch[1]
    return QRectF(10 * x, 10 * y, 10 * stock.label[0], 10 * stock.label[1])


def _label(paper: Paper, label: Label, box: QRectF) -> None:
    side = min(box.height() - 2 * _EDGE - 46, box.width() * 0.34)
    x, y = box.x() + _EDGE, box.y() + _EDGE
    if label.is_special:
        paper.bar(QRectF(x, y, box.width() - 2 * _EDGE, 22))
        y += 28
        side = min(side, box.height() - 2 * _EDGE - 74)
    _qr(paper, label.code, QRectF(x, y, side, side))
    paper.text(label.code, QRectF(x, y + side, box.width() * 0.5, 50), size=32, weight=BOLD)
    left = x + side + 16
    width = box.x() + box.width() - _EDGE - left
    name = label.machine or label.site
    size = paper.size_that_fits(name, QSizeF(width, _NAME_HEIGHT), _NAMES, weight=BOLD)
    y += paper.text(name, QRectF(left, y, width, 90), size=size, weight=BOLD)
    if label.compartment:
        y += paper.text(label.compartment, QRectF(left, y, width, 80), size=29, weight=BOLD)
        below = box.y() + box.height() - _EDGE - 34 * 3
        _details(paper, label, QRectF(left, y, width, below - y))
    _blanks(paper, box, left)


def _details(paper: Paper, label: Label, box: QRectF) -> None:
    """Port and reason, then as much of the fluid's name as there is room for."""
    reason = label.reason.value.replace("_", " ") if label.reason else ""
    words = ", ".join(part for part in (label.port, reason) if part)
    words = words[:1].upper() + words[1:]
    used = paper.text(words, box, size=24)
    room = QRectF(box.x(), box.y() + used, box.width(), box.height() - used)
    sizes = [one for one in (22, 20, 18) if _fits(paper, label.fluid, room, one)]
    size = sizes[0] if sizes else 18
    lengths = range(len(label.fluid), 0, -1)
    shorter = (f"{label.fluid[:length].rstrip(' ,')}…" for length in lengths)
    fluid = next((one for one in (label.fluid, *shorter) if _fits(paper, one, room, size)), "")
    paper.text(fluid, room, size=size, color=FAINT)


def _fits(paper: Paper, text: str, room: QRectF, size: int) -> bool:
    return paper.height_of(text, room.width(), size=size) <= room.height()


def _blanks(paper: Paper, box: QRectF, left: float) -> None:
    """What is written on at the machine."""
    bottom = box.y() + box.height() - _EDGE
    width = (box.x() + box.width() - _EDGE - left) / 2
    for at, word in enumerate((*_BLANKS, *_ASKED)):
        down, across = divmod(at, 2)
        x, y = left + across * width, bottom - 34 * (3 - down) + 6
        asked = word in _ASKED
        words = f"{word}  Y  N" if asked else word
        paper.text(words, QRectF(x, y, width, 30), size=19)
        if not asked:
            paper.line(x + 9.5 * len(word) + 10, y + 25, x + width - 12, y + 25, width=1.5)


def _qr(paper: Paper, code: str, box: QRectF) -> None:
    modules = segno.make(code, error="m", micro=False).matrix
    size = box.width() / (len(modules) + 2 * _QUIET)
    for down, row in enumerate(modules):
        start = None
        # Dark runs as one rectangle each: single squares would leave hairlines between them.
        for across, dark in enumerate([*row, 0]):
            if dark and start is None:
                start = across
            elif not dark and start is not None:
                x, y = box.x() + (start + _QUIET) * size, box.y() + (down + _QUIET) * size
                paper.bar(QRectF(x, y, (across - start) * size, size))
                start = None
