"""What one row of a draft holds besides its bounds: the fields of the row editor, and checks."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from fluiddesk.desktop.viewstate.limit_draft import DraftRow
from fluiddesk.domain.limits.interval_rule import IntervalRule
from fluiddesk.domain.limits.limit_set import COMPANION_KINDS, Limit, LimitKind
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.limit_rules.row_checks import (
    Complaint,
    Known,
    interval_complaints,
    limit_complaints,
)

Choices = tuple[tuple[str, str], ...]
LIMIT_FIELDS: Final = (
    "boundary", "fluid_class", "companion", "least_change", "group", "act_needs", "urgent_needs",
    "off_until", "source", "note",
)  # fmt: skip
INTERVAL_FIELDS: Final = (
    "interval_hours", "interval_days", "window_share", "convention", "source", "note",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class RowField:
    """One field of the row editor.

    Attributes:
        name: the field of the rule.
        text: what stands in it; for a choice the code chosen.
        choices: what can be chosen, as (code, words); empty for a field that is typed.
        closed: why it cannot be filled in for such a row; empty where it can.
    """

    name: str
    text: str
    choices: Choices = ()
    closed: str = ""


def limit_fields(row: DraftRow[Limit], catalogue: Catalogue) -> tuple[RowField, ...]:
    """The fields of a limit, with what stands in them."""
    limit = row.rule
    classes = sorted({fluid.fluid_class for fluid in catalogue.fluids.values()})
    fluids = tuple((one, one.replace("_", " ")) for one in classes if one)
    analytes = tuple((one.code, one.name) for one in catalogue.analytes.values())
    has_companion = limit.kind in COMPANION_KINDS
    is_step = limit.kind is LimitKind.OWN_STEP
    return (
        RowField(
            name="boundary",
            text=limit.boundary,
            choices=(("at", "worse band"), ("beyond", "better band")),
        ),
        RowField(
            name="fluid_class",
            text=limit.scope.fluid_class,
            choices=(("", "any fluid"), *fluids),
        ),
        RowField(
            name="companion",
            text=limit.companion,
            choices=(("", "none"), *analytes),
            closed="" if has_companion else "only for ratios",
        ),
        _typed(row, "least_change", closed="" if is_step else "only own steps"),
        _typed(row, "group"),
        _typed(row, "act_needs"),
        _typed(row, "urgent_needs"),
        _typed(row, "off_until", closed="" if limit.is_off else "only if off"),
        _typed(row, "source"),
        _typed(row, "note"),
    )


def interval_fields(row: DraftRow[IntervalRule]) -> tuple[RowField, ...]:
    """The fields of an interval rule, with what stands in them; the window in percent."""
    return (
        _typed(row, "interval_hours"),
        _typed(row, "interval_days"),
        _typed(row, "window_share", scale=100),
        RowField(
            name="convention",
            text=row.rule.convention,
            choices=(
                ("rolling", "rolling"),
                ("grid", "fixed grid"),
            ),
        ),
        _typed(row, "source"),
        _typed(row, "note"),
    )


def _typed(row: DraftRow[Any], name: str, *, closed: str = "", scale: float = 1) -> RowField:
    value = getattr(row.rule, name)
    if name in row.typed:
        text = row.typed[name]
    elif isinstance(value, int | float):
        text = f"{value * scale:.10g}"
    else:
        text = "" if value is None else str(value)
    return RowField(name=name, text=text, closed=closed)


def row_problems(
    row: DraftRow[Limit] | DraftRow[IntervalRule], catalogue: Catalogue, *, today: date
) -> list[str]:
    """Everything wrong or odd with a row as it stands, each with its remedy."""
    told = list(row.told.values())
    if not told and row.problem:
        told = [row.problem]
    found = [f"{_upper(one.told)} {one.remedy}" for one in _complaints(row, catalogue, today)]
    return [*told, *(one for one in found if not _is_told(one, told))]


def _is_told(one: str, told: Sequence[str]) -> bool:
    return any(one.casefold().startswith(other.casefold()[:40]) for other in told)


def _complaints(
    row: DraftRow[Limit] | DraftRow[IntervalRule], catalogue: Catalogue, today: date
) -> Iterator[Complaint]:
    known = Known(catalogue=catalogue)
    rule = row.rule
    if isinstance(rule, Limit):
        was = row.was if isinstance(row.was, Limit) else None
        yield from limit_complaints(rule, known, today=today, was=was)
    else:
        yield from interval_complaints(rule, known)


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]


def interval_sentence(rule: IntervalRule) -> str:
    """When a sample under a rule is due and on time, in figures.

    >>> from fluiddesk.domain.limits.limit_set import Scope
    >>> print(interval_sentence(IntervalRule(
    ...     scope=Scope(), interval_hours=250, interval_days=90, source="s", set_by="k")))
    Due 250 h or 90 days, whichever comes first, after the last sample was drawn; on time from \
225 to 275 h or 81 to 99 days.
    """
    spans = [
        (rule.interval_hours, "h"),
        (None if rule.interval_days is None else float(rule.interval_days), "days"),
    ]
    known = [(value, unit) for value, unit in spans if value is not None]
    if not known:
        return "Neither hours nor days are given: no sample falls due by this rule."
    every = " or ".join(f"{value:g} {unit}" for value, unit in known)
    first = ", whichever comes first," if len(known) > 1 else ""
    share = rule.window_share
    window = " or ".join(
        f"{value * (1 - share):.4g} to {value * (1 + share):.4g} {unit}" for value, unit in known
    )
    if rule.convention == "grid":
        return (
            f"Due on a fixed grid of {every}{first} after the planned point before; on time from "
            f"{window}. An early or late sample moves nothing."
        )
    return f"Due {every}{first} after the last sample was drawn; on time from {window}."
