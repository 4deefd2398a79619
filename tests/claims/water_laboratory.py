"""The open water-laboratory data as reports of sampling points, for the checks while typing.

Made by nobody of this project; see the README beside it for source, licence and the real slips
listed there. Water weighs 1 kg/L, so that mg/L stand for mg/kg.
"""

import csv
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.analytes import Analyte
from fluiddesk.domain.trust.expectation import (
    MOST_PAST,
    Expectation,
    Past,
    Traits,
    expect,
    traits,
)

NAMES = {
    "Aluminum, wf": "aluminium", "Barium, wf": "barium", "Boron, wf": "boron",
    "Cadmium, wf": "cadmium", "Calcium, wf": "calcium", "Chloride, wf": "chloride",
    "Chromium, wf": "chromium", "Copper, wf": "copper", "Iron, wf": "iron", "Lead, wf": "lead",
    "Lithium, wf": "lithium", "Magnesium, wf": "magnesium", "Manganese, wf": "manganese",
    "Molybdenum, wf": "molybdenum", "Nickel, wf": "nickel", "Potassium, wf": "potassium",
    "Silver, wf": "silver", "Sodium, wf": "sodium", "Sulfate, wf": "sulfate",
    "Vanadium, wf": "vanadium", "Zinc, wf": "zinc", "Specific cond at 25C": "conductivity",
    "pH": "ph",
}  # fmt: skip
_TO_CANONICAL = {"ug/L": 0.001}
REGULAR = "9"


@dataclass(frozen=True)
class Sheet:
    """One sample: canonical values by analyte, and which of them are bounds from above."""

    number: int
    place: str
    taken: str
    kind: str
    values: Mapping[str, float]
    below: frozenset[str]


def sheets(folder: Path) -> list[Sheet]:
    """Every sample of the subset, by place and time."""
    rows: dict[int, list[dict[str, str]]] = defaultdict(list)
    path = folder / "usgs-inl-water-lab" / "samples_subset.csv"
    with path.open(encoding="utf-8", newline="") as stream:
        for row in csv.DictReader(stream):
            if row["parm_short_nm"] in NAMES and row["result_va"]:
                rows[int(row["sample_no"])].append(row)
    found = [_sheet(number, group) for number, group in rows.items()]
    return sorted(found, key=lambda one: (one.place, one.taken, one.number))


def _sheet(number: int, rows: list[dict[str, str]]) -> Sheet:
    values = {
        NAMES[row["parm_short_nm"]]: float(row["result_va"])
        * _TO_CANONICAL.get(row["unit_cd"], 1.0)
        for row in rows
    }
    below = frozenset(NAMES[row["parm_short_nm"]] for row in rows if row["remark_cd"] == "<")
    first = rows[0]
    return Sheet(
        number, first["site_nm"], first["sample_dt"], first["sample_type_cd"], values, below
    )


@dataclass(frozen=True)
class Foretold:
    """What the place of each sheet foretells of it, from the regular sheets before."""

    known: Traits
    sheets: list[Sheet]
    expected: Expectation
    values: NDArray[np.float64]
    below: NDArray[np.bool_]

    def row(self, number: int) -> int:
        return next(at for at, one in enumerate(self.sheets) if one.number == number)

    def at(self, number: int, code: str) -> tuple[int, int]:
        column = [one.code for one in self.known.analytes].index(code)
        return self.row(number), column

    def rows(self, chosen: list[int]) -> Expectation:
        return Expectation(
            traits=self.known,
            centre=self.expected.centre[chosen],
            spread=self.expected.spread[chosen],
            reports=self.expected.reports[chosen],
        )


def foretold(every: list[Sheet], catalogue: Mapping[str, Analyte]) -> Foretold:
    """Each sheet against the last regular ones of its place."""
    codes = sorted(set(NAMES.values()), key=lambda code: catalogue[code].order)
    known = traits([catalogue[code] for code in codes])
    table = np.array([[one.values.get(code, np.nan) for code in codes] for one in every])
    below = np.array([[code in one.below for code in codes] for one in every])
    worked = np.where(below, 0.5 * table, table)
    lanes = np.full((len(every), MOST_PAST, len(codes)), np.nan)
    before: dict[str, list[int]] = defaultdict(list)
    for at, one in enumerate(every):
        # Each analyte's own last values: places are not tested for all of them every time.
        for column in range(len(codes)):
            seen = [row for row in before[one.place] if np.isfinite(worked[row, column])]
            last = seen[-MOST_PAST:]
            if last:
                lanes[at, -len(last) :, column] = worked[last, column]
        if one.kind == REGULAR:
            before[one.place].append(at)
    nothing = np.full((len(every), len(codes)), np.nan)
    past = Past(
        values=lanes,
        fluid_hours=np.full(lanes.shape[:2], np.nan),
        fill=np.zeros(lanes.shape[:2], dtype=np.int64),
        now_fluid_hours=np.full(len(every), np.nan),
        now_fill=np.zeros(len(every), dtype=np.int64),
        fresh=nothing,
        residue_share=np.zeros(len(every)),
        usual_low=nothing,
        usual_high=nothing,
    )
    return Foretold(known, every, expect(past, known), table, below)
