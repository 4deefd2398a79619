"""Laboratory files as tables of cells, in the layouts of the two invented laboratories."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

import numpy as np

from fluiddesk.domain.identity import bottle_code
from fluiddesk.domain.samples import Sign
from fluiddesk.simulation.families import ELEMENTS, ISO_CODES
from fluiddesk.simulation.records import (
    REMARKS,
    ResultRows,
    SimulatedFleet,
    bottle_code_of,
    remarks_of,
    report_number_of,
)

Cell = str | int | float | date | None
Table = list[list[Cell]]

_DAYS_TO_TEST: Final = 3
_SYMBOLS: Final = (
    *("Fe", "Cr", "Ni", "Al", "Cu", "Pb", "Sn", "Ag", "Si", "Na", "K", "B", "Ca", "Mg", "Zn", "P"),
    "Mo",
)
_METALS_A: Final = tuple(zip(_SYMBOLS, ELEMENTS, strict=True))
_LAB_A: Final = (
    *((head, "mg/kg", code) for head, code in _METALS_A),
    ("Visc 100 °C", "mm2/s", "viscosity_100c"),
    ("Visc 40 °C", "mm2/s", "viscosity_40c"),
    ("BN", "mg KOH/g", "base_number_d4739"),
    ("AN", "mg KOH/g", "acid_number"),
    ("Water", "%", "water"),
    ("Glycol test", "", "glycol_test"),
    ("Fuel", "%", "fuel"),
    ("Soot", "%", "soot"),
    ("Oxidation", "A/cm", "oxidation"),
    ("Nitration", "A/cm", "nitration"),
    ("Sulfation", "A/cm", "sulfation"),
    ("Ferrous index", "", "ferrous_index"),
    ("Particles 4 µm", "1/mL", "particles_4um"),
    ("Particles 6 µm", "1/mL", "particles_6um"),
    ("Particles 14 µm", "1/mL", "particles_14um"),
)
_LAB_A_LEAD: Final = (
    *("Bottle", "Report", "Issue", "Sampled", "Received", "Reported", "Unit No", "Compartment"),
    "Meter",
)
_LAB_B_LEAD: Final = (
    *("Bottle code", "Report no", "Issue", "Replaces", "Date sampled", "Date received"),
    *("Date issued", "Machine", "Compartment", "Meter (h)"),
)
_LAB_B: Final = (
    *((f"{code.capitalize()} mg/kg", code) for _, code in _METALS_A),
    ("Visc100 mm2/s", "viscosity_100c"),
    ("Visc40 mm2/s", "viscosity_40c"),
    ("BN mg KOH/g", "base_number_d4739"),
    ("AN mg KOH/g", "acid_number"),
    ("Water mg/kg", "water"),
    ("Fuel %", "fuel"),
    ("Soot %", "soot"),
    ("Oxidation A/cm", "oxidation"),
    ("Nitration A/cm", "nitration"),
    ("Sulfation A/cm", "sulfation"),
    ("Ferrous index", "ferrous_index"),
    ("ISO 4406", "iso4406"),
    ("Glycol vol %", "coolant_glycol"),
    ("Freeze point C", "freeze_point"),
    ("pH", "ph"),
    ("Reserve alkalinity mL", "reserve_alkalinity"),
    ("Nitrite mg/kg", "nitrite"),
    ("Chloride mg/kg", "chloride"),
    ("Sulfate mg/kg", "sulfate"),
    ("Hardness mg/kg", "hardness"),
    ("Conductivity uS/cm", "conductivity"),
    ("Glycolate mg/kg", "glycolate"),
)
_NOT_TESTED_ROW: Final = 1
"""Row of a lab A file in which one ordered test was not done."""
_PERCENT_IN_MG_PER_KG: Final = 10_000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LabFile:
    """A laboratory file: its name, the layout it follows and its cells row by row."""

    name: str
    layout: str
    rows: Table


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reading:
    value: float
    sign: Sign
    decimals: int

    @property
    def plain(self) -> str:
        """The number with a point, "<" before a detection limit, or the reason there is none."""
        if self.sign is Sign.NOT_ENOUGH:
            return "i.s."
        before = "<" if self.sign is Sign.BELOW else ""
        return f"{before}{self.value:.{self.decimals}f}"


def lab_a_table(fleet: SimulatedFleet, bottles: Sequence[int], issued_on: date) -> Table:
    """A file of lab A: headers, units, then a row a bottle; all cells text, decimal commas."""
    heads: list[Cell] = [*_LAB_A_LEAD, *(head for head, _, _ in _LAB_A), "Remark"]
    units: list[Cell] = ["" for _ in _LAB_A_LEAD[:-1]]
    units += ["h", *(unit for _, unit, _ in _LAB_A), ""]
    rows = [heads, units]
    for number, sample in enumerate(bottles):
        read = _readings(fleet, sample)
        cells = [_cell_a(read.get(code), code) for _, _, code in _LAB_A]
        if number == _NOT_TESTED_ROW:
            place = max(i for i, cell in enumerate(cells) if cell)
            cells[place] = "n/a"
        sampled = date.fromordinal(int(fleet.samples.taken_on[sample]))
        dates = (sampled, _received(sampled, issued_on), issued_on)
        lead: list[Cell] = [bottle_code_of(fleet.samples, sample), report_number_of(fleet, sample)]
        lead += ["1", *(f"{day:%d.%m.%Y}" for day in dates), *_where(fleet, sample)]
        rows.append([*lead, _meter_text(fleet, sample), *cells, _remark(fleet, sample)])
    return rows


def lab_b_table(
    fleet: SimulatedFleet, bottles: Sequence[int], issued_on: date, revised: int | None
) -> Table:
    """A file of lab B: headers, then a row a bottle; numbers are numbers, dates dates.

    ``revised`` is a bottle whose report comes a second time, as the last row.
    """
    rows: Table = [[*_LAB_B_LEAD, *(head for head, _ in _LAB_B), "Remarks"]]
    rows.extend(_row_b(fleet, sample, issued_on, issue=1) for sample in bottles)
    if revised is not None:
        rows.append(_row_b(fleet, revised, issued_on, issue=2))
    return rows


def with_mischief(rows: Table) -> Table:
    """A file of lab A with the faults that files have: see the words in each line.

    Of the bottles: the second code is mistyped, the third viscosity has a letter in it, the fourth
    date does not exist, the fifth iron is negative, the first comes twice with another iron, and
    one is nobody's. A column is unknown.
    """
    spoiled = [list(row) for row in rows]
    heads = rows[0]
    first, second, third, fourth, fifth = spoiled[2:7]
    second[0] = _mistyped(str(second[0]))
    third[heads.index("Visc 100 °C")] = "12,4O"
    fourth[heads.index("Sampled")] = "31.11.2026"
    fifth[heads.index("Fe")] = "-3"
    again, nobody = list(first), list(first)
    again[heads.index("Fe")] = "41"
    nobody[0], nobody[1] = bottle_code("26K99001"), "A26-109001"
    spoiled += [again, nobody]
    place = heads.index("Soot") + 1
    for number, row in enumerate(spoiled):
        row.insert(place, {0: "Smell", 1: ""}.get(number, "normal"))
    return spoiled


def _row_b(fleet: SimulatedFleet, sample: int, issued_on: date, issue: int) -> list[Cell]:
    sampled = date.fromordinal(int(fleet.samples.taken_on[sample]))
    report = report_number_of(fleet, sample)
    replaces = f"{report} issue {issue - 1}" if issue > 1 else None
    received: Cell = _received(sampled, issued_on)
    if issue > 1:
        received = date.fromordinal(int(fleet.samples.received_on[sample]))
    read = _readings(fleet, sample)
    cells = [_cell_b(read, code) for _, code in _LAB_B]
    shown = fleet.samples.shown[sample]
    lead: list[Cell] = [bottle_code_of(fleet.samples, sample), report, issue, replaces, sampled]
    lead += [received, issued_on, *_where(fleet, sample), None if np.isnan(shown) else int(shown)]
    said = "Copper measured again; first issue read too high." if issue > 1 else ""
    remark = said or _remark(fleet, sample) or None
    return [*lead, *cells, remark]


def _remark(fleet: SimulatedFleet, sample: int) -> str:
    rows, row = _sheet(fleet, sample)
    return REMARKS[int(remarks_of(rows)[row])]


def _received(sampled: date, issued_on: date) -> date:
    return max(sampled + timedelta(days=1), issued_on - timedelta(days=_DAYS_TO_TEST))


def _where(fleet: SimulatedFleet, sample: int) -> list[Cell]:
    box = fleet.compartments[int(fleet.samples.compartment[sample])]
    words = box.kind.replace("_", " ").capitalize()
    return [fleet.machines[box.machine].code, f"{words} {box.position}".strip()]


def _meter_text(fleet: SimulatedFleet, sample: int) -> str:
    shown = fleet.samples.shown[sample]
    return "" if np.isnan(shown) else f"{shown:.0f}"


def _readings(fleet: SimulatedFleet, sample: int) -> dict[str, _Reading]:
    """The readings in force of a bottle by analyte."""
    rows, row = _sheet(fleet, sample)
    return {
        code: _Reading(
            value=float(rows.values[row, column]),
            sign=Sign(int(rows.signs[row, column])),
            decimals=int(rows.decimals[column]),
        )
        for column, code in enumerate(rows.analytes)
    }


def _sheet(fleet: SimulatedFleet, sample: int) -> tuple[ResultRows, int]:
    for rows in fleet.results:
        here = np.flatnonzero(rows.sample == sample)
        if len(here):
            return rows, int(here[np.argmax(rows.issue[here])])
    raise LookupError(f"Sample {sample} was never tested")


def _cell_a(read: _Reading | None, code: str) -> str:
    if read is None:
        return ""
    if read.sign in (Sign.ABSENT, Sign.PRESENT):
        return "pos" if read.sign is Sign.PRESENT else "neg"
    if code == "water" and read.sign.has_number:
        percent = read.value / _PERCENT_IN_MG_PER_KG
        read = _Reading(value=percent, sign=read.sign, decimals=3)
    return read.plain.replace(".", ",") if read.sign.has_number else read.plain


def _cell_b(read: dict[str, _Reading], code: str) -> Cell:
    if code == "iso4406":
        codes = [read[name] for name in ISO_CODES if name in read]
        return "/".join(one.plain for one in codes) if codes else None
    one = read.get(code)
    if one is None:
        return None
    if one.sign is not Sign.PLAIN:
        return one.plain
    return int(one.value) if one.decimals == 0 else round(one.value, one.decimals)


def _mistyped(code: str) -> str:
    """The code with its last digit before the check character read wrongly."""
    body, check = code[:-2], code[-2:]
    return f"{body[:-1]}{(int(body[-1]) + 1) % 10}{check}"
