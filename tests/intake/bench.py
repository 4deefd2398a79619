"""What the intake tests share: the catalogue, the bench layout, and bottles on a register."""

from collections.abc import Callable, Sequence
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

from fluiddesk.domain.analytes import Analyte
from fluiddesk.domain.identity import SampleId, normal_bottle_code
from fluiddesk.domain.samples import OpenBottle
from fluiddesk.intake.layout_files import layout_from_text
from fluiddesk.intake.layouts import LabLayout
from fluiddesk.intake.problems import IntakeReport
from fluiddesk.intake.reading import read_lab_file
from fluiddesk.services.catalogue import load_catalogue

LAB_FILES = Path(__file__).parent.parent / "lab_files"

MACHINES = {
    "26K-0042-Z": "14",
    "26K-0043-X": "14",
    "26K-0044-V": "21",
    "26K-0045-T": "14",
    "26K-0046-R": "14",
    "26K-0047-P": "14",
}


@cache
def analytes() -> dict[str, Analyte]:
    return {analyte.code: analyte for analyte in load_catalogue().analytes.values()}


@cache
def bench_layout() -> LabLayout:
    text = (LAB_FILES / "bench.toml").read_text(encoding="utf-8")
    return layout_from_text(text, origin="bench.toml")


def bottle(code: str, **told: Any) -> OpenBottle:
    facts: dict[str, Any] = {
        "bottle_code": normal_bottle_code(code),
        "sample": SampleId(code.encode()),
        "site_name": "Quarry",
        "machine": MACHINES.get(code, "14"),
        "compartment": "engine",
        "taken_on": date(2026, 5, 3),
    }
    return OpenBottle(**(facts | told))


def register(*bottles: OpenBottle) -> Callable[[Sequence[str]], Sequence[OpenBottle]]:
    known = {bottle.bottle_code: bottle for bottle in bottles or map(bottle, MACHINES)}
    return lambda codes: [known[code] for code in codes if code in known]


def read(path: Path | str, *bottles: OpenBottle, **told: Any) -> IntakeReport:
    choices: dict[str, Any] = {
        "layouts": [bench_layout()],
        "analytes": analytes(),
        "open_bottles": register(*bottles),
    }
    return read_lab_file(LAB_FILES / path, **(choices | told))
