"""The labels of a round's bottles, in working order, and blank ones."""

from collections.abc import Sequence
from datetime import date

from fluiddesk.services.visit_papers.facts import Label
from fluiddesk.services.visit_papers.sheets import visit_sheets
from fluiddesk.services.workplace import Workplace


def visit_labels(place: Workplace, visit_ids: Sequence[bytes], *, today: date) -> tuple[Label, ...]:
    """The labels of issued bottles of some visits; bottles without a code have none.

    Raises:
        NotFoundError: when a visit is not there.
    """
    return tuple(
        Label(
            code=row.bottle_code,
            site=sheet.site,
            machine=sheet.machine,
            compartment=row.compartment,
            fluid=row.fluid,
            port=row.port.split(",", 1)[0],
            reason=row.reason,
            is_special=row.is_special,
        )
        for sheet in visit_sheets(place, visit_ids, today=today)
        for row in sheet.rows
        if row.bottle_code
    )


def blank_labels(codes: Sequence[str], *, site: str) -> tuple[Label, ...]:
    """Labels of spare bottles, to be written on by hand."""
    return tuple(Label(code=code, site=site) for code in codes)
