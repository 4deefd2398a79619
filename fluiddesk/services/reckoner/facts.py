"""What a reckoning asks for and what it answers, as plain values."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from fluiddesk.domain.errors import UsageError

Typed = Mapping[str, str]
"""What was typed, by the name of the field."""


class MissingFigureError(UsageError):
    """A reckoning cannot begin yet: a figure it needs was not given."""


class Status(StrEnum):
    """How well a method is known."""

    PUBLISHED = "published"
    MEMORY = "from memory, unconfirmed"
    PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One thing a reckoning asks for.

    Attributes:
        name: by which it is given.
        label: what it is, in words.
        unit: the unit it is read in when none is typed; empty for a text, a day or a choice.
        example: what could be typed, of one worked example with those of the other fields.
        default: what is taken when nothing is typed; the answer says so.
        is_needed: whether the reckoning cannot do without it.
        choices: the words to choose from.
        above: a number must be greater, in ``unit``.
        at_least: the least a number may be.
        at_most: the most a number may be.
        is_long: whether a line of text is typed there, rather than a figure.
    """

    name: str
    label: str
    unit: str = ""
    example: str = ""
    default: str = ""
    is_needed: bool = True
    choices: tuple[str, ...] = ()
    above: float | None = None
    at_least: float | None = None
    at_most: float | None = None
    is_long: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """One value of an answer: its number, or a word where it is none, and how it is written.

    ``number`` is ``None`` where there is no value, such as between two grades.
    """

    name: str
    label: str
    number: float | int | str | None
    text: str
    unit: str = ""

    @property
    def with_unit(self) -> str:
        """The value as people read it."""
        return f"{self.text} {self.unit}".strip()


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a reckoning found, and how far it can be relied on.

    Attributes:
        headline: the answer in a few words, with its unit.
        sentence: the same in a sentence.
        values: every value, the main one first.
        steps: how it came about, a line a step.
        method: the method in words, with edition and clause.
        source: where the figures of the method come from.
        status: how well the method is known.
        cautions: what to mind before it is used.
    """

    headline: str
    sentence: str
    values: tuple[Value, ...]
    steps: tuple[str, ...]
    method: str
    source: str
    status: Status
    cautions: tuple[str, ...] = ()

    def as_text(self) -> str:
        """The whole answer in lines, to be printed or copied."""
        lines = [self.headline, self.sentence]
        lines += [f"{value.label}: {value.with_unit}" for value in self.values]
        lines += [f"Step: {step}" for step in self.steps]
        lines += [f"Method: {self.method}", f"Source: {self.source}", f"Status: {self.status}"]
        lines += [f"Caution: {caution}" for caution in self.cautions]
        return "\n".join(lines)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reckoning:
    """One of the calculations.

    Attributes:
        name: the word on the command line.
        title: its name on screen.
        about: what it is for, in a sentence.
        fields: what it asks for, in the order of the page.
        in_order: names of the fields that may be given by their place on the command line.
        work: the calculation; raises an ``OperatorError`` for what it cannot answer.
    """

    name: str
    title: str
    about: str
    fields: tuple[Field, ...]
    in_order: tuple[str, ...]
    work: Callable[[Typed], Answer]

    def example(self) -> dict[str, str]:
        """A worked example: what to type in each field."""
        return {field.name: field.example for field in self.fields if field.example}
