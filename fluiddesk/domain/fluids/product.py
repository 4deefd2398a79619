"""A fluid as bought: class, viscosity grade and the new-fluid reference its readings start from."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from fluiddesk.domain.analytes import AnalyteCode


@dataclass(frozen=True, slots=True, kw_only=True)
class NewFluidReference:
    """What the unused fluid reads, from a date on, in canonical units."""

    valid_from: date
    values: Mapping[AnalyteCode, float]
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FluidProduct:
    """A fluid by its grade, never by a brand. Density in kg per litre."""

    code: str
    name: str
    fluid_class: str
    viscosity_grade: str
    density_kg_per_l: float
    references: tuple[NewFluidReference, ...]

    def reference_on(self, day: date) -> NewFluidReference | None:
        """The reference in force on a day: the newest that was valid by then, or none."""
        known = [reference for reference in self.references if reference.valid_from <= day]
        return max(known, key=lambda reference: reference.valid_from, default=None)
