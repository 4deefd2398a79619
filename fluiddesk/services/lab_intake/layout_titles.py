"""The layouts a person may choose from, with the laboratory that each belongs to."""

from collections.abc import Mapping

from fluiddesk.intake.layouts import LabLayout
from fluiddesk.services.lab_intake.preview import layouts
from fluiddesk.services.workplace import Workplace


def layout_titles(place: Workplace) -> dict[str, str]:
    """What to show for each layout's name: the name itself and the laboratory's name."""
    with place.store.reading() as desk:
        names = desk.catalogue.laboratories()
    return {one.name: layout_title(one, names) for one in layouts(place)}


def layout_title(layout: LabLayout, laboratories: Mapping[str, str]) -> str:
    """What to show for a layout: its name and the name of its laboratory."""
    return _title(layout.name, laboratories.get(layout.laboratory, ""))


def _title(name: str, laboratory: str) -> str:
    return f"{name} ({laboratory})" if laboratory else name
