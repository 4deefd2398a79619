"""The fields of a limit file: which table holds what, of which kind, needed or usual."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final, Literal

from fluiddesk.domain.limits.interval_rule import USUAL_WINDOW_SHARE
from fluiddesk.domain.limits.limit_set import LimitKind

FORMAT: Final = 1
"""The format's version; a file of another one is refused."""

Kind = Literal["text", "number", "whole", "yes", "day"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FileField:
    """One key of a table of a limit file.

    ``usual`` stands where the key is left out; ``is_needed`` keys may not be. ``choices`` are the
    words allowed, any where empty. ``attribute`` is the name in the program where it differs.
    """

    name: str
    kind: Kind = "text"
    is_needed: bool = False
    usual: Any = None
    choices: tuple[str, ...] = ()
    attribute: str = ""

    @property
    def told(self) -> str:
        """What belongs here, in words."""
        if self.choices:
            return f"one of {', '.join(self.choices)}"
        return {
            "text": "text in quotes",
            "number": "a number without quotes",
            "whole": "a whole number without quotes",
            "yes": "true or false without quotes",
            "day": "a day such as 2026-03-31 without quotes",
        }[self.kind]

    def fits(self, value: object) -> bool:
        """Whether a value is of the kind and among the choices."""
        fits = {
            "text": isinstance(value, str),
            "number": isinstance(value, int | float) and not isinstance(value, bool),
            "whole": isinstance(value, int) and not isinstance(value, bool),
            "yes": isinstance(value, bool),
            "day": isinstance(value, date) and not isinstance(value, datetime),
        }[self.kind]
        return fits and (not self.choices or value in self.choices)


_SCOPE: Final = tuple(
    FileField(name=name, usual="")
    for name in ("machine_kind", "model", "compartment_kind", "compartment")
)

SET_FIELDS: Final = (
    FileField(name="name", is_needed=True),
    FileField(name="note", usual=""),
    FileField(name="number", kind="whole", usual=0),
    FileField(name="state", usual=""),
    FileField(name="author", usual=""),
    FileField(name="valid_from", kind="day"),
    FileField(name="valid_until", kind="day"),
)

LIMIT_FIELDS: Final = (
    *_SCOPE,
    FileField(name="fluid_class", usual=""),
    FileField(name="analyte", is_needed=True),
    FileField(name="kind", is_needed=True, choices=tuple(kind.value for kind in LimitKind)),
    FileField(name="direction", is_needed=True, choices=("up", "down")),
    FileField(name="watch", kind="number"),
    FileField(name="act", kind="number"),
    FileField(name="urgent", kind="number"),
    FileField(name="boundary", usual="at", choices=("at", "beyond")),
    FileField(name="source", is_needed=True),
    FileField(name="set_by", is_needed=True),
    FileField(name="note", usual=""),
    FileField(name="group", usual=""),
    FileField(name="act_needs", kind="whole", usual=1),
    FileField(name="urgent_needs", kind="whole", usual=1),
    FileField(name="companion", usual=""),
    FileField(name="least_change", kind="number"),
    FileField(name="off", kind="yes", usual=False, attribute="is_off"),
    FileField(name="off_until", kind="day"),
    FileField(name="derivation", usual=""),
)

INTERVAL_FIELDS: Final = (
    *_SCOPE,
    FileField(name="interval_hours", kind="number"),
    FileField(name="interval_days", kind="whole"),
    FileField(name="window_share", kind="number", usual=USUAL_WINDOW_SHARE),
    FileField(name="convention", usual="rolling", choices=("rolling", "grid")),
    FileField(name="source", is_needed=True),
    FileField(name="set_by", is_needed=True),
    FileField(name="note", usual=""),
)

SCOPE_NAMES: Final = (*(field.name for field in _SCOPE), "fluid_class")
