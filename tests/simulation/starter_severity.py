"""Severity of the newest sample of every box by the shipped starter limits.

A small reading of the limits of its own: level and change from new, the worst analyte counts.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.samples import Sign
from fluiddesk.simulation.records import ResultRows, SimulatedFleet
from tests.simulation.catalogue_setting import CATALOGUE, table

_JUDGED = ("level", "change", "change_percent")


def newest_rows(fleet: SimulatedFleet) -> list[tuple[ResultRows, NDArray[np.int64]]]:
    """Per family the rows that are the newest sheet of their box."""
    found = []
    for rows in fleet.results:
        box = fleet.samples.compartment[rows.sample]
        day = fleet.samples.taken_on[rows.sample]
        order = np.lexsort((rows.issue, day, box))
        last = np.append(np.diff(box[order]) != 0, True)
        found.append((rows, order[last]))
    return found


def newest_severity(fleet: SimulatedFleet) -> dict[int, int]:
    """Severity 0 to 3 of each box that has a result."""
    severity: dict[int, int] = {}
    for rows, newest in newest_rows(fleet):
        boxes = fleet.samples.compartment[rows.sample[newest]]
        worst, _ = judged(fleet, rows, newest)
        severity.update(zip(boxes.tolist(), worst.tolist(), strict=True))
    return severity


def judged(
    fleet: SimulatedFleet, rows: ResultRows, which: NDArray[np.int64]
) -> tuple[NDArray[np.int64], list[str]]:
    """The severity of some rows and, for each, what fired."""
    boxes = [fleet.compartments[box] for box in fleet.samples.compartment[rows.sample[which]]]
    kind = np.array([box.kind for box in boxes])
    fluid = np.array([box.fluid for box in boxes])
    classes, references = _fluids()
    fired = [""] * len(which)
    worst = np.zeros(len(which), dtype=np.int64)
    grouped: dict[int, list[NDArray[np.bool_]]] = {2: [], 3: []}
    for limit in _limits():
        if limit["analyte"] not in rows.analytes or limit["kind"] not in _JUDGED:
            continue
        column = rows.analytes.index(limit["analyte"])
        new = np.array([references[code].get(limit["analyte"], 0.0) for code in fluid])
        here = np.isin(kind, limit["compartment_kinds"])
        if "fluid_class" in limit:
            here &= np.array([classes[code] == limit["fluid_class"] for code in fluid])
        reached = _reached(limit, rows.values[which, column], new)
        reached[~here | (rows.signs[which, column] == Sign.BELOW)] = 0
        if limit.get("act_needs", 1) > 1:
            grouped[2].append(reached >= 2)
            grouped[3].append(reached >= 3)
            reached = np.minimum(reached, 1)
        for row in np.flatnonzero(reached):
            value = rows.values[which[row], column]
            fired[row] += f"{limit['analyte']} {value:g} ({reached[row]}); "
        worst = np.maximum(worst, reached)
    for level, needed in ((2, 2), (3, 3)):
        if grouped[level]:
            enough = np.sum(grouped[level], axis=0) >= needed
            worst = np.where(enough, np.maximum(worst, level), worst)
    return worst, fired


def _reached(
    limit: dict[str, Any], values: NDArray[np.float64], new: NDArray[np.float64]
) -> NDArray[np.int64]:
    """The band (0 to 3) each value reaches; not-tested values reach none."""
    with np.errstate(divide="ignore", invalid="ignore"):
        seen = {
            "level": values,
            "change": values - new,
            "change_percent": np.where(new > 0, 100.0 * (values - new) / new, np.nan),
        }[limit["kind"]]
    sign = 1.0 if limit["direction"] == "up" else -1.0
    band = np.zeros(len(values), dtype=np.int64)
    for level, name in enumerate(("watch", "act", "urgent"), start=1):
        if name in limit:
            edge = sign * limit[name]
            past = sign * seen > edge if limit.get("boundary") == "beyond" else sign * seen >= edge
            band[past] = level
    return band


def _limits() -> list[dict[str, Any]]:
    names = sorted(path.name for path in (CATALOGUE / "limit_sets").glob("starter_*.toml"))
    return [limit for name in names for limit in table(f"limit_sets/{name}")["limit"]]


def _fluids() -> tuple[dict[str, str], dict[str, dict[str, float]]]:
    rows = table("fluids.toml")["fluid"]
    classes = {row["code"]: row["fluid_class"] for row in rows}
    return classes, {row["code"]: row["reference"][0]["values"] for row in rows}
