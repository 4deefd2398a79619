"""What came before and beside the samples of many boxes, worked out in columns for judging."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.fluids.viscosity_grades import grade_edges
from fluiddesk.domain.limits.context import FloatColumn, JudgingContext, newest_at, previous_rows
from fluiddesk.domain.samples import SampleColumns
from fluiddesk.domain.severity import Trust
from fluiddesk.services.reassess.boxes import BoxFacts
from fluiddesk.services.reassess.sides import Sides, sides_of
from fluiddesk.services.reassess.stretches import TopUpColumns, stretches
from fluiddesk.storage import FIT, REPAIR, TOP_UP, Desk

_FILLS_TOLD: Final = 100
"""Fills after a fit are counted up to here; nothing looks further."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Happened:
    """Events of many boxes as columns, by box and day; ``box`` counts in the caller's list."""

    fit_box: NDArray[np.int64]
    fit_day: NDArray[np.int64]
    repair_box: NDArray[np.int64]
    repair_day: NDArray[np.int64]
    top_ups: TopUpColumns


@dataclass(frozen=True, slots=True, kw_only=True)
class Ordered:
    """Lists of tests: the analyte numbers of each, and which one holds for boxes and samples."""

    lists: tuple[frozenset[int], ...]
    of_box: NDArray[np.int16]
    of_sample: Mapping[bytes, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Beside:
    """Everything known of the boxes beside their samples; columns by box."""

    happened: Happened
    ordered: Ordered
    edges: FloatColumn
    grade_of_reference: NDArray[np.int16]
    grade_of_box: NDArray[np.int16]
    sides: Sides
    interval: FloatColumn
    residue: FloatColumn
    capacity: FloatColumn


def judging_contexts(
    desk: Desk,
    boxes: Sequence[BoxFacts],
    groups: Sequence[SampleColumns],
    *,
    numbers: Mapping[str, int],
    fluids_of_references: Mapping[int, str],
) -> tuple[JudgingContext, ...]:
    """The context of each group of samples.

    Args:
        desk: an open transaction.
        boxes: what ``SampleColumns.compartment`` counts in.
        groups: the samples; those of one box together, by day.
        numbers: analyte numbers by code.
        fluids_of_references: fluid codes by the number of their new-fluid reference.
    """
    # A whole fleet is read as a whole; the samples of a few boxes by their names.
    chosen = [box.compartment_id for box in boxes]
    edges, of_reference, of_box = _grades(desk, boxes, fluids_of_references)
    beside = _Beside(
        happened=_happened(desk, chosen),
        ordered=_ordered(desk, boxes, chosen, numbers),
        edges=edges,
        grade_of_reference=of_reference,
        grade_of_box=of_box,
        sides=Sides(groups, sides_of(boxes)),
        interval=np.array([box.interval_hours for box in boxes], dtype=np.float64),
        residue=np.array([box.residue_share for box in boxes], dtype=np.float64),
        capacity=np.array([box.capacity_l for box in boxes], dtype=np.float64),
    )
    return tuple(_context(group, beside, place) for place, group in enumerate(groups))


def _happened(desk: Desk, chosen: Sequence[bytes]) -> Happened:
    told = desk.judging.events(chosen)
    order = np.lexsort((told.day, told.box))
    box, code, day = told.box[order], told.code[order], told.day[order]
    at, amount = told.hours[order], told.litres[order]
    # Boxes without samples are not asked about.
    known = box >= 0
    fits, repairs = known & (code == FIT), known & ((code == REPAIR) | (code == FIT))
    poured = known & (code == TOP_UP) & (amount > 0)
    return Happened(
        fit_box=box[fits],
        fit_day=day[fits],
        repair_box=box[repairs],
        repair_day=day[repairs],
        top_ups=TopUpColumns(
            box=box[poured], day=day[poured], hours=at[poured], litres=amount[poured]
        ),
    )


def _ordered(
    desk: Desk, boxes: Sequence[BoxFacts], chosen: Sequence[bytes], numbers: Mapping[str, int]
) -> Ordered:
    lists = desk.judging.test_lists()
    codes = list(lists)
    place = {code: index for index, code in enumerate(codes)}
    by_kind = desk.judging.lists_of_kinds() if lists else {}
    of_box = [place.get(box.test_list or by_kind.get(box.kind, ""), -1) for box in boxes]
    named = desk.judging.lists_of_samples(chosen) if lists else {}
    return Ordered(
        lists=tuple(
            frozenset(numbers[code] for code in lists[one] if code in numbers) for one in codes
        ),
        of_box=np.array(of_box, dtype=np.int16),
        of_sample={key: place[code] for key, code in named.items() if code in place},
    )


def _grades(
    desk: Desk, boxes: Sequence[BoxFacts], fluids_of_references: Mapping[int, str]
) -> tuple[FloatColumn, NDArray[np.int16], NDArray[np.int16]]:
    """The edges of every fluid's grade, and which row holds for each reference and each box."""
    grades = desk.judging.grades()
    place = {code: index for index, code in enumerate(grades)}
    edges = np.array([grade_edges(grade) for grade in grades.values()], dtype=np.float64)
    highest = max(fluids_of_references, default=-1)
    of_reference = np.full(highest + 1, -1, dtype=np.int16)
    for number, code in fluids_of_references.items():
        of_reference[number] = place.get(code, -1)
    of_box = np.array([place.get(box.fluid_code, -1) for box in boxes], dtype=np.int16)
    return edges.reshape(-1, 4), of_reference, of_box


def _grade(
    group: SampleColumns, of_reference: NDArray[np.int16], of_box: NDArray[np.int16]
) -> NDArray[np.int16]:
    """The fluid's grade beside each sample: of its new-fluid reference, else of the box's fluid."""
    own = of_box[group.compartment]
    if not len(of_reference):
        return own
    known = group.reference >= 0
    named = of_reference[np.where(known, group.reference, 0)]
    return np.where(known & (named >= 0), named, own).astype(np.int16)


def _tests(group: SampleColumns, ordered: Ordered) -> NDArray[np.int16]:
    tests = ordered.of_box[group.compartment]
    if ordered.of_sample:
        keys = [row.tobytes() for row in group.sample_id]
        named = np.array([ordered.of_sample.get(key, -1) for key in keys], dtype=np.int16)
        tests = np.where(named >= 0, named, tests).astype(np.int16)
    return tests


def _context(group: SampleColumns, beside: _Beside, place: int) -> JudgingContext:
    happened = beside.happened
    box, day = group.compartment.astype(np.int64), group.taken_on.astype(np.int64)
    good = group.trust == Trust.GOOD
    fitted = newest_at(
        day, box, event_at=happened.fit_day, event_groups=happened.fit_box, before=True
    )
    begins = (np.diff(box, prepend=-1) != 0) | (np.diff(fitted, prepend=-1) != 0)
    history = np.cumsum(begins).astype(np.int32)
    previous = previous_rows(good, history)
    found = stretches(
        group,
        happened.top_ups,
        previous=previous,
        history=history,
        is_fitted=fitted >= 0,
        residue=beside.residue[group.compartment],
        capacity=beside.capacity[group.compartment],
    )
    repaired = newest_at(day, box, event_at=happened.repair_day, event_groups=happened.repair_box)
    repaired_on = np.zeros(len(group), dtype=np.int32)
    repaired_on[repaired >= 0] = happened.repair_day[repaired[repaired >= 0]]
    return JudgingContext(
        history=history,
        previous=previous,
        start=found.start,
        start_share=found.start_share,
        hours=found.hours,
        kept=found.kept,
        brought=found.brought,
        per_made=found.per_made,
        interval_hours=beside.interval[group.compartment],
        fills_since_fit=_fills_since_fit(group, begins, fitted),
        repaired_on=repaired_on,
        grade=_grade(group, beside.grade_of_reference, beside.grade_of_box),
        tests=_tests(group, beside.ordered),
        grade_edges=beside.edges,
        ordered=beside.ordered.lists,
        side=beside.sides.of_group(place),
    )


def _fills_since_fit(
    group: SampleColumns, begins: NDArray[np.bool_], fitted: NDArray[np.intp]
) -> NDArray[np.int8]:
    """Fluid changes since the component was fitted, counted from the first sample after it."""
    starts = np.flatnonzero(begins)
    first = np.repeat(group.fill[starts], np.diff(np.append(starts, len(group))))
    fills = np.clip(group.fill - first, 0, _FILLS_TOLD)
    return np.where(fitted >= 0, fills, -1).astype(np.int8)
