"""The catalogue facts a simulation needs, as plain values handed in by the caller."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from fluiddesk.domain.analytes import AnalyteCode, Precision

SERVICE_HOURS: Final = 250.0
"""Hours between two services; every sampling interval is a multiple (common practice)."""

_FAMILY_WORDS: Final = (
    ("coolant", "coolant"),
    ("engine", "engine"),
    ("hydraulic", "hydraulic"),
    ("hoist", "hydraulic"),
    ("screw_compressor", "hydraulic"),
    ("swing", "swing_drive"),
    ("circle", "swing_drive"),
    ("pivot", "swing_drive"),
    ("final", "final_drive"),
    ("wheel", "final_drive"),
    ("planetary", "final_drive"),
    ("tandem", "final_drive"),
    ("transmission", "transmission"),
    ("power_train", "transmission"),
    ("converter", "transmission"),
)
_USUAL_FLUID: Final = {
    "engine": "engine_oil_15w40",
    "hydraulic": "hydraulic_vg46",
    "transmission": "powershift_sae30",
    "differential": "gear_oil_85w140",
    "final_drive": "powertrain_sae50",
    "swing_drive": "gear_oil_80w90",
    "coolant": "coolant_conventional_50",
}
_SAMPLES_PER_FILL: Final = {
    "engine": 1,
    "hydraulic": 4,
    "transmission": 2,
    "differential": 4,
    "final_drive": 4,
    "swing_drive": 4,
    "coolant": 6,
}


def family_of_kind(kind: str) -> str:
    """The family whose wear and fluid ageing a compartment kind shares; gears where none is named.

    >>> family_of_kind("wheel_end"), family_of_kind("drop_box")
    ('final_drive', 'differential')
    """
    return next((family for word, family in _FAMILY_WORDS if word in kind), "differential")


def usual_fluid(kind: str) -> str:
    """The code of the fluid grade usually filled into a compartment kind (common practice)."""
    return _USUAL_FLUID[family_of_kind(kind)]


@dataclass(frozen=True, slots=True, kw_only=True)
class AnalyteFacts:
    """How one analyte is reported, in its canonical unit."""

    number: int
    code: AnalyteCode
    decimals: int
    detection_limit: float | None = None
    reproducibility: Precision | None = None
    significant_figures: int | None = None
    is_presence_test: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class FluidFacts:
    """A fluid grade and what the unused fluid reads, in canonical units."""

    code: str
    reference: Mapping[AnalyteCode, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class CompartmentKindFacts:
    """What is usual for one kind of box: litres, residue of a change, hours between samples."""

    code: str
    capacity_l: float
    residue_share: float
    interval_hours: float
    family: str = ""
    samples_per_fill: int = 0

    @property
    def wear_family(self) -> str:
        """The family given, or the one the kind's code suggests."""
        return self.family or family_of_kind(self.code)

    @property
    def visits_between_samples(self) -> int:
        """Services from one sample to the next, at least one."""
        return max(1, round(self.interval_hours / SERVICE_HOURS))

    @property
    def change_hours(self) -> float:
        """Hours from one full change to the next."""
        per_fill = self.samples_per_fill or _SAMPLES_PER_FILL[self.wear_family]
        return self.visits_between_samples * SERVICE_HOURS * per_fill


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxFacts:
    """One box of a machine kind; ``capacity_l`` None means the kind's usual capacity."""

    kind: str
    fluid: str
    position: str = ""
    capacity_l: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineKindFacts:
    """A kind of machine with its boxes; ``prefix`` starts the machine numbers ("EX")."""

    code: str
    prefix: str
    boxes: tuple[BoxFacts, ...]
    model: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """Everything about the world that a simulation does not invent."""

    analytes: tuple[AnalyteFacts, ...]
    fluids: tuple[FluidFacts, ...]
    compartment_kinds: tuple[CompartmentKindFacts, ...]
    machine_kinds: tuple[MachineKindFacts, ...]
    coolant: str = field(default="")
    """The coolant whose analysis a leak shows in oil; the first fluid with glycol when empty."""

    def analyte(self, code: AnalyteCode) -> AnalyteFacts | None:
        """The facts of one analyte, or None where the catalogue has none."""
        return next((facts for facts in self.analytes if facts.code == code), None)

    def leaking_coolant(self) -> Mapping[AnalyteCode, float]:
        """What the coolant reads that a leak carries into oil; empty when none is known."""
        named = [fluid for fluid in self.fluids if fluid.code == self.coolant]
        glycols = [fluid for fluid in self.fluids if "coolant_glycol" in fluid.reference]
        chosen = named or glycols
        return chosen[0].reference if chosen else {}
