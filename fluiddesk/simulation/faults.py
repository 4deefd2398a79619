"""The ways boxes fail: what each adds to the fluid, and how it grows until it is found or breaks.

A fault starts at a tenth of what a sample can show, and its making rate doubles every so many
hours. It can be seen from intensity 1 on and the part fails at intensity 16, so that both hours are
known truth. Levels are what one sampling interval at intensity 1 adds to a clean fluid (for
substances that leave by themselves: where they settle); common practice, no source.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

START_INTENSITY: Final = 0.1
FAILURE_INTENSITY: Final = 16.0
SHORTEST_DOUBLING_H: Final = 40.0
LONGEST_DOUBLING_H: Final = 300.0
_NEVER: Final = np.inf


@dataclass(frozen=True, kw_only=True)
class FaultMode:
    """One way to fail. ``dust`` is mg/kg taken in and ``coolant`` percent leaked per interval."""

    code: str
    families: tuple[str, ...]
    part: str
    adds: Mapping[str, float] = field(default_factory=dict)
    uses_up: Mapping[str, float] = field(default_factory=dict)
    dust: float = 0.0
    coolant: float = 0.0


_GEARS: Final = ("differential", "final_drive", "swing_drive")

MODES: Final = (
    FaultMode(
        code="dust_intake",
        families=("engine",),
        part="air intake hose",
        adds={"iron": 14, "chromium": 2.0, "aluminium": 2.0, "lead": 2.0, "soot": 0.2},
        dust=36.0,
    ),
    FaultMode(
        code="coolant_leak",
        families=("engine", "transmission"),
        part="oil cooler",
        adds={"water": 350, "lead": 2.0, "copper": 3.0},
        coolant=0.7,
    ),
    FaultMode(
        code="fuel_dilution", families=("engine",), part="injector", adds={"fuel": 1.6, "iron": 3}
    ),
    FaultMode(
        code="main_bearing",
        families=("engine",),
        part="main bearing",
        adds={"lead": 13, "tin": 5, "copper": 10, "iron": 4},
    ),
    FaultMode(
        code="ring_liner",
        families=("engine",),
        part="piston rings",
        adds={"iron": 38, "chromium": 4.5, "aluminium": 6, "ferrous_index": 8, "soot": 0.4},
    ),
    FaultMode(
        code="soot_loading",
        families=("engine",),
        part="air restriction",
        adds={"soot": 1.3, "iron": 8, "oxidation": 2},
    ),
    FaultMode(
        code="hydraulic_pump",
        families=("hydraulic",),
        part="piston pump",
        adds={
            "copper": 6,
            "iron": 6,
            "tin": 1.4,
            "lead": 2,
            "chromium": 0.8,
            "ferrous_index": 8,
            "particles_4um": 2500,
        },
    ),
    FaultMode(
        code="cylinder_dirt",
        families=("hydraulic",),
        part="cylinder rod seal",
        adds={"chromium": 1.6, "iron": 5, "particles_4um": 3500},
        dust=18.0,
    ),
    FaultMode(
        code="water_ingress",
        families=("hydraulic",),
        part="tank breather",
        adds={"water": 500, "acid_number": 0.15, "iron": 2},
        uses_up={"zinc": 0.03},
    ),
    FaultMode(
        code="clutch_plates",
        families=("transmission",),
        part="clutch pack",
        adds={"copper": 34, "iron": 26, "lead": 9, "tin": 3, "ferrous_index": 12},
    ),
    FaultMode(
        code="gear_bearing",
        families=("transmission",),
        part="input bearing",
        adds={"iron": 60, "chromium": 3, "nickel": 1.5, "ferrous_index": 36},
    ),
    FaultMode(
        code="spall",
        families=_GEARS,
        part="bearing",
        adds={"iron": 110, "chromium": 2.5, "nickel": 2.0, "ferrous_index": 85},
    ),
    FaultMode(
        code="thrust_bush",
        families=_GEARS,
        part="thrust washer",
        adds={"copper": 26, "zinc": 12, "tin": 3, "iron": 15},
    ),
    FaultMode(
        code="seal_dirt_water",
        families=("differential", "final_drive"),
        part="face seal",
        adds={"water": 1200, "iron": 80, "ferrous_index": 25},
        dust=85.0,
    ),
    FaultMode(
        code="water_rust",
        families=("swing_drive",),
        part="swing shaft seal",
        adds={"water": 1100, "iron": 110, "ferrous_index": 10},
        dust=12.0,
    ),
    FaultMode(
        code="combustion_gas",
        families=("coolant",),
        part="head gasket",
        adds={"sulfate": 70, "ph": -0.7, "conductivity": 400, "glycolate": 260},
    ),
    FaultMode(
        code="diluted",
        families=("coolant",),
        part="hose leak topped with water",
        adds={"hardness": 12, "chloride": 8},
        uses_up={"coolant_glycol": 0.10, "nitrite": 0.12, "reserve_alkalinity": 0.12},
    ),
    FaultMode(
        code="corrosion",
        families=("coolant",),
        part="radiator",
        adds={"iron": 7, "aluminium": 3.5, "copper": 3.5, "ph": -0.2},
        uses_up={"nitrite": 0.15},
    ),
)


def modes_of(family: str) -> list[int]:
    """The places in ``MODES`` of the ways a family fails."""
    return [place for place, mode in enumerate(MODES) if family in mode.families]


def mode_number(code: str) -> int:
    """The place in ``MODES`` of a mode."""
    return next(place for place, mode in enumerate(MODES) if mode.code == code)


def detectable_hours(start: FloatArray, doubling: FloatArray) -> FloatArray:
    """The machine hours from which a sample can show the fault."""
    hours: FloatArray = start + doubling * np.log2(1.0 / START_INTENSITY)
    return hours


def failure_hours(start: FloatArray, doubling: FloatArray) -> FloatArray:
    """The machine hours at which the part fails."""
    hours: FloatArray = start + doubling * np.log2(FAILURE_INTENSITY / START_INTENSITY)
    return hours


def mean_intensity(
    start: FloatArray, doubling: FloatArray, before: FloatArray, now: FloatArray
) -> FloatArray:
    """The mean intensity between two moments (machine hours); 0 before the start, held at failure.

    >>> mean_intensity(*(np.array([x]) for x in (0.0, 100.0, 332.19, 332.20))).round(2).tolist()
    [1.0]
    """
    ceiling = failure_hours(start, doubling)
    low = np.clip(before, start, ceiling)
    high = np.clip(now, start, ceiling)
    slope = np.log(2.0) / doubling
    grown = (
        START_INTENSITY * (np.exp(slope * (high - start)) - np.exp(slope * (low - start))) / slope
    )
    held = FAILURE_INTENSITY * np.maximum(now - np.maximum(before, ceiling), 0.0)
    mean: FloatArray = (grown + held) / np.maximum(now - before, 1e-9)
    return mean
