"""The tables of the Register page, made together and drawn in one theme."""

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

from fluiddesk.desktop.models.outside_plan import FluidValueModel, OutsideModel
from fluiddesk.desktop.models.past_results import PastModel
from fluiddesk.desktop.models.register import HistoryModel, PartModel, RecordModel, TrailModel
from fluiddesk.desktop.models.register_files import FileModel, FileProblemModel
from fluiddesk.desktop.theme import Theme

if TYPE_CHECKING:
    from fluiddesk.desktop.models.fact_model import FactModel


class RegisterTables:
    """Every table of the page."""

    def __init__(self, *, theme: Theme, parent: QObject) -> None:
        self.records = RecordModel(theme=theme, parent=parent)
        self.parts = PartModel(theme=theme, parent=parent)
        self.trail = TrailModel(theme=theme, parent=parent)
        self.history = HistoryModel(theme=theme, parent=parent)
        self.files = FileModel(theme=theme, parent=parent)
        self.problems = FileProblemModel(theme=theme, parent=parent)
        self.past = PastModel(theme=theme, parent=parent)
        self.outside = OutsideModel(theme=theme, parent=parent)
        self.sample_papers = TrailModel(theme=theme, parent=parent)
        self.fluid_values = FluidValueModel(theme=theme, parent=parent)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme from now on."""
        every: tuple[FactModel, ...] = (
            self.records, self.parts, self.trail, self.history, self.files, self.problems,
            self.past, self.outside, self.sample_papers, self.fluid_values,
        )  # fmt: skip
        for one in every:
            one.apply_theme(theme)
