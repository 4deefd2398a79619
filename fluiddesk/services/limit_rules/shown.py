"""The limits in force, by scope, each with its source and who set it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from fluiddesk.domain.errors import NotFoundError
from fluiddesk.domain.limits.limit_set import (
    JUDGED_KINDS,
    Limit,
    LimitKind,
    LimitSet,
    set_in_force,
)
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.workplace import Workplace


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitLine:
    """One limit as shown, with the names and the unit a person reads.

    ``is_judged`` is false for kinds that are kept but not computed by this version. ``needs`` says
    which bands need company, and how long a limit is switched off.
    """

    limit: Limit
    scope: str
    compartment_kind: str
    analyte: str
    symbol: str
    family: str
    unit: str
    kind: str
    direction: str
    watch: str
    act: str
    urgent: str
    needs: str
    source: str
    set_by: str
    note: str
    is_judged: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitsShown:
    """One limit set with its lines, in order of the power path, family and analyte."""

    number: int
    name: str
    state: str
    valid_from: date
    author: str
    note: str
    lines: tuple[LimitLine, ...]

    @property
    def sentence(self) -> str:
        """Which set holds since when, and how many of its limits this version judges by."""
        judged = sum(line.is_judged for line in self.lines)
        told = f'Limit set {self.number} "{self.name}" in force since {self.valid_from}'
        off = sum(line.limit.is_off for line in self.lines)
        rest = f", {off} of them switched off" if off else ""
        return f"{told}: {judged} limits judge samples{rest}."


_KIND_WORDS = {
    "level": "Level",
    "change": "Change from new",
    "change_percent": "Change from new, %",
    "rate_per_100h": "Rate per 100 h",
    "left_right_ratio": "Left / right ratio",
    "companion_ratio": "Companion ratio",
    "own_step": "Step in own history",
    "percentile": "Percentile of like boxes",
    "off_grade": "Outside its grade, %",
    "missing_test": "Ordered test missing",
}
_UNITS = {
    "change_percent": "% of new",
    "left_right_ratio": "ratio",
    "companion_ratio": "of own median",
    "own_step": "spreads",
    "off_grade": "% past the grade",
    "missing_test": "",
}


def limits_shown(place: Workplace, *, today: date) -> LimitsShown:
    """The limit set in force today.

    Raises:
        NotFoundError: when no set is in force.
    """
    with place.store.reading() as desk:
        sets = desk.limits.limit_sets()
    held = set_in_force(sets, today)
    if held is None:
        raise NotFoundError(f"No limit set is in force on {today}. Put a limit set in force first.")
    return shown(held, place.catalogue)


def shown(limit_set: LimitSet, catalogue: Catalogue) -> LimitsShown:
    """A limit set in words, sorted for reading."""
    lines = [_line(limit, catalogue) for limit in limit_set.limits]
    return LimitsShown(
        number=limit_set.number,
        name=limit_set.name,
        state=limit_set.state.value,
        valid_from=limit_set.valid_from,
        author=limit_set.author,
        note=limit_set.note,
        lines=tuple(_sorted(lines, catalogue)),
    )


def _sorted(lines: Sequence[LimitLine], catalogue: Catalogue) -> list[LimitLine]:
    families = ["fluid_condition", "contamination", "wear", "additive", "coolant", "fuel"]

    def key(line: LimitLine) -> tuple[int, int, int, str, str]:
        kind = catalogue.compartment_kinds.get(line.limit.scope.compartment_kind)
        analyte = catalogue.analytes[line.limit.analyte]
        return (
            kind.order if kind else -1,
            families.index(analyte.family.value),
            analyte.order,
            line.kind,
            line.direction,
        )

    return sorted(lines, key=key)


def _line(limit: Limit, catalogue: Catalogue) -> LimitLine:
    analyte = catalogue.analytes[limit.analyte]
    kind = limit.scope.compartment_kind
    return LimitLine(
        limit=limit,
        scope=limit.scope.text,
        compartment_kind=catalogue.kind_name(kind) if kind else "Any",
        analyte=analyte.name,
        symbol=analyte.symbol,
        family=analyte.family.word,
        unit=unit_of(limit, analyte.unit),
        kind=_KIND_WORDS[limit.kind.value],
        direction=limit.direction,
        watch=bound_text(limit.watch, limit),
        act=bound_text(limit.act, limit),
        urgent=bound_text(limit.urgent, limit),
        needs=_needs(limit),
        source=limit.source,
        set_by=limit.set_by,
        note=limit.note,
        is_judged=limit.kind in JUDGED_KINDS,
    )


def unit_of(limit: Limit, unit: str) -> str:
    """The unit of a limit's bounds; ``unit`` is the analyte's."""
    if limit.kind is LimitKind.RATE_PER_100H:
        return f"{unit} per 100 h"
    return _UNITS.get(limit.kind.value, unit)


def bound_text(bound: float | None, limit: Limit) -> str:
    """A bound as shown: a change carries its sign, a missing bound is empty."""
    if bound is None:
        return ""
    return f"{bound:+g}" if limit.kind.value.startswith("change") else f"{bound:g}"


def _needs(limit: Limit) -> str:
    if limit.is_off:
        return f"off until {limit.off_until}"
    parts = [
        f"{word} with {count} of the {limit.group}"
        for word, count in (("Act", limit.act_needs), ("Urgent", limit.urgent_needs))
        if count > 1
    ]
    return "; ".join(parts)
