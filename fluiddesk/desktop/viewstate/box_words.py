"""What one box of the fleet shows and says: its cell, its sentence, when it is due."""

from dataclasses import dataclass
from datetime import date
from typing import Final

from fluiddesk.domain.sampling.due import NEVER, DueState
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.fleet_condition import BoxRow, FleetCondition

_LETTERS: Final = {"left": "L", "right": "R", "front": "F", "rear": "B", "centre": "C"}


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxCell:
    """What one box shows in its cell; ``age_days`` is -1 without a sample."""

    box: int
    letter: str
    severity: Severity
    trust: Trust
    is_stale: bool
    age_days: int
    direction: int
    is_overdue: bool

    @property
    def age_text(self) -> str:
        """The age as drawn: days since the last sample."""
        return str(self.age_days) if self.age_days >= 0 else "never"


def box_sentence(held: FleetCondition, catalogue: Catalogue, box: int) -> str:
    """Verdict, reason, last sample and what is due, for one box."""
    row = held.rows[box]
    severity, trust = Severity(int(held.severity[box])), Trust(int(held.trust[box]))
    doubt = "" if trust is Trust.GOOD else f" ({trust.word.lower()} sample)"
    name = catalogue.box_name(row.kind, row.position)
    parts = [
        f"{row.machine}, {name}: {severity.word}{doubt}.",
        _reason(row, catalogue),
        _last_sample(row, int(held.age_days[box])),
        due_text(held, box),
    ]
    return " ".join(part for part in parts if part)


def get_words_ready(catalogue: Catalogue) -> None:
    """Read what ``box_sentence`` words reasons with: a first sentence need not wait for it then.

    To be called off the screen's thread; the window shows before any of it is needed.
    """
    from fluiddesk.services.reassess import wording  # noqa: F401  # imported to be at hand

    _ = catalogue.analytes


def _reason(row: BoxRow, catalogue: Catalogue) -> str:
    from fluiddesk.services.reassess.wording import reason_text, reason_title, reasons_from_text

    rules = reasons_from_text(row.reasons)
    if not rules:
        return _full_stop(row.headline) if row.headline else ""
    analytes = catalogue.analytes
    first = f"{reason_title(rules[0], analytes)}: {reason_text(rules[0], analytes)}"
    others = len({rule.analyte for rule in rules} - {rules[0].analyte})
    return f"{first}; {others} more." if others else f"{first}."


def _last_sample(row: BoxRow, age: int) -> str:
    if age < 0:
        return ""
    ago = "today" if age == 0 else f"{age} {'day' if age == 1 else 'days'} ago"
    at = f" at {row.true_hours:.0f} h" if row.true_hours is not None else ""
    return f"Sampled {row.taken_on}, {ago}{at}."


def position_letters(position: str) -> str:
    """The position in letters: L left, R right, F front, B rear, C centre.

    >>> position_letters("front_left")
    'FL'
    """
    words = position.replace("-", "_").split("_")
    return "".join(_LETTERS.get(word, word[:1].upper()) for word in words)


def due_text(condition: FleetCondition, box: int) -> str:
    """When the next sample of a box is due, in one sentence; empty where nothing can be said."""
    state = DueState(int(condition.due.state[box]))
    ordinal = int(condition.due.due_on[box])
    day = date.fromordinal(ordinal) if ordinal < int(NEVER) else None
    match state:
        case DueState.OVERDUE:
            return f"Next was due {day}, {(condition.today - day).days} days ago." if day else ""
        case DueState.DUE | DueState.NOT_YET:
            return f"Next due {day}."
        case DueState.NEVER_SAMPLED:
            return "Never sampled."
        case DueState.EXCUSED:
            return "No sample is owed while the machine stands."
        case _:
            return "No interval is set."


def plain_words(one: BoxCell) -> str:
    """A box's cell in plain words: "L Act suspect 34 d overdue"."""
    parts = [one.letter, one.severity.word]
    if one.trust is not Trust.GOOD:
        parts.append(one.trust.word.lower())
    parts.append(f"{one.age_days} d" if one.age_days >= 0 else "never sampled")
    if one.is_overdue:
        parts.append("overdue")
    return " ".join(part for part in parts if part)


def _full_stop(text: str) -> str:
    return text if text.endswith(".") else f"{text}."
