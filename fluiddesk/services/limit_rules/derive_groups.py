"""The groups of like boxes that limits are derived for, each analyte's results side by side."""

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.limits.limit_set import Scope
from fluiddesk.domain.samples import SampleColumns, Sign
from fluiddesk.domain.severity import Trust
from fluiddesk.services.limit_rules.what_if_fleet import WhatIfFleet, rows_about

FEWEST_BOXES = 2
"""A group of one box is its own history, not a population."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Boxes that share compartment kind and fluid class, and a model where one is named.

    ``parent`` is the same without the model; ``None`` for a group without one.
    """

    scope: Scope
    boxes: NDArray[np.intp]
    parent: Scope | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Results:
    """One analyte's believed results of a group in the span, those known to be at fault left out.

    Attributes:
        values: results; a "less than" result counts at its limit. "More than" results at theirs.
        below: true where the result is below its limit.
        box: which box each belongs to.
        machine: which machine.
        day: day ordinals.
    """

    values: NDArray[np.float64]
    below: NDArray[np.bool_]
    box: NDArray[np.int32]
    machine: NDArray[np.int64]
    day: NDArray[np.int32]


def groups_of(
    fleet: WhatIfFleet, *, compartment_kind: str = "", model: str = "", fluid_class: str = ""
) -> list[Group]:
    """The groups of the fleet, in the order of the power path, a kind before its models.

    Args:
        fleet: the fleet.
        compartment_kind: only this kind.
        model: only groups of this model.
        fluid_class: only this class of fluid.
    """
    boxes = fleet.columns.boxes
    wide: dict[tuple[str, str], list[int]] = defaultdict(list)
    for place, box in enumerate(boxes):
        if compartment_kind in ("", box.kind) and fluid_class in ("", box.fluid_class):
            wide[box.kind, box.fluid_class].append(place)
    classes = Counter(kind for kind, _ in {(box.kind, box.fluid_class) for box in boxes})
    found: list[Group] = []
    for (kind, fluid), own in sorted(wide.items(), key=lambda one: _path(fleet, *one[0])):
        # A class is named where boxes of the kind hold several: one says nothing of the others.
        named = fluid if classes[kind] > 1 else ""
        scope = Scope(compartment_kind=kind, fluid_class=named)
        models = Counter(boxes[place].model for place in own)
        if not model:
            found.append(Group(scope=scope, boxes=np.array(own), parent=None))
        for name in sorted(models):
            if name and model in ("", name) and (len(models) > 1 or model):
                inside = [place for place in own if boxes[place].model == name]
                narrow = Scope(compartment_kind=kind, fluid_class=named, model=name)
                found.append(Group(scope=narrow, boxes=np.array(inside), parent=scope))
    return [group for group in found if len(group.boxes) >= FEWEST_BOXES]


def _path(fleet: WhatIfFleet, kind: str, fluid: str) -> tuple[int, str, str]:
    known = fleet.catalogue.compartment_kinds.get(kind)
    return (known.order if known else len(fleet.catalogue.compartment_kinds), kind, fluid)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """The rows of the fleet that limits may be derived from, and why others may not.

    ``rows``: one column of row numbers a group of columns. ``excluded``: samples by reason.
    """

    rows: Sequence[NDArray[np.intp]]
    excluded: dict[str, int]


def chosen_rows(fleet: WhatIfFleet, *, since: int) -> Chosen:
    """Samples from a day on, but suspect and rejected ones and those about a confirmed fault."""
    excluded = {"suspect": 0, "rejected": 0, "known fault": 0}
    chosen = []
    for group in fleet.columns.groups:
        inside = (group.taken_on >= since) & (group.taken_on <= fleet.today.toordinal())
        about = np.zeros(len(group), dtype=bool)
        for one in fleet.findings:
            if one.is_fault:
                about |= rows_about(group.compartment, group.taken_on, one)
        good = group.trust == Trust.GOOD
        excluded["suspect"] += int((inside & (group.trust == Trust.SUSPECT)).sum())
        excluded["rejected"] += int((inside & (group.trust == Trust.REJECTED)).sum())
        excluded["known fault"] += int((inside & good & about).sum())
        chosen.append(np.flatnonzero(inside & good & ~about))
    return Chosen(rows=chosen, excluded=excluded)


def fault_rows(fleet: WhatIfFleet) -> Chosen:
    """The samples of the last year that are about a confirmed fault."""
    chosen = []
    for group, year in zip(fleet.columns.groups, fleet.year, strict=True):
        about = np.zeros(len(group), dtype=bool)
        for one in fleet.findings:
            if one.is_fault:
                about |= rows_about(group.compartment, group.taken_on, one)
        chosen.append(np.flatnonzero(year & about & (group.trust == Trust.GOOD)))
    return Chosen(rows=chosen, excluded={})


def results_of(
    fleet: WhatIfFleet, chosen: Chosen, group: Group, *, machines: NDArray[np.int64]
) -> Iterator[tuple[int, Results]]:
    """The results of a group, analyte by analyte: (analyte number, results).

    Args:
        fleet: the fleet.
        chosen: the rows that count.
        group: the group.
        machines: the machine of each box, by the box's place.
    """
    member = np.zeros(len(fleet.columns.boxes), dtype=bool)
    member[group.boxes] = True
    parts: dict[int, list[_Piece]] = defaultdict(list)
    for columns, rows in zip(fleet.columns.groups, chosen.rows, strict=True):
        own = rows[member[columns.compartment[rows]]]
        if len(own):
            for number, piece in _pieces(columns, own):
                parts[number].append(piece)
    for number in sorted(parts):
        values, signs, box, day = (np.concatenate(one) for one in zip(*parts[number], strict=True))
        if len(values):
            yield (
                number,
                Results(
                    values=values,
                    below=signs == Sign.BELOW,
                    box=box,
                    machine=machines[box],
                    day=day,
                ),
            )


_Piece = tuple[NDArray[np.float64], NDArray[np.uint8], NDArray[np.int32], NDArray[np.int32]]


def _pieces(columns: SampleColumns, rows: NDArray[np.intp]) -> Iterator[tuple[int, _Piece]]:
    """The known results of some rows, analyte by analyte: values, signs, boxes, days."""
    # Turned once: reading single columns out of rows would fetch every row again for each.
    values = np.ascontiguousarray(columns.values[rows].T)
    signs = np.ascontiguousarray(columns.signs[rows].T)
    box, day = columns.compartment[rows], columns.taken_on[rows]
    for number, own, marks in zip(columns.analytes, values, signs, strict=True):
        known = np.isfinite(own) & (marks <= Sign.ABOVE)
        if known.all():
            yield number, (own, marks, box, day)
        elif known.any():
            yield number, (own[known], marks[known], box[known], day[known])


def machine_numbers(fleet: WhatIfFleet) -> NDArray[np.int64]:
    """The machine of each box as a whole number, by the box's place."""
    seen: dict[bytes, int] = {}
    return np.array(
        [seen.setdefault(box.machine_id, len(seen)) for box in fleet.columns.boxes],
        dtype=np.int64,
    )
