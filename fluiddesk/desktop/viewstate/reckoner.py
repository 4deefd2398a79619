"""The reckoner on screen: which reckoning, what was typed into each, and what it comes to."""

from dataclasses import dataclass
from enum import Enum
from typing import Final

from fluiddesk.domain.errors import OperatorError
from fluiddesk.services.reckoner.facts import Answer, MissingFigureError, Reckoning
from fluiddesk.services.reckoner.reckonings import RECKONINGS

CAUTION: Final = (
    "A reckoning advises; a named person decides. The machine's manual, the site's rules and "
    "licensed practice come first."
)


def unit_shown(unit: str) -> str:
    """A unit as a person writes it beside a field.

    >>> unit_shown("C"), unit_shown("mm2/s"), unit_shown("mg/kg")
    ('°C', 'mm²/s', 'mg/kg')
    """
    return "°C" if unit == "C" else written(unit)


def written(text: str) -> str:
    """A text with its square millimetres as a person writes them."""
    return text.replace("mm2/s", "mm²/s")


class Standing(Enum):
    """Where a reckoning stands."""

    EMPTY = "empty"
    WAITING = "waiting"
    REFUSED = "refused"
    ANSWERED = "answered"


@dataclass(frozen=True, slots=True, kw_only=True)
class ValueLine:
    """One value in the list below the answer; a number stands apart from its unit."""

    label: str
    text: str
    unit: str
    is_number: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """What stands on screen beside the fields.

    Attributes:
        cautions: what to mind.
        notes: pairs of a caption and its text: method, source, status and steps.
    """

    standing: Standing
    headline: str
    sentence: str
    lines: tuple[ValueLine, ...] = ()
    cautions: tuple[str, ...] = ()
    notes: tuple[tuple[str, str], ...] = ()


class ReckonerState:
    """What was typed into each reckoning, kept while another one is on screen."""

    def __init__(self) -> None:
        self.chosen = 0
        self._typed: list[dict[str, str]] = [{} for _ in RECKONINGS]

    @property
    def titles(self) -> tuple[str, ...]:
        """The names of the reckonings, in their order."""
        return tuple(one.title for one in RECKONINGS)

    @property
    def reckoning(self) -> Reckoning:
        """The one on screen."""
        return RECKONINGS[self.chosen]

    @property
    def typed(self) -> dict[str, str]:
        """What was typed into the one on screen, by the name of the field."""
        return dict(self._typed[self.chosen])

    def choose(self, number: int) -> None:
        """Bring another reckoning on screen; a number there is none for changes nothing."""
        if 0 <= number < len(RECKONINGS):
            self.chosen = number

    def enter(self, name: str, text: str) -> None:
        """Take what was typed into a field."""
        self._typed[self.chosen][name] = text

    def clear(self) -> None:
        """Forget what was typed into the one on screen."""
        self._typed[self.chosen] = {}

    def fill_example(self) -> None:
        """Type the worked example of the one on screen."""
        self._typed[self.chosen] = self.reckoning.example()

    @property
    def is_empty(self) -> bool:
        """Whether nothing is typed."""
        return not any(text.strip() for text in self._typed[self.chosen].values())

    def answer(self) -> Answer | None:
        """The answer, or nothing while there is none."""
        try:
            return self.reckoning.work(self.typed)
        except OperatorError:
            return None

    def shown(self) -> Shown:
        """What stands beside the fields now."""
        if self.is_empty:
            return Shown(
                standing=Standing.EMPTY,
                headline="",
                sentence="Give the figures; the answer stands here as you type.",
            )
        try:
            found = self.reckoning.work(self.typed)
        except MissingFigureError as missing:
            return Shown(standing=Standing.WAITING, headline="Not yet", sentence=str(missing))
        except OperatorError as fault:
            return Shown(standing=Standing.REFUSED, headline="No answer", sentence=str(fault))
        return Shown(
            standing=Standing.ANSWERED,
            headline=written(found.headline),
            sentence=written(found.sentence),
            lines=_lines(found),
            cautions=found.cautions,
            notes=_notes(found),
        )

    def answer_to_copy(self) -> str:
        """The answer as text with the figures it rests on; empty while there is none."""
        found = self.answer()
        if found is None:
            return ""
        given = [
            f"{field.label}: {self.typed[field.name].strip()} {field.unit}".strip()
            for field in self.reckoning.fields
            if self.typed.get(field.name, "").strip()
        ]
        return "\n".join([self.reckoning.title, *given, "", found.as_text()])


def _lines(found: Answer) -> tuple[ValueLine, ...]:
    """The values; the only one of an answer stands in its headline already."""
    if len(found.values) == 1:
        return ()
    return tuple(
        ValueLine(
            label=written(value.label),
            text=value.text,
            unit=unit_shown(value.unit),
            is_number=isinstance(value.number, int | float) and bool(value.unit),
        )
        for value in found.values
    )


def _notes(found: Answer) -> tuple[tuple[str, str], ...]:
    notes = [
        ("Method", found.method),
        ("Source", found.source),
        ("Status", found.status.value),
        ("Steps", "\n".join(found.steps)),
    ]
    return tuple((caption, written(text[:1].upper() + text[1:])) for caption, text in notes if text)
