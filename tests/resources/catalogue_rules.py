"""What the catalogue files must keep to: functions that return complaints, empty when well."""

import itertools
import re
import tomllib
from collections import Counter
from collections.abc import Iterable, Iterator
from typing import Any

from fluiddesk.assets import resource

Table = dict[str, Any]

CATALOGUE = resource("catalogue")
COMMON_PRACTICE = "common practice, no source"
STEPS = ("watch", "act", "urgent")
LIMIT_KINDS = {
    "level", "change", "change_percent", "rate_per_100h", "left_right_ratio", "companion_ratio",
    "plain_ratio", "own_step", "percentile", "off_grade", "missing_test",
}  # fmt: skip

STRUCTURAL_KEYS = {"number", "order", "decimals", "act_needs", "urgent_needs"}
"""Numbers that number, order or count; the rest are figures of the trade."""

COVERED_BY_PARENT = {"values"}
"""Tables of figures whose source stands beside them, in the table that holds them."""

PUBLISHED = (
    r"ASTM [DE]\d+", r"ISO \d+", r"SAE J\d+", r"US Navy NAVEDTRA \d+", r"US Army T[MB] [\d-]+",
    r"US Bureau of Reclamation FIST [\d-]+", r"Code of Maryland Regulations [\d.]+",
    r"ASHRAE Fundamentals \d+",
)  # fmt: skip

FLUID_CLASSES_OF_GROUP = {
    "engine": {"engine_oil"},
    "hydraulic": {"hydraulic_zinc", "hydraulic_engine_type"},
    "transmission": {"transmission_oil"},
    "gear": {"gear_oil", "transmission_oil"},
    "coolant": {"coolant_conventional", "coolant_organic"},
    "fuel": {"diesel_fuel"},
}


def catalogue_files() -> dict[str, Table]:
    """Every TOML file of the catalogue, by its path below the catalogue's folder."""
    return {
        path.relative_to(CATALOGUE).as_posix(): tomllib.loads(path.read_text(encoding="utf-8"))
        for path in sorted(CATALOGUE.rglob("*.toml"))
    }


def is_source(text: object) -> bool:
    """Whether the text names a published document, or says that there is none."""
    if not isinstance(text, str):
        return False
    return text == COMMON_PRACTICE or any(re.match(known, text) for known in PUBLISHED)


def _is_figure(value: object) -> bool:
    if isinstance(value, bool):
        return False
    if isinstance(value, list):
        return any(_is_figure(entry) for entry in value)
    return isinstance(value, int | float)


def figures_without_source(table: Table, *, place: str, covered: bool = False) -> Iterator[str]:
    """Name each table that holds a figure and no acceptable source beside it."""
    inner = {key: value for key, value in table.items() if isinstance(value, dict)}
    figures = [key for key, value in table.items() if _is_figure(value)]
    figures = [key for key in figures if key not in STRUCTURAL_KEYS]
    holds_values = bool(COVERED_BY_PARENT & inner.keys())
    if (figures or holds_values) and not covered and not is_source(table.get("source")):
        yield f"{place}: {', '.join(figures) or 'values'} without a source"
    if "source" in table and not is_source(table["source"]):
        yield f"{place}: {table['source']!r} is neither a published document nor common practice"
    for key, value in inner.items():
        yield from figures_without_source(
            value, place=f"{place}.{key}", covered=key in COVERED_BY_PARENT
        )
    for key, value in table.items():
        for at, entry in enumerate(value if isinstance(value, list) else []):
            if isinstance(entry, dict):
                yield from figures_without_source(entry, place=f"{place}.{key}[{at}]")


def repeated(values: Iterable[Any]) -> list[Any]:
    """The values that occur more than once."""
    return [value for value, count in Counter(values).items() if count > 1]


def steps_of(limit: Table) -> list[float]:
    """The limits of one row that are given, mildest first."""
    return [limit[step] for step in STEPS if step in limit]


def limit_complaints(limit: Table, *, analytes: set[str], kinds: set[str]) -> Iterator[str]:
    """What is wrong with the form of one limit row."""
    row = f"{limit.get('analyte')} {limit.get('kind')} {limit.get('direction')}"
    unknown = {limit.get("analyte"), limit.get("companion", limit.get("analyte"))} - analytes
    unknown |= set(limit.get("compartment_kinds", [])) - kinds
    steps = steps_of(limit)
    counts = {"act_needs", "urgent_needs"} & limit.keys()
    faults = {
        f"{unknown} not known": bool(unknown),
        "holds for no compartment kind": not limit.get("compartment_kinds"),
        "unknown limit kind": limit.get("kind") not in LIMIT_KINDS,
        "a companion belongs to a companion ratio, and only there": (
            (limit.get("kind") in {"companion_ratio", "plain_ratio"}) != ("companion" in limit)
        ),
        "unknown direction": limit.get("direction") not in {"up", "down"},
        "unknown boundary": limit.get("boundary", "at") not in {"at", "beyond"},
        f"{steps} is not ordered from Watch to Urgent": (
            not steps or steps != sorted(set(steps), reverse=limit.get("direction") == "down")
        ),
        "counts a group it does not name": bool(counts) and "group" not in limit,
    }
    yield from (f"{row}: {fault}" for fault, found in faults.items() if found)


def too_close_steps(limit: Table, *, precision: Table, references: list[float]) -> list[str]:
    """Neighbouring limits that do not exceed the repeatability at the further of the two.

    ``references`` are the new-fluid values a change is counted from.
    """
    steps = steps_of(limit)
    if limit["kind"] == "level":
        ladders = [steps]
    elif limit["kind"] == "change":
        ladders = [[new + step for step in steps] for new in references]
    else:
        ladders = [[new * (1 + step / 100) for step in steps] for new in references]
    found = []
    for ladder in ladders:
        for near, far in itertools.pairwise(ladder):
            spread = precision["a"] * max(abs(near), abs(far)) ** precision["b"]
            if abs(far - near) <= spread:
                found.append(f"{near:g} to {far:g} is within {spread:.2f}")
    return found
