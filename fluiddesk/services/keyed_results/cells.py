"""What a clerk types into one cell: numbers with comma or point, signs, and short words.

``<5`` is below 5, ``>15`` above it; ``n`` is not tested, ``i`` not enough in the bottle; a test
that is absent or present takes ``-`` and ``+``, or the laboratory's own words.
"""

from dataclasses import replace
from datetime import date
from functools import lru_cache
from typing import Final

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.samples import Reading
from fluiddesk.domain.units import Conversion, conversion
from fluiddesk.intake.particle_codes import parse_codes
from fluiddesk.intake.values import (
    Fault,
    SignedValue,
    ValueColumn,
    ValueRules,
    read_date,
    read_value,
    reading,
)
from fluiddesk.services.keyed_results.basis import CheckBasis, FormColumn
from fluiddesk.services.keyed_results.facts import CellRead, OpenReport

NOT_TESTED: Final = "n"
NOT_ENOUGH: Final = "i"
_ABSENT: Final = ("-", "a")
_PRESENT: Final = ("+", "p")
_DATE_FORMS: Final = ("%Y-%m-%d",)
_DIGITS_SHOWN: Final = 3
REMEDY: Final = 'Type a number, "<" or ">" before it, n for not tested, or i for not enough.'


def read_cell(report: OpenReport, key: str, text: str) -> CellRead:
    """What the text of one cell means; see the module for what may be typed.

    Raises:
        KeyError: when the form has no such cell.
    """
    return read_text(report.basis, report.basis.column(key), text)


def read_text(basis: CheckBasis, column: FormColumn, text: str) -> CellRead:
    """The same for a column of the form."""
    plain = text.strip()
    found = CellRead(key=column.key, text=text, shown=plain)
    if not plain:
        return found
    rules = _rules(basis.layout.rules, is_comma="," in plain)
    if column.is_code:
        made = parse_codes(plain, columns=column.values, rules=rules)
        if isinstance(made, Fault):
            return replace(found, fault=made.wrong, remedy=made.remedy)
        return replace(found, readings=made, raw=tuple(one.value for one in made))
    return _single(found, column.values[0], plain, rules)


def _single(found: CellRead, column: ValueColumn, text: str, rules: ValueRules) -> CellRead:
    is_presence = column.analyte.is_presence_test
    seen = read_value(text, rules=rules, unit=column.printed_unit, is_presence=is_presence)
    if isinstance(seen, Fault):
        return replace(found, fault=seen.wrong, remedy=REMEDY)
    made = reading(text, seen, column=column)
    raw = (seen.number,)
    if isinstance(made, Fault):
        return replace(
            found,
            raw=raw,
            is_impossible=True,
            fault=made.wrong,
            remedy="Compare it with the report.",
        )
    return replace(found, shown=_shown(seen, text), readings=(made,), raw=raw)


def _shown(seen: SignedValue, text: str) -> str:
    words = {5: "n", 6: "i", 3: "-", 4: "+"}
    return words.get(int(seen.sign), text.replace(",", ".").replace(" ", ""))


@lru_cache(maxsize=64)
def _rules(rules: ValueRules, *, is_comma: bool) -> ValueRules:
    return replace(
        rules,
        decimal_mark="," if is_comma else ".",
        thousands_mark="",
        not_tested=tuple({*rules.not_tested, NOT_TESTED} - {"-"}),
        not_enough=tuple({*rules.not_enough, NOT_ENOUGH}),
        absent=tuple({*rules.absent, *_ABSENT}),
        present=tuple({*rules.present, *_PRESENT}),
    )


def read_day(basis: CheckBasis, text: str) -> date | Fault | None:
    """A day of the report's head, in the laboratory's form or as 2026-06-30."""
    forms = tuple(dict.fromkeys((*basis.layout.rules.date_formats, *_DATE_FORMS)))
    return read_date(text, replace(basis.layout.rules, date_formats=forms))


def read_hours(text: str) -> float | Fault | None:
    """Hours or kilometres of the report's head."""
    rules = _rules(ValueRules(), is_comma="," in text)
    seen = read_value(text.strip(), rules=rules, unit="h")
    if isinstance(seen, Fault):
        return seen
    if seen.number is not None and seen.number < 0:
        return Fault("is below 0")
    return seen.number


def canonical(column: ValueColumn, raw: float) -> float:
    """A number as typed in the analyte's own unit; NaN where there is no such value."""
    try:
        return float(column.to_canonical(raw))
    except OperatorError:
        return float("nan")


def printed_number(basis: CheckBasis, column: ValueColumn, value: float) -> float:
    """A canonical value in the unit of the form."""
    way = column.to_canonical
    if way.curve_from is None and way.curve_to is None:
        return (value - way.add) * way.divide / way.multiply
    unit = next(
        one.unit
        for one in basis.layout.results
        if column.analyte.code in one.analytes and column.header in one.headers
    )
    back: Conversion = conversion(unit_from=column.analyte.unit, unit_to=unit)
    return float(back(value))


def printed_text(basis: CheckBasis, column: ValueColumn, value: float) -> str:
    """A canonical value as it would stand on the report: its unit, its usual places.

    Places are those the box's reports are printed with, else the method's, else three digits.
    """
    number = printed_number(basis, column, value)
    places = basis.decimals.get(column.analyte.code)
    if places is None and column.to_canonical(1.0) == 1.0:
        places = column.analyte.decimals
    if places is None:
        places = max(0, _DIGITS_SHOWN - len(str(int(abs(number))))) if number else 0
        text = f"{number:z.{places}f}"
        return text.rstrip("0").rstrip(".") if "." in text else text
    return f"{number:z.{places}f}"


def reading_of(read: CellRead, code: str) -> Reading | None:
    """The reading of one analyte in a cell."""
    return next((one for one in read.readings if one.analyte == code), None)
