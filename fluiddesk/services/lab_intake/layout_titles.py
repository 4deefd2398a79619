"""The layouts a person may choose from, with the laboratory that each belongs to."""

from fluiddesk.services.lab_intake.preview import layouts
from fluiddesk.services.workplace import Workplace


def layout_titles(place: Workplace) -> dict[str, str]:
    """What to show for each layout's name: the name itself and the laboratory's name."""
    with place.store.reading() as desk:
        names = desk.catalogue.laboratories()
    return {one.name: _title(one.name, names.get(one.laboratory, "")) for one in layouts(place)}


def _title(name: str, laboratory: str) -> str:
    return f"{name} ({laboratory})" if laboratory else name
