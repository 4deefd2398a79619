"""A record being edited: its fields as texts, what is wrong with each, and what has changed."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from fluiddesk.domain.errors import OperatorError

Value = str | float | int | date | None
Values = Mapping[str, Value]


class FieldKind(StrEnum):
    """How the text of a field is read."""

    TEXT = "text"
    NUMBER = "number"
    WHOLE = "whole"
    DAY = "day"
    CHOICE = "choice"
    LONG = "long"
    PICK = "pick"
    """One of many: part of its words is typed, and the fitting ones are offered."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FormField:
    """One field of a form. ``value`` is the text that is saved now.

    ``least`` and ``most`` bound a number, both included; ``above`` is a bound that is not.
    """

    key: str
    label: str
    kind: FieldKind = FieldKind.TEXT
    value: str = ""
    unit: str = ""
    note: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    is_needed: bool = False
    is_fixed: bool = False
    least: float | None = None
    most: float | None = None
    above: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordForm:
    """A form to fill in. ``is_new`` forms can be saved without a change to what stands there."""

    key: str
    title: str
    about: str = ""
    save_label: str
    fields: tuple[FormField, ...]
    is_new: bool = False


@dataclass
class FormDraft:
    """What a person has written into a form and not saved yet."""

    form: RecordForm
    texts: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Begin with what is saved."""
        self.texts = {one.key: one.value for one in self.form.fields} | self.texts

    def write(self, key: str, text: str) -> None:
        """Write a text into a field."""
        self.texts[key] = text

    @property
    def changed(self) -> tuple[str, ...]:
        """The labels of the fields that differ from what is saved."""
        return tuple(
            one.label for one in self.form.fields if self.texts[one.key].strip() != one.value
        )

    @property
    def is_changed(self) -> bool:
        """Whether there is anything to save."""
        return bool(self.changed)

    def problem(self, key: str) -> str:
        """What is wrong with a field; empty while it is sound."""
        one = next(each for each in self.form.fields if each.key == key)
        try:
            read_field(one, self.texts[key])
        except OperatorError as wrong:
            return str(wrong)
        return ""

    @property
    def problems(self) -> dict[str, str]:
        """Every field that cannot be saved as it stands, with the reason."""
        told = {one.key: self.problem(one.key) for one in self.form.fields}
        return {key: text for key, text in told.items() if text}

    @property
    def can_save(self) -> bool:
        """Whether the form is sound and there is something to save."""
        return (self.is_changed or self.form.is_new) and not self.problems

    def values(self) -> Values:
        """What the fields say, read by their kinds.

        Raises:
            OperatorError: when a field is not sound.
        """
        return {one.key: read_field(one, self.texts[one.key]) for one in self.form.fields}


def read_field(one: FormField, text: str) -> Value:
    """Read the text of a field; an empty one is ``None``, or an empty text.

    Raises:
        OperatorError: when it cannot be read, with the value and the remedy.
    """
    said = text.strip()
    if not said:
        if one.is_needed:
            raise OperatorError(f"{one.label} is missing. Write it.")
        return "" if one.kind in (FieldKind.TEXT, FieldKind.LONG) else None
    return _READERS[one.kind](one, said)


def _text(one: FormField, said: str) -> Value:
    return said


def _number(one: FormField, said: str) -> Value:
    try:
        number = float(said.replace(",", ".") if "." not in said else said)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise OperatorError(f'"{said}" is not a number. Write digits, such as 38.5.')
    _bound(one, number, said)
    return number


def _whole(one: FormField, said: str) -> Value:
    number = _number(one, said)
    if not isinstance(number, float) or number != int(number):
        raise OperatorError(f'"{said}" is not a whole number.')
    return int(number)


def _bound(one: FormField, number: float, said: str) -> None:
    if one.above is not None and number <= one.above:
        raise OperatorError(f"{said} is too low. Write more than {one.above:g}.")
    if one.least is not None and number < one.least:
        raise OperatorError(f"{said} is too low. Write {one.least:g} or more.")
    if one.most is not None and number > one.most:
        raise OperatorError(f"{said} is too high. Write {one.most:g} or less.")


def _day(one: FormField, said: str) -> Value:
    try:
        return date.fromisoformat(said)
    except ValueError:
        raise OperatorError(f'"{said}" is not a date. Write year-month-day.') from None


def _choice(one: FormField, said: str) -> Value:
    if said not in {code for code, _words in one.choices}:
        raise OperatorError(f'"{said}" is not in the list. Choose one that is.')
    return said


def _pick(one: FormField, said: str) -> Value:
    """The code of the choice with these words, whatever the letters' case."""
    wanted = " ".join(said.split()).casefold()
    for code, words in one.choices:
        if words.casefold() == wanted:
            return code
    raise OperatorError(f'"{said}" is not in the list. Type a part and choose one.')


_READERS: Mapping[FieldKind, Callable[[FormField, str], Value]] = {
    FieldKind.TEXT: _text,
    FieldKind.LONG: _text,
    FieldKind.NUMBER: _number,
    FieldKind.WHOLE: _whole,
    FieldKind.DAY: _day,
    FieldKind.CHOICE: _choice,
    FieldKind.PICK: _pick,
}
