"""What the columns of an unknown file may carry, as plain values."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from fluiddesk.domain.analytes import AnalyteCode
from fluiddesk.intake.layouts import Role

CHOSEN_FROM: Final = 0.7
"""A suggestion is ticked beforehand from this score on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadingWords:
    """Usual words over columns, as read from the resources."""

    roles: Mapping[Role, tuple[str, ...]]
    long: Mapping[str, tuple[str, ...]]
    not_tested: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Suggestion:
    """What a column may carry, and how sure that is.

    ``kind``: "role", "long" (``code`` is then analyte, value, unit or sign) or "result" (an analyte
    in a unit, three for a contamination code).

    ``score`` from 0 to 1; ``why`` in words. ``needs_density``: the unit is a mass in a volume, so
    that the fluid's density must be said.
    """

    kind: str
    code: str
    unit: str = ""
    score: float = 0.0
    why: str = ""
    analytes: tuple[AnalyteCode, ...] = ()
    needs_density: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnGuess:
    """One column: its heading, some of its cells, and what it may carry, best first."""

    place: int
    heading: str
    unit_text: str
    cells: tuple[str, ...]
    suggestions: tuple[Suggestion, ...]

    @property
    def chosen(self) -> Suggestion | None:
        """The suggestion ticked beforehand, if one is sure enough."""
        best = self.suggestions[0] if self.suggestions else None
        return best if best is not None and best.score >= CHOSEN_FROM else None


@dataclass(frozen=True, slots=True, kw_only=True)
class MappingGuess:
    """What the whole file seems to be.

    ``names``: in the long form, every name in the column of analytes as if it were a heading.
    ``date_forms``: forms that read the days of the file. ``notes``: what a person should look at.
    """

    columns: tuple[ColumnGuess, ...]
    is_long_form: bool
    names: tuple[ColumnGuess, ...] = ()
    date_forms: tuple[str, ...] = ()
    notes: tuple[str, ...] = field(default=())


def one_each(columns: Sequence[ColumnGuess]) -> list[ColumnGuess]:
    """Each thing in one column: the best keeps it, the others' suggestions sink below choosing."""
    best: dict[tuple[str, str], float] = {}
    for one in columns:
        if one.chosen is not None:
            key = (one.chosen.kind, one.chosen.code)
            best[key] = max(best.get(key, 0.0), one.chosen.score)
    taken: set[tuple[str, str]] = set()
    kept = []
    for one in columns:
        chosen = one.chosen
        key = (chosen.kind, chosen.code) if chosen else ("", "")
        if chosen is None or (chosen.score == best[key] and key not in taken):
            taken.add(key)
            kept.append(one)
            continue
        lowered = [
            replace(s, score=min(s.score, CHOSEN_FROM - 0.05)) if (s.kind, s.code) == key else s
            for s in one.suggestions
        ]
        kept.append(_resorted(one, lowered))
    return kept


def _resorted(one: ColumnGuess, suggestions: Sequence[Suggestion]) -> ColumnGuess:
    return replace(one, suggestions=tuple(sorted(suggestions, key=lambda s: -s.score)))
