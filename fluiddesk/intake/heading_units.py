"""The unit in a heading, and whether an analyte can be read in it."""

import re
from typing import Final

from fluiddesk.domain.analytes import Analyte
from fluiddesk.domain.units import UnitError, unit_named
from fluiddesk.intake.looking import is_unit

_BEHIND: Final = re.compile(r"^(?P<name>.+?)\s*(?:[\[(](?P<in>[^\])]+)[\])]|,\s*(?P<after>.+))\s*$")
_NO_UNITS: Final = ("code", "index", "number", "class", "no")
"""Units that are words of a heading when they stand behind it."""


def split_heading(heading: str) -> tuple[str, str]:
    """A heading without its unit, and the unit; empty where it names none."""
    found = _BEHIND.match(heading.strip())
    if found:
        inside = (found["in"] or found["after"] or "").strip()
        if is_unit(inside):
            return found["name"], inside
        return (found["name"] if found["after"] else heading), ""
    words = heading.split()
    for count in (3, 2, 1):
        behind = " ".join(words[-count:])
        if len(words) > count and is_unit(behind) and behind.casefold() not in _NO_UNITS:
            return " ".join(words[:-count]), behind
    return heading, ""


def fitting_unit(unit: str, analyte: Analyte) -> tuple[str, str, bool]:
    """The unit a column is read in, what to tell of it, and whether a density is needed."""
    if not unit:
        return analyte.unit, f"no unit is told, {analyte.unit} is assumed", False
    try:
        known = unit_named(unit)
    except UnitError:
        return analyte.unit, f'"{unit}" is no unit of the table, {analyte.unit} is assumed', False
    own = unit_named(analyte.unit)
    if known.kind == own.kind:
        return known.name, "", False
    if unit.strip() == "%" and own.kind == "share by mass":
        return "% mass", "% is taken by mass", False
    if known.kind == "mass in a volume" and own.kind == "share by mass":
        return known.name, f"{known.name} becomes {own.name} by the fluid's density", True
    return own.name, f"{known.name} is no unit of {analyte.name}", False


def doubt_of_unit(unit: str, told: str, *, needs_density: bool) -> float:
    """How much less sure a suggestion is when its unit is not told, or told otherwise."""
    if not told:
        return 0.0
    if not unit:
        return 0.1
    return 0.15 if needs_density or unit.strip() == "%" else 0.25
