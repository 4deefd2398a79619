"""The tables of the Sampling page together."""

from PySide6.QtCore import QObject

from fluiddesk.desktop.models.catch_chances import ChanceBoxModel, chance_model
from fluiddesk.desktop.models.sampling import (
    DueModel,
    EventModel,
    VisitBoxModel,
    compliance_model,
    crew_model,
    leg_model,
    out_model,
    service_model,
    shipment_model,
    special_model,
)
from fluiddesk.desktop.models.taking_draft import TakingModel
from fluiddesk.desktop.theme import Theme


class SamplingTables:
    """Makes every table of the page."""

    def __init__(self, *, theme: Theme, parent: QObject) -> None:
        self.boxes = VisitBoxModel(theme=theme, parent=parent)
        self.due = DueModel(theme=theme, parent=parent)
        self.specials = special_model(theme=theme, parent=parent)
        self.sheet = TakingModel(theme=theme, parent=parent)
        self.crews = crew_model(theme=theme, parent=parent)
        self.services = service_model(theme=theme, parent=parent)
        self.groups = compliance_model(theme=theme, parent=parent)
        self.events = EventModel(theme=theme, parent=parent)
        self.chances = chance_model(theme=theme, parent=parent)
        self.chance_boxes = ChanceBoxModel(theme=theme, parent=parent)
        self.out = out_model(theme=theme, parent=parent)
        self.legs = leg_model(theme=theme, parent=parent)
        self.shipments = shipment_model(theme=theme, parent=parent)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        for model in vars(self).values():
            model.apply_theme(theme)
