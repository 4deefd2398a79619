"""Judge boxes anew in a transaction: assessments, packed history and current condition together."""

import itertools
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk import __version__
from fluiddesk.domain.identity import CompartmentId, SampleId
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.reassess.boxes import BoxFacts
from fluiddesk.services.reassess.collector import collector_paused
from fluiddesk.services.reassess.conditions import Latest, latest, reasons_at
from fluiddesk.services.reassess.fleet_columns import load_fleet_columns, load_rulebook
from fluiddesk.services.reassess.judging import (
    Progress,
    Verdicts,
    judge,
)
from fluiddesk.services.reassess.sides import other_side
from fluiddesk.services.reassess.wording import headline, reasons_from_text, reasons_to_text
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import AssessmentRecord, ConditionRecord, Desk

__all__ = ["BoxFacts", "Moved", "Reassessed", "load_rulebook", "reassess_boxes", "reassess_fleet"]

_ID_BYTES: Final = 16
_BATCH: Final = 20_000
"""Assessments written in one go: bounds the memory while a whole fleet is judged."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """A compartment whose severity changed."""

    site: str
    machine: str
    compartment: str
    compartment_id: CompartmentId
    before: Severity
    after: Severity
    headline: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Reassessed:
    """What judging anew came to."""

    samples: int
    changed: int
    moved: tuple[Moved, ...]

    @property
    def changes(self) -> Changes:
        """What screens must read again."""
        return Changes(
            subjects=frozenset({Subject.ASSESSMENTS}),
            compartments=frozenset(one.compartment_id for one in self.moved),
        )


def reassess_fleet(
    place: Workplace, *, moment: datetime, again: bool = False, progress: Progress | None = None
) -> Reassessed:
    """Judge every sample of the fleet by the limits in force on its day, in one transaction.

    Args:
        place: where to work.
        moment: when the new assessments are made.
        again: write a new assessment for every sample, also where the verdict stays the same.
        progress: told the samples judged so far.

    Raises:
        CancelledError: when ``progress`` says to stop; nothing is changed then.
    """
    with place.store.transaction(who=place.who, moment=moment) as desk:
        return reassess_boxes(desk, place.catalogue, moment=moment, again=again, progress=progress)


@collector_paused()
def reassess_boxes(
    desk: Desk,
    catalogue: Catalogue,
    *,
    moment: datetime,
    compartments: Collection[CompartmentId] | None = None,
    again: bool = False,
    progress: Progress | None = None,
) -> Reassessed:
    """Judge the samples of some boxes (all by default) within a transaction that is open."""
    if compartments is not None:
        compartments = {*compartments, *_other_sides(desk, compartments)}
    fleet = load_fleet_columns(desk, catalogue, compartments=compartments)
    boxes, groups = fleet.boxes, list(fleet.groups)
    if again:
        groups = [replace(one, digest=np.zeros_like(one.digest)) for one in groups]
    judged = judge(
        groups,
        profile=fleet.profile,
        kinds=fleet.kinds,
        rulebook=fleet.rulebook,
        contexts=fleet.contexts,
        progress=progress,
    )
    changed, moved = 0, list[Moved]()
    speechless = np.ones(len(boxes), dtype=bool)
    for verdicts in judged:
        changed += int(verdicts.changed.sum())
        found = latest(verdicts)
        speechless[found.box] = False
        stale = _stale(boxes, verdicts, found, every=compartments is not None)
        moved += _save(
            desk, catalogue, boxes=boxes, verdicts=verdicts, found=found, stale=stale, moment=moment
        )
    left = [boxes[index] for index in np.flatnonzero(speechless).tolist()]
    moved += _clear(desk, catalogue, left, moment=moment)
    total = sum(len(group) for group in groups)
    return Reassessed(samples=total, changed=changed, moved=tuple(moved))


def _other_sides(desk: Desk, compartments: Collection[CompartmentId]) -> set[CompartmentId]:
    """The boxes on the other side of the machine: a new sample here is compared with theirs."""
    return {
        CompartmentId(other)
        for _, position, other, beside in desk.judging.other_sides(compartments)
        if other_side(position) == beside
    }


def _stale(
    boxes: Sequence[BoxFacts], verdicts: Verdicts, found: Latest, *, every: bool
) -> NDArray[np.intp]:
    """Places in ``found`` of the boxes whose standing is to be written anew.

    Those with a changed verdict and those that stand by another sample than their last believed
    one. ``every``: all of them, because samples may have come or gone without a verdict changing.
    """
    if every:
        return np.arange(len(found.box))
    touched = np.zeros(len(boxes), dtype=bool)
    touched[verdicts.columns.compartment[verdicts.changed]] = True
    stood_by = b"".join(box.sample_id or bytes(_ID_BYTES) for box in boxes)
    before = np.frombuffer(stood_by, dtype=np.uint8).reshape(-1, _ID_BYTES)[found.box]
    now = verdicts.columns.sample_id[found.row]
    return np.flatnonzero(touched[found.box] | (before != now).any(axis=1))


def _save(
    desk: Desk,
    catalogue: Catalogue,
    *,
    boxes: Sequence[BoxFacts],
    verdicts: Verdicts,
    found: Latest,
    stale: NDArray[np.intp],
    moment: datetime,
) -> list[Moved]:
    made = _assessments(boxes, verdicts, moment)
    while batch := list(itertools.islice(made, _BATCH)):
        desk.assessments.add_many(batch)
    judged = replace(verdicts.columns, severity=verdicts.severity, digest=verdicts.digest)
    desk.blocks.write_verdicts(judged, _judged_boxes(boxes, verdicts))
    told = desk.condition.told({boxes[index].compartment_id for index in found.box[stale].tolist()})
    writer = _StandingWriter(
        desk, catalogue, boxes=boxes, verdicts=verdicts, found=found, told=told, moment=moment
    )
    records = [writer.record(place) for place in stale.tolist()]
    desk.condition.save(records)
    return _moves([boxes[index] for index in found.box[stale].tolist()], records, catalogue)


def _clear(
    desk: Desk, catalogue: Catalogue, boxes: Sequence[BoxFacts], *, moment: datetime
) -> list[Moved]:
    """Boxes without a believed sample: an intake was undone, or every sample was rejected."""
    judged = [box for box in boxes if box.severity != Severity.NO_VERDICT or box.sample_id]
    records = [
        ConditionRecord(
            site=box.site_id,
            compartment=box.compartment_id,
            sample=None,
            severity=int(Severity.NO_VERDICT),
            trust=int(Trust.GOOD),
            taken_on=None,
            true_hours=None,
            fluid_hours=None,
            assessed_at=moment,
        )
        for box in judged
    ]
    desk.condition.save(records)
    return _moves(judged, records, catalogue)


def _assessments(
    boxes: Sequence[BoxFacts], verdicts: Verdicts, moment: datetime
) -> Iterator[AssessmentRecord]:
    columns = verdicts.columns
    rows = np.flatnonzero(verdicts.changed)
    ids = columns.sample_id[rows]
    # By sample: found and written one beside the other instead of all over the table.
    order = np.lexsort(np.ascontiguousarray(ids).view(">u8").T[::-1])
    rows, packed = rows[order], ids[order].tobytes()
    told = zip(
        rows.tolist(),
        range(0, len(packed), _ID_BYTES),
        columns.compartment[rows].tolist(),
        verdicts.severity[rows].tolist(),
        columns.trust[rows].tolist(),
        verdicts.digest[rows].tolist(),
        verdicts.limit_set[rows].tolist(),
        strict=True,
    )
    for row, at, box, severity, trust, digest, number in told:
        yield AssessmentRecord(
            site=boxes[box].site_id,
            sample=SampleId(packed[at : at + _ID_BYTES]),
            severity=severity,
            trust=trust,
            reasons=reasons_to_text(verdicts.reasons.get(row, ())),
            inputs_digest=f"{digest:016x}",
            program_version=__version__,
            limit_set=number or None,
            made_at=moment,
        )


def _judged_boxes(
    boxes: Sequence[BoxFacts], verdicts: Verdicts
) -> list[tuple[CompartmentId, slice]]:
    """The boxes with a changed verdict, and the rows of their samples."""
    box = verdicts.columns.compartment
    edges = np.flatnonzero(np.diff(box, prepend=-1, append=-1))
    if not len(box):
        return []
    touched = np.flatnonzero(np.logical_or.reduceat(verdicts.changed, edges[:-1]))
    told = zip(
        box[edges[touched]].tolist(),
        edges[touched].tolist(),
        edges[touched + 1].tolist(),
        strict=True,
    )
    return [(boxes[one].compartment_id, slice(start, stop)) for one, start, stop in told]


class _StandingWriter:
    """Makes the rows that say how boxes stand. ``told``: reasons and headline as they stand now."""

    def __init__(
        self,
        desk: Desk,
        catalogue: Catalogue,
        *,
        boxes: Sequence[BoxFacts],
        verdicts: Verdicts,
        found: Latest,
        told: Mapping[bytes, tuple[str, str]],
        moment: datetime,
    ) -> None:
        self._desk, self._catalogue, self._moment = desk, catalogue, moment
        self._boxes, self._verdicts, self._found, self._told = boxes, verdicts, found, told

    def record(self, place: int) -> ConditionRecord:
        """How the box at a place of ``found`` stands."""
        found, columns = self._found, self._verdicts.columns
        row = int(found.row[place])
        box = self._boxes[int(found.box[place])]
        sample = SampleId(columns.sample_id[row].tobytes())
        reasons, line = self._reasons(box, sample, row)
        return ConditionRecord(
            site=box.site_id,
            compartment=box.compartment_id,
            sample=sample,
            severity=int(self._verdicts.severity[row]),
            trust=int(columns.trust[row]),
            taken_on=date.fromordinal(int(columns.taken_on[row])),
            true_hours=_known(float(columns.hours[row])),
            fluid_hours=_known(float(columns.fluid_hours[row])),
            direction=int(found.direction[place]),
            previous_severity=int(found.previous_severity[place]),
            reasons=reasons,
            headline=line,
            assessed_at=self._moment,
            first_seen_on=date.fromordinal(int(found.first_seen_on[place])),
        )

    def _reasons(self, box: BoxFacts, sample: SampleId, row: int) -> tuple[str, str]:
        rules = reasons_at(self._verdicts, row)
        if rules is None and sample == box.sample_id:
            return self._told.get(box.compartment_id, ("[]", ""))
        if rules is None:
            # An undone intake brings an earlier sample back, with the verdict it has had all along.
            known = self._desk.assessments.in_force(sample)
            rules = reasons_from_text(known.reasons if known else None)
        return reasons_to_text(rules), headline(rules, self._catalogue.analytes)


def _known(value: float) -> float | None:
    return None if np.isnan(value) else value


def _moves(
    boxes: Sequence[BoxFacts], records: Sequence[ConditionRecord], catalogue: Catalogue
) -> list[Moved]:
    """The boxes whose severity is another one now."""
    pairs = zip(boxes, records, strict=True)
    found = (_moved(before, record, catalogue) for before, record in pairs)
    return [one for one in found if one.before != one.after]


def _moved(before: BoxFacts, record: ConditionRecord, catalogue: Catalogue) -> Moved:
    return Moved(
        site=before.site,
        machine=before.machine,
        compartment=catalogue.box_name(before.kind, before.position),
        compartment_id=before.compartment_id,
        before=Severity.NO_VERDICT if before.severity is None else Severity(before.severity),
        after=Severity(record.severity),
        headline=record.headline,
    )
