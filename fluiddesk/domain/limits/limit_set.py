"""Limits, the scope each holds for, and versioned collections of them."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Literal

from fluiddesk.domain.analytes import AnalyteCode
from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.severity import Severity


class LimitKind(StrEnum):
    """What a limit looks at.

    ``level``: the value; ``change``: value minus new fluid; ``change_percent``: that in percent of
    the new fluid; the others compare a rate or a ratio.
    """

    LEVEL = "level"
    CHANGE = "change"
    CHANGE_PERCENT = "change_percent"
    RATE_PER_100H = "rate_per_100h"
    LEFT_RIGHT_RATIO = "left_right_ratio"
    COMPANION_RATIO = "companion_ratio"


JUDGED_KINDS: frozenset[LimitKind] = frozenset(
    {LimitKind.LEVEL, LimitKind.CHANGE, LimitKind.CHANGE_PERCENT}
)
"""The kinds an assessment computes; limits of other kinds are kept and shown, not judged."""


class LimitSetState(StrEnum):
    """A limit set is drafted, holds from a day on, then is retired. It is never edited in force."""

    DRAFT = "draft"
    IN_FORCE = "in_force"
    RETIRED = "retired"


class LimitError(OperatorError):
    """A limit contradicts itself; the text names the limit and what to change."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scope:
    """What a limit applies to; an empty field means "any".

    ``compartment`` is the hex of a compartment's identifier.
    """

    machine_kind: str = ""
    model: str = ""
    compartment_kind: str = ""
    compartment: str = ""
    fluid_class: str = ""

    @property
    def rank(self) -> int:
        """How specific the scope is: fleet, machine kind, model, model and box, single box.

        The compartment kind alone does not raise the rank above the machine kind, since nearly
        every limit names one; it breaks ties, and so does the fluid class, inside one rank.
        """
        if self.compartment:
            return 4
        if self.model:
            return 3 if self.compartment_kind else 2
        return 1 if self.machine_kind else 0

    @property
    def specificity(self) -> tuple[int, int, int]:
        """Sort key: the highest wins."""
        return (self.rank, int(bool(self.compartment_kind)), int(bool(self.fluid_class)))

    def covers(self, box: "Box") -> bool:
        """Whether the limit applies to this box."""
        return (
            self.machine_kind in ("", box.machine_kind)
            and self.model in ("", box.model)
            and self.compartment_kind in ("", box.compartment_kind)
            and self.compartment in ("", box.compartment)
            and self.fluid_class in ("", box.fluid_class)
        )

    @property
    def text(self) -> str:
        """The scope in words."""
        parts = [
            self.machine_kind.replace("_", " "),
            self.model,
            self.compartment_kind.replace("_", " "),
            f"box {self.compartment[-8:]}" if self.compartment else "",
            self.fluid_class.replace("_", " "),
        ]
        return " / ".join(part for part in parts if part) or "whole fleet"


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """What of a compartment decides which limits hold for it."""

    machine_kind: str
    model: str
    compartment_kind: str
    compartment: str
    fluid_class: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """Up to three bounds on one analyte for one scope, in one direction.

    ``boundary`` "at": a value on the bound already belongs to the worse band; "beyond": only one
    past it does. ``act_needs`` and ``urgent_needs``: that band counts only where as many analytes
    of ``group`` reach it in the same sample. ``is_off`` switches an inherited limit off.
    """

    scope: Scope
    analyte: AnalyteCode
    kind: LimitKind
    direction: Literal["up", "down"]
    watch: float | None
    act: float | None
    urgent: float | None
    source: str
    set_by: str
    boundary: Literal["at", "beyond"] = "at"
    group: str = ""
    act_needs: int = 1
    urgent_needs: int = 1
    note: str = ""
    is_off: bool = False

    def bounds(self) -> tuple[float | None, float | None, float | None]:
        """Watch, Act and Urgent."""
        return (self.watch, self.act, self.urgent)

    def bound(self, severity: Severity) -> float | None:
        """The bound that starts a band; ``None`` where the limit has no such band."""
        return self.bounds()[severity - Severity.WATCH] if severity >= Severity.WATCH else None

    @property
    def key(self) -> tuple[AnalyteCode, LimitKind, str]:
        """What makes two limits rivals: only one of them holds for a box."""
        return (self.analyte, self.kind, self.direction)


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitSet:
    """A dated, versioned collection of limits."""

    number: int
    name: str
    state: LimitSetState
    valid_from: date
    valid_until: date | None
    author: str
    note: str
    limits: tuple[Limit, ...]


def check_limit(limit: Limit) -> None:
    """Refuse a limit whose bounds are out of order or all missing.

    Raises:
        LimitError: with the limit's scope and analyte and the bounds as given.
    """
    known = [bound for bound in limit.bounds() if bound is not None]
    where = f"{limit.scope.text}, {limit.analyte}, {limit.kind.value} {limit.direction}"
    if not known and not limit.is_off:
        raise LimitError(f"{where}: no bound is given. Give at least one of Watch, Act, Urgent.")
    in_order = sorted(known, reverse=limit.direction == "down")
    if known != in_order or len(set(known)) != len(known):
        shown = " / ".join("-" if bound is None else f"{bound:g}" for bound in limit.bounds())
        raise LimitError(
            f"{where}: Watch / Act / Urgent read {shown}. "
            f"Each must lie further {limit.direction} than the one before."
        )


def limits_in_force(limits: Iterable[Limit], box: Box) -> list[Limit]:
    """The limits that hold for one box: per analyte, kind and direction the most specific one.

    Of two equally specific rivals the later in the collection wins. A limit that is switched off
    takes its key away.
    """
    winner: dict[tuple[AnalyteCode, LimitKind, str], Limit] = {}
    for limit in limits:
        rival = winner.get(limit.key)
        if limit.scope.covers(box) and (
            rival is None or limit.scope.specificity >= rival.scope.specificity
        ):
            winner[limit.key] = limit
    return [limit for limit in winner.values() if not limit.is_off]


def set_in_force(sets: Sequence[LimitSet], day: date) -> LimitSet | None:
    """The limit set that held on a day: the newest one that was in force by then."""
    held = [
        one
        for one in sets
        if one.state is not LimitSetState.DRAFT
        and one.valid_from <= day
        and (one.valid_until is None or day < one.valid_until)
    ]
    return max(held, key=lambda one: (one.valid_from, one.number), default=None)
