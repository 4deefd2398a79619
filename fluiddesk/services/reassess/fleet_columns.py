"""A whole fleet in memory, to be judged again and again by changing rules."""

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.errors import CancelledError
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.limits.assessment import Judged
from fluiddesk.domain.limits.bands import Bands
from fluiddesk.domain.limits.context import JudgingContext
from fluiddesk.domain.limits.figures import Figures
from fluiddesk.domain.limits.fired import FiredRule, rules_by_sample
from fluiddesk.domain.limits.limit_set import Box, Limit
from fluiddesk.domain.limits.settings import JudgingSettings
from fluiddesk.domain.samples import SampleColumns
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.reassess.boxes import BoxFacts
from fluiddesk.services.reassess.collector import collector_paused
from fluiddesk.services.reassess.inputs import judging_contexts
from fluiddesk.services.reassess.judging import (
    Judge,
    Progress,
    Rulebook,
    box_profiles,
    singled_out,
)
from fluiddesk.storage import Desk, unpack_fleet, with_verdicts


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetColumns:
    """Every sample of some boxes with what judging them needs.

    Attributes:
        boxes: what ``SampleColumns.compartment`` counts in; boxes alike stand together.
        groups: the samples, one group for each set of analytes; of a box together, by day.
        contexts: what came before and beside them, one a group.
        rulebook: limit sets, catalogue and references as stored.
        profile: shape (number of boxes,), which of ``kinds`` each box is like for that rulebook.
        kinds: one box for each profile.
        kept: figures worked out before, by the settings they depend on, one a group.
    """

    boxes: tuple[BoxFacts, ...]
    groups: tuple[SampleColumns, ...]
    contexts: tuple[JudgingContext, ...]
    rulebook: Rulebook
    profile: NDArray[np.int32]
    kinds: tuple[Box, ...]
    kept: tuple[dict[JudgingSettings, Figures], ...] = field(repr=False, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetVerdicts:
    """The verdicts on one group; all shape (n,). Rows not asked for: no verdict, limit set 0."""

    severity: NDArray[np.int8]
    load: NDArray[np.float64]
    digest: NDArray[np.uint64]
    limit_set: NDArray[np.int32]


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedPart:
    """What single limits said of some samples of a group.

    Attributes:
        group: place of the group.
        rows: shape (r,), rows of the group.
        limits: the k limits.
        own: shape (r, k), the band each limit alone puts each sample in; -1 not judged.
        bands: shape (r, k), the band it stands in after combining.
        figures: shape (r, k), what was compared.
    """

    group: int
    rows: NDArray[np.intp]
    limits: tuple[Limit, ...]
    own: Bands
    bands: Bands
    figures: NDArray[np.float64]


def load_rulebook(desk: Desk, catalogue: Catalogue) -> Rulebook:
    """The limit sets and new-fluid references as the store holds them."""
    numbers = {code: analyte.number for code, analyte in catalogue.analytes.items()}
    records = desk.fleet.references()
    references = {
        number: {numbers[code]: value for code, value in record.values.items() if code in numbers}
        for number, record in records.items()
    }
    return Rulebook(
        sets=desk.limits.limit_sets(),
        analytes=catalogue.analytes,
        references=references,
        fluids_of_references={number: record.fluid_code for number, record in records.items()},
        companions=catalogue.companions,
    )


@collector_paused()
def load_fleet_columns(
    desk: Desk,
    catalogue: Catalogue,
    *,
    compartments: Collection[CompartmentId] | None = None,
) -> FleetColumns:
    """Read the samples of some boxes (all by default) with everything that judges them."""
    boxes = [BoxFacts._make(row) for row in desk.boxes.rows(compartments)]
    blobs = dict(desk.blocks.pairs(compartments))
    boxes = [box for box in boxes if box.compartment_id in blobs]
    rulebook = load_rulebook(desk, catalogue)
    profile, kinds = box_profiles([box.box for box in boxes], rulebook)
    # Boxes with the same limits side by side: each run is judged without being copied.
    order = np.argsort(profile, kind="stable")
    boxes = [boxes[index] for index in order.tolist()]
    told = desk.blocks.verdicts(compartments)
    groups = tuple(
        with_verdicts(
            unpack_fleet(blobs.pop(box.compartment_id) for box in boxes),
            [told.get(box.compartment_id) for box in boxes],
        )
    )
    contexts = judging_contexts(
        desk,
        boxes,
        groups,
        numbers={code: analyte.number for code, analyte in catalogue.analytes.items()},
        fluids_of_references=rulebook.fluids_of_references,
    )
    return FleetColumns(
        boxes=tuple(boxes),
        groups=groups,
        contexts=contexts,
        rulebook=rulebook,
        profile=profile[order],
        kinds=tuple(kinds),
        kept=tuple({} for _ in groups),
    )


def latest_rows(fleet: FleetColumns) -> tuple[NDArray[np.bool_], ...]:
    """For each group, which rows are the last believed sample of their box."""
    newest = np.full(len(fleet.boxes), -1, dtype=np.int64)
    for group in fleet.groups:
        believed = group.trust != Trust.REJECTED
        np.maximum.at(newest, group.compartment[believed], group.taken_on[believed])
    found = []
    for group in fleet.groups:
        believed = (group.trust != Trust.REJECTED) & (group.taken_on == newest[group.compartment])
        rows = np.flatnonzero(believed)
        last = np.diff(group.compartment[rows], append=-1) != 0
        mask = np.zeros(len(group), dtype=bool)
        mask[rows[last]] = True
        found.append(mask)
    return tuple(found)


def rows_since(fleet: FleetColumns, day: date) -> tuple[NDArray[np.bool_], ...]:
    """For each group, which samples were taken on a day or later."""
    return tuple(group.taken_on >= day.toordinal() for group in fleet.groups)


def judge_columns(
    fleet: FleetColumns,
    rulebook: Rulebook,
    *,
    rows: Sequence[NDArray[np.bool_]] | None = None,
    on_part: Callable[[JudgedPart], None] | None = None,
    progress: Progress | None = None,
) -> tuple[FleetVerdicts, ...]:
    """Judge samples that are in memory by any rulebook.

    Args:
        fleet: the samples.
        rulebook: the limits; only sets in force or retired judge.
        rows: which rows are wanted, one mask a group; all by default. Earlier samples of their
            boxes are looked at all the same, since they decide what stands.
        on_part: told what single limits said of the wanted rows.
        progress: told the samples done so far.

    Raises:
        CancelledError: when ``progress`` says to stop.
    """
    profile, kinds = _profiles(fleet, rulebook)
    judges = Judge(rulebook, kinds)
    numbers = np.array([one.limit_set.number for one in judges.periods], dtype=np.int32)
    total, done = sum(len(group) for group in fleet.groups), 0
    found = []
    for place, group in enumerate(fleet.groups):
        wanted = np.ones(len(group), dtype=bool) if rows is None else rows[place]
        verdicts = _nothing_said(len(group))
        runs = judges.runs(group, fleet.contexts[place], profile, fleet.kept[place], wanted)
        for run, period, judged, holds in runs:
            inside = holds & wanted[run]
            at = run.start + np.flatnonzero(inside)
            verdicts.severity[at], verdicts.load[at] = judged.severity[inside], judged.load[inside]
            verdicts.digest[at] = judged.digest[inside]
            verdicts.limit_set[at] = numbers[period[inside]]
            if on_part is not None:
                for told in _parts_told(judged, inside, group=place, start=run.start):
                    on_part(told)
        found.append(verdicts)
        done += len(group)
        if progress is not None and not progress(done, total):
            raise CancelledError("Stopped; nothing has changed.")
    return tuple(found)


def _parts_told(
    judged: Judged, inside: NDArray[np.bool_], *, group: int, start: int
) -> Iterator[JudgedPart]:
    """What single limits said of the wanted samples of a run, part by part."""
    for part in judged.parts:
        held = np.zeros(len(inside), dtype=bool)
        held[part.at] = True
        own = np.flatnonzero(held & inside)
        columns = judged.places(part.table)
        if len(own) and columns:
            compared = [judged.compared_by(part, one, own) for one in range(len(columns))]
            yield JudgedPart(
                group=group,
                rows=start + own,
                limits=part.table.limits,
                own=judged.own[own[:, None], columns],
                bands=judged.bands[own[:, None], columns],
                figures=np.stack(compared, axis=1),
            )


def _profiles(fleet: FleetColumns, rulebook: Rulebook) -> tuple[NDArray[np.int32], Sequence[Box]]:
    """Which boxes have the same limits; those of the stored rulebook where no box stands out."""
    if singled_out(rulebook) <= singled_out(fleet.rulebook):
        return fleet.profile, fleet.kinds
    return box_profiles([box.box for box in fleet.boxes], rulebook)


def _nothing_said(size: int) -> FleetVerdicts:
    return FleetVerdicts(
        severity=np.full(size, Severity.NO_VERDICT, dtype=np.int8),
        load=np.zeros(size),
        digest=np.zeros(size, dtype=np.uint64),
        limit_set=np.zeros(size, dtype=np.int32),
    )


def reasons_of(
    fleet: FleetColumns, rulebook: Rulebook, *, group: int, row: int
) -> tuple[FiredRule, ...]:
    """Why a sample stands as it does by a rulebook."""
    nothing = np.zeros(0, dtype=np.intp)
    rows = [nothing if place != group else np.array([row]) for place in range(len(fleet.groups))]
    return explained(fleet, rulebook, rows).get((group, row), ())


def explained(
    fleet: FleetColumns, rulebook: Rulebook, rows: Sequence[NDArray[np.intp]]
) -> Mapping[tuple[int, int], tuple[FiredRule, ...]]:
    """Why some samples stand as they do, by (group, row); their runs are judged once.

    Args:
        fleet: the samples.
        rulebook: the limits.
        rows: the rows asked for, one column a group.
    """
    profile, kinds = _profiles(fleet, rulebook)
    judges = Judge(rulebook, kinds)
    found: dict[tuple[int, int], tuple[FiredRule, ...]] = {}
    for place, group in enumerate(fleet.groups):
        asked = rows[place]
        if not len(asked):
            continue
        wanted = np.zeros(len(group), dtype=bool)
        wanted[asked] = True
        runs = judges.runs(group, fleet.contexts[place], profile, fleet.kept[place], wanted)
        for run, _, judged, holds in runs:
            inside = asked[(asked >= run.start) & (asked < run.stop)] - run.start
            told = rules_by_sample(judged, samples=inside[holds[inside]])
            found.update(((place, run.start + at), rules) for at, rules in told.items())
    return found
