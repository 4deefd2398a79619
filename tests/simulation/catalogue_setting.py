"""The setting of the tests: the shipped catalogue as the simulator's plain facts."""

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

from fluiddesk.domain.analytes import Precision
from fluiddesk.simulation.setting import (
    AnalyteFacts,
    BoxFacts,
    CompartmentKindFacts,
    FluidFacts,
    MachineKindFacts,
    Setting,
    usual_fluid,
)

CATALOGUE = Path(__file__).parents[2] / "resources" / "catalogue"
_PREFIXES = {
    "excavator": "EX",
    "wheel_loader": "WL",
    "rigid_truck": "RT",
    "articulated_truck": "AT",
    "dozer": "DZ",
    "grader": "GR",
    "drill": "DR",
}


def table(name: str) -> dict[str, Any]:
    """One catalogue file as parsed."""
    return tomllib.loads((CATALOGUE / name).read_text(encoding="utf-8"))


@cache
def catalogue_setting() -> Setting:
    """All analytes, fluids, compartment kinds and machine kinds of the catalogue."""
    return Setting(
        analytes=tuple(_analyte(row) for row in table("analytes.toml")["analyte"]),
        fluids=tuple(
            FluidFacts(code=row["code"], reference=row["reference"][0]["values"])
            for row in table("fluids.toml")["fluid"]
        ),
        compartment_kinds=tuple(
            CompartmentKindFacts(
                code=row["code"],
                capacity_l=row["default_capacity"]["litres"],
                residue_share=row["residue_share"]["value"],
                interval_hours=row["default_interval"]["hours"],
            )
            for row in table("compartment_kinds.toml")["kind"]
        ),
        machine_kinds=tuple(_machine_kind(row) for row in table("machine_kinds.toml")["kind"]),
    )


def _analyte(row: dict[str, Any]) -> AnalyteFacts:
    precision = row.get("reproducibility")
    return AnalyteFacts(
        number=row["number"],
        code=row["code"],
        decimals=row["decimals"],
        detection_limit=row.get("detection_limit", {}).get("value"),
        reproducibility=precision and Precision(**{"b": 1.0, **precision}),
        significant_figures=row.get("significant_figures"),
        is_presence_test=row["unit"] == "absent/present",
    )


def _machine_kind(row: dict[str, Any]) -> MachineKindFacts:
    return MachineKindFacts(
        code=row["code"],
        prefix=_PREFIXES[row["code"]],
        boxes=tuple(
            BoxFacts(
                kind=box["kind"],
                fluid=usual_fluid(box["kind"]),
                position=box["position"],
                capacity_l=box["capacity"]["litres"],
            )
            for box in row["compartments"]
        ),
    )
