"""The limits of one set on screen: scopes with counts, rows by family, filter and order."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import IntEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.desktop.viewstate.limit_ruler import bound_shown, decimals_of
from fluiddesk.desktop.viewstate.row_order import (
    Ranks,
    ordered,
    ranks_of_numbers,
    ranks_of_texts,
)
from fluiddesk.domain.limits.limit_set import Scope
from fluiddesk.domain.severity import Severity
from fluiddesk.services.limit_rules import LimitLine, LimitsShown

NOT_JUDGED: Final = "kept, not yet used in verdicts"
CAUTION: Final = (
    "Starter limits are a start, not the last word. Compare them with the machine's manual, "
    "the site's rules and licensed practice; a named person decides."
)


class LimitColumn(IntEnum):
    """The columns of the table of limits, in display order."""

    ANALYTE = 0
    SYMBOL = 1
    LOOKS_AT = 2
    WORSE = 3
    WATCH = 4
    ACT = 5
    URGENT = 6
    UNIT = 7
    BANDS = 8
    NEEDS = 9
    SOURCE = 10
    SET_BY = 11


ALL_SCOPES: Final = -1


@dataclass(frozen=True, slots=True)
class ScopeEntry:
    """One line of the list of scopes; ``number`` is ``None`` for a heading."""

    label: str
    number: int | None
    count: int = 0


@dataclass(frozen=True, slots=True)
class FamilyHeading:
    """A heading between limits."""

    text: str


ShownRow = FamilyHeading | LimitLine

NO_NAMES: Final[Mapping[str, str]] = {}
_SECTIONS: Final = ("Whole fleet", "Compartment kinds", "Machine kinds", "Models", "Single boxes")


def _section(scope: Scope) -> int:
    if scope.compartment:
        return 4
    if scope.model:
        return 3
    if scope.machine_kind:
        return 2
    return 1 if scope.compartment_kind else 0


def scope_label(line: LimitLine, box_names: Mapping[str, str] = NO_NAMES) -> str:
    """The scope of a limit in the words of the list; its fluid class is told in the row.

    Args:
        line: the limit.
        box_names: names of single boxes, by the hex of their identifiers.
    """
    scope = line.limit.scope
    if scope.compartment:
        return box_names.get(scope.compartment, f"Box {scope.compartment[-8:]}")
    kind = line.compartment_kind if scope.compartment_kind else ""
    if not scope.machine_kind and not scope.model:
        return kind or "Every box"
    machine = scope.model or scope.machine_kind.replace("_", " ").capitalize()
    return f"{machine}, {kind.lower()}" if kind else machine


@dataclass
class LimitsState:
    """The limits of a set under a scope, a filter and an order.

    Attributes:
        box_names: names of single boxes, by the hex of their identifiers.
        labels: the scopes, in order of the list.
        chosen: index into ``labels``, or ``ALL_SCOPES``.
        rows: limits in the order shown, with a heading before each family.
        decimals: the most digits behind the decimal sign in each column of bounds shown.
    """

    facts: LimitsShown
    box_names: Mapping[str, str] = field(default_factory=dict)
    chosen: int = ALL_SCOPES
    wanted: str = ""
    sort_column: LimitColumn | None = None
    descending: bool = False
    labels: list[str] = field(init=False)
    rows: list[ShownRow] = field(init=False)
    _sections: list[int] = field(init=False)
    _scope_of: NDArray[np.intp] = field(init=False)
    _group_of: NDArray[np.int64] = field(init=False)
    decimals: dict[LimitColumn, int] = field(init=False)
    _headings: list[str] = field(init=False)
    _texts: list[str] = field(init=False)

    def __post_init__(self) -> None:
        lines = self.facts.lines
        keys = [(_section(line.limit.scope), scope_label(line, self.box_names)) for line in lines]
        # dict.fromkeys keeps the order of first sight, and sorting by section keeps it inside one.
        scopes = sorted(dict.fromkeys(keys), key=lambda key: key[0])
        numbers = {key: number for number, key in enumerate(scopes)}
        self.labels = [label for _, label in scopes]
        self._sections = [section for section, _ in scopes]
        self._scope_of = np.array([numbers[key] for key in keys], dtype=np.intp)
        first_seen: dict[tuple[int, str], int] = {}
        self._headings = [group_heading(line) for line in lines]
        for place, heading in enumerate(self._headings):
            first_seen.setdefault((int(self._scope_of[place]), heading), place)
        # Limits that are only kept stand after those that judge, inside each scope.
        kept_last = [0 if line.is_judged else len(lines) for line in lines]
        self._group_of = np.array(
            [
                2 * scope * len(lines) + last + first_seen[scope, heading]
                for scope, last, heading in zip(
                    self._scope_of.tolist(), kept_last, self._headings, strict=True
                )
            ],
            dtype=np.int64,
        )
        self._texts = [_searched(line) for line in lines]
        self._arrange()

    def take_over(self, old: "LimitsState") -> None:
        """Take over filter and order of another state, and its scope where there is one."""
        self.wanted = old.wanted
        self.sort_column, self.descending = old.sort_column, old.descending
        label = old.labels[old.chosen] if old.chosen >= 0 else ""
        self.chosen = self.labels.index(label) if label in self.labels else ALL_SCOPES
        self._arrange()

    def choose(self, scope: int) -> None:
        """Show the limits of one scope, or of all."""
        self.chosen = scope
        self._arrange()

    def filter(self, wanted: str) -> None:
        """Keep the limits that hold every word typed, in any place."""
        self.wanted = wanted
        self._arrange()

    def sort(self, column: LimitColumn | None, *, descending: bool) -> None:
        """Order the limits inside each family; ``None`` is the order of the catalogue."""
        self.sort_column, self.descending = column, descending
        self._arrange()

    def scope_entries(self) -> list[ScopeEntry]:
        """The list of scopes with the number of limits the filter leaves in each."""
        matching = self._matching()
        counts = np.bincount(self._scope_of[matching], minlength=len(self.labels))
        entries = [ScopeEntry("All scopes", ALL_SCOPES, int(matching.sum()))]
        last = None
        for number, label in enumerate(self.labels):
            section = self._sections[number]
            if section != last:
                entries.append(ScopeEntry(_SECTIONS[section], None))
                last = section
            entries.append(ScopeEntry(label, number, int(counts[number])))
        return entries

    @property
    def has_needs(self) -> bool:
        """Whether any limit shown needs company from its group."""
        return any(not isinstance(row, FamilyHeading) and bool(row.needs) for row in self.rows)

    def _matching(self) -> NDArray[np.bool_]:
        words = self.wanted.casefold().split()
        if not words:
            return np.ones(len(self._texts), dtype=np.bool_)
        return np.array([all(word in text for word in words) for text in self._texts], np.bool_)

    def _arrange(self) -> None:
        lines = self.facts.lines
        kept = self._matching()
        if self.chosen != ALL_SCOPES:
            kept &= self._scope_of == self.chosen
        if self.sort_column is None:
            inside: Ranks = np.arange(len(lines), dtype=np.int64)
        else:
            inside = _ranks_of(lines, self.sort_column)
        by_column = ordered(kept, inside, descending=self.descending)
        order = by_column[np.argsort(self._group_of[by_column], kind="stable")]
        self.rows = self._with_headings(order)
        shown = [row for row in self.rows if not isinstance(row, FamilyHeading)]
        self.decimals = {
            column: max((decimals_of(cell_text(row, column)) for row in shown), default=0)
            for column in _BOUND_OF
        }

    def _with_headings(self, order: NDArray[np.intp]) -> list[ShownRow]:
        rows: list[ShownRow] = []
        last = None
        for number in order.tolist():
            line = self.facts.lines[number]
            if self._group_of[number] != last:
                last = self._group_of[number]
                heading = self._headings[number]
                if self.chosen == ALL_SCOPES:
                    scope = self.labels[self._scope_of[number]]
                    heading = f"{scope}: {heading[0].lower()}{heading[1:]}"
                rows.append(FamilyHeading(heading))
            rows.append(line)
        return rows


def fluid_words(line: LimitLine) -> str:
    """The fluid class a limit is for; empty where it holds for any."""
    return line.limit.scope.fluid_class.replace("_", " ")


def group_heading(line: LimitLine) -> str:
    """The heading a limit stands under: its family and fluid class, or that it is only kept."""
    if not line.is_judged:
        return NOT_JUDGED.capitalize()
    fluid = fluid_words(line)
    return f"{line.family} (fluid: {fluid})" if fluid else line.family


def limit_title(line: LimitLine) -> str:
    """A limit in one phrase: "Iron (Fe): level, worse when it rises"."""
    way = "rises" if line.direction == "up" else "falls"
    kind = line.kind[0].lower() + line.kind[1:]
    return f"{line.analyte} ({line.symbol}): {kind}, worse when it {way}"


def _searched(line: LimitLine) -> str:
    told = (
        line.analyte,
        line.symbol,
        line.family,
        line.kind,
        line.scope,
        line.compartment_kind,
        line.source,
        line.set_by,
        line.note,
        "" if line.is_judged else NOT_JUDGED,
    )
    return " ".join(told).casefold()


def _ranks_of(lines: Sequence[LimitLine], column: LimitColumn) -> Ranks:
    bound = _BOUND_OF.get(column)
    if bound is not None:
        return ranks_of_numbers([line.limit.bound(bound) for line in lines])
    return ranks_of_texts([cell_text(line, column) for line in lines])


_BOUND_OF: Final = {
    LimitColumn.WATCH: Severity.WATCH,
    LimitColumn.ACT: Severity.ACT,
    LimitColumn.URGENT: Severity.URGENT,
}

_UNITS: Final = {"mm2/s": "mm²/s", "um": "µm", "C": "°C"}


def unit_text(unit: str) -> str:
    """A unit as a person writes it.

    >>> unit_text("mm2/s"), unit_text("mm2/s per 100 h"), unit_text("mg/kg")
    ('mm²/s', 'mm²/s per 100 h', 'mg/kg')
    """
    first, space, rest = unit.partition(" ")
    return f"{_UNITS.get(first, first)}{space}{rest}"


def cell_text(line: LimitLine, column: LimitColumn) -> str:
    """What one cell says."""
    cells = {
        LimitColumn.ANALYTE: line.analyte,
        LimitColumn.SYMBOL: line.symbol,
        # The unit says that it is in percent.
        LimitColumn.LOOKS_AT: line.kind.removesuffix(", %"),
        LimitColumn.WORSE: line.direction,
        LimitColumn.WATCH: bound_shown(line.watch),
        LimitColumn.ACT: bound_shown(line.act),
        LimitColumn.URGENT: bound_shown(line.urgent),
        LimitColumn.UNIT: unit_text(line.unit),
        LimitColumn.BANDS: "",
        LimitColumn.NEEDS: line.needs,
        LimitColumn.SOURCE: line.source,
        LimitColumn.SET_BY: line.set_by,
    }
    return cells[column]
