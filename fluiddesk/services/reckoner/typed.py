"""Reads what was typed into fields; every complaint names the field, the text and the remedy.

Nothing is guessed: a comma may part decimals or thousands, so that it is refused. A number may
carry a unit of the same kind and is then converted, which the answer tells.
"""

import math
import re
from collections.abc import Sequence
from datetime import date
from typing import Final, NoReturn

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.units import UNITS, UnitError, convert, unit_named
from fluiddesk.services.reckoner.facts import Field, MissingFigureError, Typed

NUMBER: Final = r"[+\-\u2212]?(?:\d{1,3}(?:[ \u00a0\u202f]\d{3})+|\d+)(?:\.\d*)?(?:[eE][+\-]?\d+)?"
"""A number: a point for decimals, blanks between thousands if wanted."""
_FIGURE: Final = re.compile(rf"(?P<number>{NUMBER}|[+\-]?\.\d+)\s*(?P<unit>(?:[^\d\s.,;].*)?)")
_NONE: Final = ("", "-")
_SAYBOLT: Final = "SUS"


class TypedError(OperatorError):
    """What was typed into a field cannot be read, or cannot be."""


def told(number: float, digits: int = 4, *, is_even: bool = False) -> str:
    """A number to so many digits that count, never with an exponent; even ones keep their zeros.

    >>> told(90.8652), told(0.000321), told(1234567.0), told(-0.0)
    ('90.87', '0.000321', '1234567', '0')
    >>> told(13.0, 3), told(13.0, 3, is_even=True)
    ('13', '13.0')
    """
    if not math.isfinite(number):
        return "without end" if number > 0 else "none"
    if not number:
        return "0"
    places = max(digits - 1 - math.floor(math.log10(abs(number))), 0)
    text = f"{number:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text and not is_even else text


def number_in(text: str) -> float:
    """The number of a text that matches ``NUMBER``."""
    return float(re.sub(r"[ \u00a0\u202f]", "", text).replace("\u2212", "-"))


class TypedFields:
    """The fields of one reckoning as they were typed.

    ``steps`` fills with the conversions and assumptions that were made while reading.
    """

    def __init__(self, fields: Sequence[Field], typed: Typed) -> None:
        self._fields = {field.name: field for field in fields}
        self._typed = {name: typed.get(name, "").strip() for name in self._fields}
        self.steps: list[str] = []
        self.cautions: list[str] = []

    def has(self, name: str) -> bool:
        """Whether anything was typed there; a dash alone is nothing."""
        return self._typed[name] not in _NONE

    def text(self, name: str) -> str:
        """The text of a field, or its default; empty where it may be left out.

        Raises:
            MissingFigureError: when it is needed and was not typed.
        """
        field = self._fields[name]
        if self.has(name):
            return self._typed[name]
        if field.default:
            self.steps.append(f"{field.label}: {field.default} {field.unit}".strip() + ", assumed")
            return field.default
        if field.is_needed:
            self.refuse_missing(name)
        return ""

    def refuse_missing(self, *names: str) -> NoReturn:
        """Say that one of these is needed.

        Raises:
            MissingFigureError: always.
        """
        fields = [self._fields[name] for name in names]
        asked = " or ".join(field.label for field in fields)
        such = " or ".join(
            f"{field.example} {field.unit}".strip() for field in fields if field.example
        )
        raise MissingFigureError(
            f"{asked} is missing. Give it{f', such as {such}' if such else ''}."
        )

    def choice(self, name: str) -> str:
        """The word chosen.

        Raises:
            TypedError: for a word that is none of the choices.
        """
        field, word = self._fields[name], self.text(name).lower()
        if word and word not in field.choices:
            raise TypedError(
                f'{field.label}: "{word}" is none of the choices. '
                f"Choose {' or '.join(field.choices)}."
            )
        return word

    def day(self, name: str) -> date | None:
        """The day typed, or nothing."""
        text = self.text(name)
        return day_in(text, label=self._fields[name].label) if text else None

    def number(self, name: str) -> float:
        """The number of a field that is needed or has a default, in the field's unit."""
        found = self.maybe(name)
        if found is None:
            self.refuse_missing(name)
        return found

    def maybe(self, name: str) -> float | None:
        """The number of a field in its unit; ``None`` where it may be left out and was.

        Raises:
            TypedError: for what is no number, outside the field's bounds, or in another unit.
            MissingFigureError: when it is needed and was not typed.
        """
        text = self.text(name)
        return self._number(self._fields[name], text) if text else None

    def _number(self, field: Field, text: str) -> float:
        match = _FIGURE.fullmatch(text)
        if not match:
            raise TypedError(
                f'{field.label}: "{text}" is no number. Write a number such as '
                f"{field.example or field.default or '1.5'}, with a point for decimals and no "
                "mark between thousands."
            )
        number = number_in(match["number"])
        if not math.isfinite(number):
            raise TypedError(f'{field.label}: "{text}" is too large. Correct the number.')
        unit = match["unit"].strip()
        if unit:
            number = self._converted(field, number, unit)
        _refuse_outside(field, number)
        return number

    def _converted(self, field: Field, number: float, unit: str) -> float:
        if unit == field.unit:
            return number
        named = _unit_of_kind(unit, field.unit)
        if named is None:
            raise TypedError(
                f'{field.label}: "{told(number)} {unit}" is in a unit it is not measured in. '
                f"Write it {_units_of(field.unit)}."
            )
        found = convert(number, unit_from=unit, unit_to=field.unit)
        if named != unit_named(field.unit).name:
            self.steps.append(f"{field.label}: {told(number)} {named} = {told(found)} {field.unit}")
        if named == _SAYBOLT:
            self.cautions.append(
                "Saybolt seconds were read as measured at 100 °F (37.8 °C) (ASTM D2161)."
            )
        return found


def _unit_of_kind(unit: str, wanted: str) -> str | None:
    """The name of a unit that measures the same as the one wanted; ``None`` for any other."""
    try:
        named = unit_named(unit)
        return named.name if named.kind == unit_named(wanted).kind else None
    except UnitError:
        return None


def _units_of(unit: str) -> str:
    try:
        kind = unit_named(unit).kind
    except UnitError:
        return f"in {unit}"
    return f"in {', '.join(one.name for one in UNITS if one.kind == kind)}"


def _refuse_outside(field: Field, number: float) -> None:
    bounds = (
        (field.above, field.above is not None and number <= field.above, "above"),
        (field.at_least, field.at_least is not None and number < field.at_least, "at least"),
        (field.at_most, field.at_most is not None and number > field.at_most, "at most"),
    )
    for bound, is_outside, word in bounds:
        if is_outside and bound is not None:
            value, most = (f"{one:.9g} {field.unit}".strip() for one in (number, bound))
            raise TypedError(f"{field.label}: {value} must be {word} {most}. Correct the figure.")


def day_in(text: str, *, label: str) -> date:
    """The day a text names.

    Raises:
        TypedError: when it is no day of the calendar, written year-month-day.
    """
    try:
        return date.fromisoformat(text)
    except ValueError as fault:
        raise TypedError(
            f'{label}: "{text}" is no day. Write year-month-day, such as 2026-11-20.'
        ) from fault
