"""Sheets and labels made up for tests of what is drawn."""

from datetime import date
from typing import Any

import numpy as np
import pypdfium2
from numpy.typing import NDArray

from fluiddesk.domain.samples import DrawMethod, SampleReason
from fluiddesk.services.visit_papers.facts import Label, Sheet, SheetRow
from fluiddesk.services.visit_papers.procedures import load_procedure

PRINTED = date(2026, 6, 30)


def make_row(place: int, **changes: Any) -> SheetRow:
    given: dict[str, Any] = {
        "place": place,
        "compartment": f"Final drive, number {place}",
        "fluid": "Final-drive oil SAE 50",
        "family": "oil",
        "port": "tube, level plug, yellow ring",
        "method": DrawMethod.VACUUM_TUBE,
        "flush_ml": 60.0,
        "flush": "60 ml",
        "tube_mm": 800.0,
        "tube": "800 mm",
        "hazards": "",
        "bottle_code": f"26P-0000{place}-X" if place < 10 else f"26P-000{place}-X",
        "reason": SampleReason.ROUTINE,
        "is_special": False,
    }
    return SheetRow(**(given | changes))


def make_sheet(count: int, **changes: Any) -> Sheet:
    procedure = load_procedure()
    given: dict[str, Any] = {
        "machine": "TT-77",
        "machine_kind": "Invented truck",
        "site": "Test site",
        "area": "north pit",
        "planned_on": date(2026, 7, 6),
        "crew": "First",
        "minutes": 75.0,
        "rows": tuple(make_row(place) for place in range(1, count + 1)),
        "before": procedure.before,
        "ways": tuple(procedure.ways.values()),
        "after": procedure.after,
        "cautions": procedure.cautions,
    }
    return Sheet(**(given | changes))


def make_label(code: str, **changes: Any) -> Label:
    given: dict[str, Any] = {
        "code": code,
        "site": "Test site",
        "machine": "TT-77",
        "compartment": "Final drive, left",
        "fluid": "Final-drive oil SAE 50",
        "port": "tube",
        "reason": SampleReason.ROUTINE,
    }
    return Label(**(given | changes))


def page_texts(path: Any) -> list[str]:
    """The text of each page of a PDF, as a reader finds it."""
    with pypdfium2.PdfDocument(str(path)) as document:
        return [page.get_textpage().get_text_bounded() for page in document]


def page_image(path: Any, page: int = 0, *, dpi: float = 300.0) -> NDArray[np.uint8]:
    """One page as pixels, (height, width, 3)."""
    with pypdfium2.PdfDocument(str(path)) as document:
        drawn = document[page].render(scale=dpi / 72.0).to_numpy()
        return np.ascontiguousarray(drawn[:, :, :3])
