"""What may be wrong with one row of a limit set; each finding with its remedy."""

import json
import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from typing import Final

import numpy as np

from fluiddesk.domain.analytes import Analyte
from fluiddesk.domain.limits.interval_rule import IntervalRule, check_interval
from fluiddesk.domain.limits.limit_set import (
    COMPANION_KINDS,
    Limit,
    LimitError,
    LimitKind,
    Scope,
    accepted_reason,
    check_limit,
)
from fluiddesk.services.catalogue import Catalogue

REBASE_AFTER: Final = timedelta(days=366)
"""Derived limits are to be derived anew each year (common practice, no source)."""

_IN_UNITS: Final = {LimitKind.LEVEL, LimitKind.CHANGE, LimitKind.PERCENTILE}


@dataclass(frozen=True, slots=True, kw_only=True)
class Complaint:
    """What is wrong and what to do; ``stops`` keeps the set from being put in force.

    ``accepted`` is the reason why it may stand, as the row's note gives it.
    """

    told: str
    remedy: str
    stops: bool = True
    accepted: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """The names that a scope may use. Models and boxes: ``None`` where they were not looked up."""

    catalogue: Catalogue
    models: frozenset[str] | None = None
    compartments: frozenset[str] | None = None

    @property
    def fluid_classes(self) -> set[str]:
        """Classes of the fluids in the catalogue."""
        return {fluid.fluid_class for fluid in self.catalogue.fluids.values()}


def limit_complaints(
    limit: Limit, known: Known, *, today: date, was: Limit | None = None
) -> Iterator[Complaint]:
    """Everything wrong with one limit.

    Args:
        limit: the row.
        known: the names there are.
        today: the day off rows and derivations are measured against.
        was: the row in the set the draft is based on. What an unchanged row gets wrong by the
            method's precision is told, but stops nothing; a reason accepted for other bounds does
            not hold for new ones.
    """
    yield from _scope_complaints(limit.scope, known)
    analyte = known.catalogue.analytes.get(limit.analyte)
    if analyte is None:
        yield Complaint(
            told=f'analyte "{limit.analyte}" is not in the catalogue.',
            remedy="Choose one of the catalogue's codes, such as iron.",
        )
    yield from _texts(limit)
    if limit.is_off:
        yield from _off_complaints(limit, today)
        return
    yield from _bounds(limit)
    yield from _company(limit, known.catalogue)
    if analyte is not None and all(math.isfinite(bound) for bound in _given(limit)):
        yield from _distances(limit, analyte, was)
        yield from _plausible(limit, analyte)
    yield from _age_of_derivation(limit, today)


def _scope_complaints(scope: Scope, known: Known) -> Iterator[Complaint]:
    catalogue = known.catalogue
    checks: tuple[tuple[str, str, frozenset[str] | set[str] | None], ...] = (
        ("machine kind", scope.machine_kind, set(catalogue.machine_kinds)),
        ("compartment kind", scope.compartment_kind, set(catalogue.compartment_kinds)),
        ("fluid class", scope.fluid_class, known.fluid_classes),
        ("model", scope.model, known.models),
        ("compartment", scope.compartment, known.compartments),
    )
    for what, value, names in checks:
        if value and names is not None and value not in names:
            yield Complaint(
                told=f'{what} "{value}" is not known here, so the row would hold for nothing.',
                remedy="Correct it, or add it to the register first.",
                # A model or box of a neighbour's register may come later; a code may not.
                stops=what not in ("model", "compartment"),
            )


def _texts(limit: Limit | IntervalRule) -> Iterator[Complaint]:
    if not limit.source.strip():
        yield Complaint(
            told="no source is given.", remedy="Say where the figures come from, or by whose word."
        )
    if not limit.set_by.strip():
        yield Complaint(told="nobody is named who set it.", remedy="Name a person.")


def _off_complaints(limit: Limit, today: date) -> Iterator[Complaint]:
    if not limit.note.strip():
        yield Complaint(
            told="it is switched off without a reason.", remedy="Write the reason in its note."
        )
    if limit.off_until is None:
        yield Complaint(
            told="it is switched off without an end date.", remedy="Give the last day it is off."
        )
    elif limit.off_until < today:
        yield Complaint(
            told=f"it was switched off until {limit.off_until}, which has passed.",
            remedy="Remove the row, or give a later day with a reason.",
            stops=False,
        )


def _given(limit: Limit) -> list[float]:
    return [bound for bound in limit.bounds() if bound is not None]


def _bounds(limit: Limit) -> Iterator[Complaint]:
    if any(not math.isfinite(bound) for bound in _given(limit)):
        yield Complaint(told="a bound is no finite number.", remedy="Give numbers or leave it out.")
        return
    try:
        check_limit(limit)
    except LimitError as fault:
        told, _, remedy = str(fault).partition(": ")[2].partition(". ")
        yield Complaint(told=f"{told}.", remedy=remedy)


def _company(limit: Limit, catalogue: Catalogue) -> Iterator[Complaint]:
    needs = max(limit.act_needs, limit.urgent_needs)
    if min(limit.act_needs, limit.urgent_needs) < 1:
        yield Complaint(
            told="a band needs fewer than 1 analyte.", remedy="Give 1 (itself alone) or more."
        )
    if needs > 1 and not limit.group:
        yield Complaint(
            told=f"it needs {needs} analytes of a group, but names no group.",
            remedy="Name the group, or let it need 1.",
        )
    if limit.kind in COMPANION_KINDS and limit.companion:
        if limit.companion not in catalogue.analytes:
            yield Complaint(
                told=f'the companion analyte "{limit.companion}" is not in the catalogue.',
                remedy="Choose one of the catalogue's codes, such as iron.",
            )
        if limit.companion == limit.analyte:
            yield Complaint(
                told="an analyte is no companion of itself.", remedy="Choose another one."
            )
    if limit.least_change is not None and not 0 <= limit.least_change < math.inf:
        yield Complaint(
            told=f"the least change reads {limit.least_change:g}.", remedy="Give 0 or more."
        )


def _distances(limit: Limit, analyte: Analyte, was: Limit | None) -> Iterator[Complaint]:
    """Neighbouring bounds that two results on the same bottle could lie on both sides of."""
    precision = analyte.repeatability
    if precision is None or limit.kind not in (*_IN_UNITS, LimitKind.CHANGE_PERCENT):
        return
    unit, is_inherited = analyte.unit, limit == was
    accepted = accepted_reason(limit.note)
    if was is not None and was.bounds() != limit.bounds() and was.note == limit.note:
        accepted = ""
    for near, far in pairwise(_given(limit)):
        if limit.kind is LimitKind.CHANGE_PERCENT:
            if precision.form != "relative":
                continue
            needed, unit = precision.a * 100, "%"
        else:
            needed = float(precision.at(np.array([(abs(near) + abs(far)) / 2]))[0])
        if abs(far - near) <= needed:
            kept = " It is kept from the set before." if is_inherited else ""
            yield Complaint(
                told=(
                    f"{near:g} and {far:g} lie {abs(far - near):g} {unit} apart; two results on "
                    f"one bottle may differ by {needed:.3g} {unit} (repeatability).{kept}"
                ),
                remedy=(
                    f"Accepted: {accepted}"
                    if accepted
                    else "Set them further apart, leave one of them out, or write why these bounds "
                    'may stand in the note, behind "Accepted:".'
                ),
                stops=not is_inherited and not accepted,
                accepted=accepted,
            )


def _plausible(limit: Limit, analyte: Analyte) -> Iterator[Complaint]:
    span = analyte.plausible
    if span is None or limit.kind not in (LimitKind.LEVEL, LimitKind.PERCENTILE):
        return
    for bound in _given(limit):
        if not span.low <= bound <= span.high:
            yield Complaint(
                told=(
                    f"{bound:g} {analyte.unit} lies outside what is plausible, "
                    f"{span.low:g} to {span.high:g}."
                ),
                remedy="Correct the bound or its unit.",
                stops=False,
            )


def _age_of_derivation(limit: Limit, today: date) -> Iterator[Complaint]:
    if not limit.derivation:
        return
    try:
        until = date.fromisoformat(json.loads(limit.derivation)["until"])
    except (ValueError, KeyError, TypeError):
        yield Complaint(
            told="how it was derived cannot be read.", remedy="Derive it anew.", stops=False
        )
        return
    if today - until > REBASE_AFTER:
        yield Complaint(
            told=f"it was derived from samples up to {until}, more than a year ago.",
            remedy="Derive it anew from the newer samples.",
            stops=False,
        )


def interval_complaints(rule: IntervalRule, known: Known) -> Iterator[Complaint]:
    """Everything wrong with one interval rule."""
    yield from _scope_complaints(rule.scope, known)
    yield from _texts(rule)
    if rule.scope.fluid_class:
        yield Complaint(
            told="an interval does not depend on the fluid class.", remedy="Leave the class out."
        )
    try:
        check_interval(rule)
    except LimitError as fault:
        told, _, remedy = str(fault).partition(": ")[2].partition(". ")
        yield Complaint(told=f"{told}.", remedy=remedy)
