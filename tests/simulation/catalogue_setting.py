"""The setting of the tests: the shipped catalogue, as the program hands it to the simulator."""

import tomllib
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

from fluiddesk.services.catalogue import load_catalogue
from fluiddesk.services.simulated_fleet.setting import setting_of
from fluiddesk.simulation.setting import Setting

CATALOGUE = Path(__file__).parents[2] / "resources" / "catalogue"


def table(name: str) -> dict[str, Any]:
    """One catalogue file as parsed."""
    return tomllib.loads((CATALOGUE / name).read_text(encoding="utf-8"))


@cache
def catalogue_setting() -> Setting:
    """All analytes, fluids, compartment kinds and machine kinds of the catalogue."""
    return setting_of(load_catalogue(), on=date(2023, 11, 21))
