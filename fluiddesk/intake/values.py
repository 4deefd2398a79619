"""Turns what stands in one cell into a Reading, or into a Fault: "<2", "1,5", "n/a", a date.

Nothing is guessed. A text that could mean two things ("1.234" where the decimal mark is a comma,
"n.d.") is a fault, unless the layout says what the laboratory means by it.
"""

import re
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from typing import Final

from fluiddesk.domain.analytes import Analyte
from fluiddesk.domain.samples import Reading, Sign
from fluiddesk.domain.saybolt import SayboltError
from fluiddesk.domain.units import Conversion, UnitError, unit_named
from fluiddesk.intake.files import Cell, CellValue, printed_text
from fluiddesk.intake.problems import Problem

CORRECT: Final = "Correct the cell, or hold the row."
EARLIEST_YEAR: Final = 1980
"""No sample on the register is older; an empty date cell of a spreadsheet reads as 1899 or 1900."""

_SIGNS: Final = {
    "": Sign.PLAIN,
    "<": Sign.BELOW,
    "<=": Sign.BELOW,
    "\u2264": Sign.BELOW,
    ">": Sign.ABOVE,
    ">=": Sign.ABOVE,
    "\u2265": Sign.ABOVE,
}
_UNIT_BEHIND: Final = re.compile(r"(.*\d)\s*([^\d\s.,].*)", re.DOTALL)


@dataclass(frozen=True, slots=True, kw_only=True)
class ValueRules:
    """How one laboratory writes values. The words are compared without regard to case."""

    decimal_mark: str = "."
    thousands_mark: str = ""
    date_formats: tuple[str, ...] = ("%Y-%m-%d",)
    not_tested: tuple[str, ...] = ("n/a", "na", "n.a.", "n/t", "nt", "not tested", "-", "\u2013")
    not_enough: tuple[str, ...] = ("i.s.", "insufficient", "insufficient sample", "not enough")
    absent: tuple[str, ...] = ("neg", "neg.", "negative", "absent", "none", "no", "not detected")
    present: tuple[str, ...] = ("pos", "pos.", "positive", "present", "yes", "detected", "trace")


@dataclass(frozen=True, slots=True)
class SignedValue:
    """What a cell says: sign, number if any, and the decimals as printed.

    The decimals of a number stored in a spreadsheet are not known.
    """

    sign: Sign
    number: float | None = None
    decimals: int | None = None


@dataclass(frozen=True, slots=True)
class Fault:
    """Why a cell could not be read, and the remedy; with its place it is a Problem."""

    wrong: str
    remedy: str = CORRECT


def read_value(
    value: CellValue, *, rules: ValueRules, unit: str, is_presence: bool = False
) -> SignedValue | Fault:
    """What a cell says, in the unit it is printed in.

    >>> read_value("< 2,0", rules=ValueRules(decimal_mark=","), unit="mg/kg")
    SignedValue(sign=<Sign.BELOW: 1>, number=2.0, decimals=1)
    """
    if isinstance(value, str):
        return _read_text(value.strip(), rules, unit, is_presence)
    if isinstance(value, bool):
        if is_presence:
            return SignedValue(Sign.PRESENT if value else Sign.ABSENT)
        return Fault("is a yes or no where a number belongs")
    if isinstance(value, int | float):
        if is_presence:
            return Fault('is a number where "absent" or "present" belongs')
        return SignedValue(Sign.PLAIN, float(value))
    return Fault(
        "is a date or a time, not a result",
        "The spreadsheet program may have turned a number into a date. Enter the value again.",
    )


@lru_cache(maxsize=65_536)
def _read_text(
    text: str,
    rules: ValueRules,
    unit: str,
    is_presence: bool,  # noqa: FBT001 - a cache key
) -> SignedValue | Fault:
    if not text:
        return SignedValue(Sign.NOT_TESTED)
    word = " ".join(text.casefold().split())
    if word in rules.not_enough:
        return SignedValue(Sign.NOT_ENOUGH)
    if is_presence:
        return _read_presence(word, rules)
    if word in rules.not_tested:
        return SignedValue(Sign.NOT_TESTED)
    found = _read_number(text, rules)
    return found if isinstance(found, SignedValue) else _without_unit(text, rules, unit) or found


def _read_presence(word: str, rules: ValueRules) -> SignedValue | Fault:
    if word in rules.absent:
        return SignedValue(Sign.ABSENT)
    if word in rules.present:
        return SignedValue(Sign.PRESENT)
    if word in ("-", "\u2013"):
        return Fault('may mean "not tested" or "negative"', "Write one of these words.")
    if word in rules.not_tested:
        return SignedValue(Sign.NOT_TESTED)
    return Fault('says neither "absent" nor "present"')


@lru_cache(maxsize=64)
def _number_form(decimal_mark: str, thousands_mark: str) -> re.Pattern[str]:
    """The one form of number a layout allows. ASCII digits only: a raised 2 is no 2."""
    whole = "[0-9]+"
    if thousands_mark:
        whole = rf"[0-9]{{1,3}}(?:{re.escape(thousands_mark)}[0-9]{{3}})+|[0-9]+"
    return re.compile(
        r"(?P<sign><=|>=|[<>\u2264\u2265])?\s*(?P<minus>[-+\u2212]?)"
        rf"(?P<whole>{whole})(?:{re.escape(decimal_mark)}(?P<part>[0-9]+))?"
        r"(?P<power>[eE][-+]?[0-9]{1,3})?"
    )


def _read_number(text: str, rules: ValueRules) -> SignedValue | Fault:
    found = _number_form(rules.decimal_mark, rules.thousands_mark).fullmatch(text)
    if found is None:
        return _why_no_number(text, rules)
    whole, part, power = found["whole"], found["part"] or "", found["power"] or ""
    if rules.thousands_mark:
        whole = whole.replace(rules.thousands_mark, "")
    minus = "-" if found["minus"] in ("-", "\u2212") else ""
    number = float(f"{minus}{whole}.{part or '0'}{power}")
    if number in (float("inf"), float("-inf")):
        return Fault("is too large to be a result")
    return SignedValue(_SIGNS[found["sign"] or ""], number, None if power else len(part))


def _why_no_number(text: str, rules: ValueRules) -> Fault:
    """Name the usual confusion of marks; anything else is simply not a number."""
    other = "," if rules.decimal_mark == "." else "."
    if _number_form(other, "").fullmatch(text):
        return Fault(
            f'has "{other}" where this layout\'s decimal mark is "{rules.decimal_mark}"',
            "Correct the cell, or the decimal mark or thousands mark of the layout.",
        )
    if re.fullmatch(r"[<>]?\s*[0-9]{1,3}(?:[\s.,'\u2019][0-9]{3})+(?:[.,][0-9]+)?", text):
        return Fault(
            "has a sign between the thousands that this layout does not name",
            "Correct the cell, or name the thousands mark in the layout.",
        )
    return Fault("is not a number")


def _without_unit(text: str, rules: ValueRules, unit: str) -> SignedValue | Fault | None:
    """A number with a unit behind it: fine when it is the column's own, a fault otherwise."""
    found = _UNIT_BEHIND.fullmatch(text)
    if found is None:
        return None
    behind = found[2].strip()
    if behind.casefold() != unit.casefold():
        try:
            known = unit_named(behind)
        except UnitError:
            return None
        if _unit_or_none(unit) != known:
            return Fault(
                f"carries the unit {behind}, but the column is in {unit or 'no unit'}",
                "Correct the cell, or the unit of the column in the layout.",
            )
    return _read_number(found[1], rules)


def _unit_or_none(name: str) -> object:
    try:
        return unit_named(name)
    except UnitError:
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class ValueColumn:
    """What the values of one column are: heading, analyte, printed unit, way to canonical unit."""

    header: str
    analyte: Analyte
    printed_unit: str
    to_canonical: Conversion


def parse(value: CellValue, *, column: ValueColumn, rules: ValueRules) -> Reading | Fault:
    """One cell's value as a reading in the analyte's canonical unit, or why it is none."""
    found = read_value(
        value,
        rules=rules,
        unit=column.printed_unit,
        is_presence=column.analyte.is_presence_test,
    )
    return found if isinstance(found, Fault) else reading(value, found, column=column)


def reading(value: CellValue, found: SignedValue, *, column: ValueColumn) -> Reading | Fault:
    """A read value in the canonical unit, unless no such value can exist."""
    canonical: float | None = None
    if found.number is not None:
        try:
            canonical = column.to_canonical(found.number)
        except SayboltError:
            return Fault("is below 32 s, where Saybolt universal seconds begin")
        fault = _impossible(found, canonical, column.analyte)
        if fault is not None:
            return fault
    elif found.sign in (Sign.ABSENT, Sign.PRESENT):
        canonical = float(found.sign is Sign.PRESENT)
    return Reading(
        analyte=column.analyte.code,
        sign=found.sign,
        value=canonical,
        printed=printed_text(value),
        printed_unit=column.printed_unit,
        decimals=found.decimals,
        detection_limit=canonical if found.sign is Sign.BELOW else None,
    )


def _impossible(found: SignedValue, canonical: float, analyte: Analyte) -> Fault | None:
    plausible = analyte.plausible
    can_be_negative = plausible.low < 0 if plausible else analyte.unit in ("C", "F")
    if canonical < 0 and not can_be_negative:
        return Fault(f"is negative, which {analyte.name} cannot be")
    if found.sign is Sign.BELOW and canonical == 0 and not can_be_negative:
        return Fault("says below 0, where nothing can be", "Enter the detection limit.")
    if plausible and not plausible.low <= canonical <= plausible.high:
        return Fault(
            f"lies outside what is plausible for {analyte.name} "
            f"({plausible.low:g} to {plausible.high:g} {analyte.unit})",
            "Check unit and decimal mark, and correct the cell, or hold the row.",
        )
    return None


def problem_of(cell: Cell, header: str, fault: Fault) -> Problem:
    """A fault at its place."""
    return Problem(
        row=cell.row,
        column=header,
        printed=cell.printed,
        wrong=fault.wrong,
        remedy=fault.remedy,
    )


def read_date(value: CellValue, rules: ValueRules) -> date | Fault | None:
    """A day, by the layout's formats or as stored in a spreadsheet; nothing for an empty cell.

    >>> read_date("31.11.2026", ValueRules(date_formats=("%d.%m.%Y",))).wrong
    'is not a date this layout knows, or not a day of the calendar'
    """
    if isinstance(value, datetime):
        found: date | Fault | None = value.date()
    elif isinstance(value, date):
        found = value
    elif isinstance(value, str):
        found = _read_date_text(value.strip(), rules.date_formats)
    else:
        return Fault("is a number where a date belongs", "Enter the cell as a date.")
    if isinstance(found, date) and found.year < EARLIEST_YEAR:
        return Fault(f"lies before {EARLIEST_YEAR}", "Correct the date, or hold the row.")
    return found


@lru_cache(maxsize=8_192)
def _read_date_text(text: str, formats: tuple[str, ...]) -> date | Fault | None:
    if not text:
        return None
    for form in formats:
        try:
            return datetime.strptime(text, form).date()  # noqa: DTZ007 - a day at the site
        except ValueError:
            continue
    return Fault(
        "is not a date this layout knows, or not a day of the calendar",
        "Correct the date, or hold the row.",
    )
