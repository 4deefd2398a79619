"""What a laboratory can measure: name, unit, family, harmful direction, plausible range."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Literal

import numpy as np
from numpy.typing import NDArray

AnalyteCode = str
FloatColumn = NDArray[np.float64]


class AnalyteFamily(StrEnum):
    """The reason for looking at a value."""

    WEAR = "wear"
    CONTAMINATION = "contamination"
    ADDITIVE = "additive"
    FLUID_CONDITION = "fluid_condition"
    COOLANT = "coolant"
    FUEL = "fuel"

    @property
    def word(self) -> str:
        """The heading shown to people."""
        return self.value.replace("_", " ").capitalize()


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A range of values with the source of its ends, in the analyte's unit."""

    low: float
    high: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Precision:
    """The 95 % limit on the difference of two results, as a function of the level X.

    ``power``: a X**b; ``relative``: a X; ``constant``: a. In the analyte's unit.
    """

    form: Literal["power", "relative", "constant"]
    a: float
    b: float
    source: str

    def at(self, level: FloatColumn) -> FloatColumn:
        """The difference two results must exceed to differ for certain, at each level.

        >>> Precision(form="power", a=0.12, b=0.91, source="").at(np.array([10.0])).round(2)
        array([0.98])
        """
        size = np.abs(np.asarray(level, dtype=np.float64))
        if self.form == "constant":
            return np.full_like(size, self.a)
        # A level too large for any laboratory has an infinite difference, not a warning.
        with np.errstate(over="ignore"):
            return self.a * size ** (1.0 if self.form == "relative" else self.b)


@dataclass(frozen=True, slots=True, kw_only=True)
class Analyte:
    """One thing a laboratory measures, in its canonical unit.

    ``number`` is the key in packed history blocks and is never given to another analyte.
    """

    number: int
    code: AnalyteCode
    name: str
    symbol: str
    family: AnalyteFamily
    unit: str
    decimals: int
    harmful: Literal["up", "down", "both"]
    method: str
    order: int
    is_safety_test: bool = False
    significant_figures: int | None = None
    plausible: Span | None = None
    usual: Mapping[str, Span] = field(default_factory=dict)
    detection_limit: float | None = None
    detection_source: str | None = None
    repeatability: Precision | None = None
    reproducibility: Precision | None = None
    synonyms: tuple[str, ...] = ()

    @property
    def name_in_text(self) -> str:
        """The name within a sentence: only its first letter is made small, so 100 °C stays."""
        return self.name[:1].lower() + self.name[1:]

    @property
    def is_presence_test(self) -> bool:
        """Whether the answer is "absent" or "present" instead of a number."""
        return self.unit == "absent/present"

    def text(self, value: float) -> str:
        """The value with the places its method reports, without the unit; never "-0"."""
        return f"{value:z.{self.decimals}f}"
