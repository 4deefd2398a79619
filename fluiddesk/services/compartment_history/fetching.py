"""Everything the store keeps of one box, fetched in one reading, then worked on outside of it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Final

from fluiddesk.domain.errors import NotFoundError
from fluiddesk.domain.fleet import Compartment
from fluiddesk.domain.identity import CompartmentId, SampleId
from fluiddesk.domain.limits.assessment import reference_matrix
from fluiddesk.domain.limits.limit_set import has_ended, limits_in_force, set_in_force
from fluiddesk.domain.samples import Sample, SampleColumns
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.compartment_history.earlier import joined, standing, without_copies
from fluiddesk.services.compartment_history.facts import (
    AnalyteSeries,
    EventFacts,
    FindingFacts,
    SheetFacts,
)
from fluiddesk.services.compartment_history.series import HeldLimits, analyte_series
from fluiddesk.services.compartment_history.sisters import Shelf, Sisters, sisters_of
from fluiddesk.services.compartment_history.story import BoxStory, box_story
from fluiddesk.services.fleet_condition import BoxRow
from fluiddesk.services.reassess.fleet import BoxFacts, load_rulebook
from fluiddesk.services.reassess.judging import Rulebook
from fluiddesk.services.register.owners import earlier_boxes
from fluiddesk.storage import Desk, SheetRecord

USUAL_DENSITY: Final = 0.87
"""Of a fluid that is not in the catalogue, kg/L (common practice, no source)."""
_SIDES: Final = {"left": "right", "right": "left"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Papers:
    """What the store keeps of one box beside its columns."""

    samples: Mapping[SampleId, Sample]
    sheets: Mapping[SampleId, SheetRecord]
    revisions: Mapping[SampleId, tuple[SheetFacts, ...]]
    printed: Mapping[tuple[bytes, int], str]
    events: tuple[EventFacts, ...]
    findings: tuple[FindingFacts, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherBox:
    """The box on the other side of the machine, with its samples."""

    name: str
    columns: SampleColumns


@dataclass(frozen=True, slots=True, kw_only=True)
class Fetched:
    """Everything of one box; ``columns`` is ``None`` without a sample.

    ``earlier_sites``: which sites' records of the box are in it beside its own, oldest first.
    """

    box: BoxFacts
    row: BoxRow
    register: Compartment
    columns: SampleColumns | None
    rulebook: Rulebook
    fluid: str
    density_kg_l: float
    papers: Papers
    earlier_sites: tuple[str, ...]
    sisters: Sisters | None
    other_side: OtherBox | None


def fetch(
    desk: Desk,
    catalogue: Catalogue,
    compartment: CompartmentId,
    *,
    shelf: Shelf,
    in_full: bool = True,
) -> Fetched:
    """Read one box, its time at former sites included; like machines only ``in_full``.

    Raises:
        NotFoundError: when the box is not in the store.
    """
    box = _box_of(desk, compartment)
    records = (*earlier_boxes(desk, compartment), compartment)
    rows = {row.compartment_id: row for row in map(BoxRow._make, desk.condition.rows(records))}
    papers = _papers(desk, catalogue, records)
    blocks = [desk.blocks.one(one) for one in records]
    row = standing(rows, records)
    fluids = {fluid.code: fluid for fluid in desk.fleet.fluids()}
    rulebook = load_rulebook(desk, catalogue)
    fluid = fluids.get(row.fluid_code)
    return Fetched(
        box=box,
        row=row,
        register=desk.fleet.compartment(compartment),
        columns=joined([one for one in blocks if one is not None], papers.events),
        rulebook=rulebook,
        fluid=fluid.name if fluid else row.fluid_code,
        density_kg_l=fluid.density_kg_per_l if fluid else USUAL_DENSITY,
        papers=papers,
        earlier_sites=tuple(rows[one].site for one in records[:-1] if one in rows),
        sisters=None
        if not in_full
        else sisters_of(
            desk,
            catalogue,
            rulebook,
            shelf=shelf,
            machine_kind=box.machine_kind,
            model=box.model,
            kind=box.kind,
            fluid_class=box.fluid_class,
        ),
        other_side=_other_side(desk, catalogue, compartment),
    )


def story_of(found: Fetched, catalogue: Catalogue) -> BoxStory | None:
    """The box's samples, events and fills side by side; ``None`` without a believed sample."""
    columns = found.columns
    if columns is None or not len(columns):
        return None
    story = box_story(
        columns,
        found.papers.events,
        analytes=[catalogue.by_number.get(number) for number in columns.analytes],
        references=reference_matrix(found.rulebook.references, numbers=columns.analytes),
        capacity_l=found.register.capacity_l,
        residue_share=found.register.residue_share,
        density_kg_l=found.density_kg_l,
    )
    return story if len(story.wear) else None


def series_of(found: Fetched, catalogue: Catalogue) -> tuple[AnalyteSeries, ...]:
    """The box's curves, each held against the limits that were in force on each day."""
    if found.columns is None or not len(found.columns):
        return ()
    return analyte_series(
        found.columns,
        held_limits(found),
        analytes=catalogue.analytes,
        references=found.rulebook.references,
        printed=found.papers.printed,
    )


def held_limits(found: Fetched) -> tuple[HeldLimits, ...]:
    """Which limits held over which run of samples, without a gap."""
    ordinals = found.columns.taken_on.tolist() if found.columns is not None else []
    runs: list[HeldLimits] = []
    last_key: tuple[object, ...] = ()
    for place, day in enumerate(date.fromordinal(int(one)) for one in ordinals):
        one = set_in_force(found.rulebook.sets, day)
        # Within one set limits change only where a limit that was switched off holds again.
        ended = (
            tuple(at for at, row in enumerate(one.limits) if row.is_off and has_ended(row, day))
            if one
            else ()
        )
        key = (one.number if one else None, ended)
        if runs and key == last_key:
            runs[-1] = replace(runs[-1], last=place)
            continue
        limits = limits_in_force(one.limits, found.box.box, day) if one else []
        name = f"{one.number} {one.name}" if one else ""
        runs.append(HeldLimits(first=place, last=place, limit_set=name, limits=limits))
        last_key = key
    return tuple(runs)


def _box_of(desk: Desk, compartment: CompartmentId) -> BoxFacts:
    boxes = [BoxFacts._make(row) for row in desk.boxes.rows([compartment])]
    if not boxes:
        raise NotFoundError(
            "This compartment is not in the database any more. Choose another one in the tree."
        )
    return boxes[0]


def _other_side(desk: Desk, catalogue: Catalogue, compartment: CompartmentId) -> OtherBox | None:
    """The box of the same kind on the other side of the machine, where it has samples."""
    own = desk.fleet.compartment(compartment)
    words = own.position.split("_")
    wanted = "_".join(_SIDES.get(word, word) for word in words)
    if wanted == own.position:
        return None
    for one in desk.fleet.compartments_of(own.machine):
        if (one.kind, one.position) == (own.kind, wanted):
            columns = desk.blocks.one(one.id)
            if columns is not None and len(columns):
                return OtherBox(name=catalogue.box_name(one.kind, one.position), columns=columns)
    return None


def _papers(desk: Desk, catalogue: Catalogue, records: Sequence[CompartmentId]) -> Papers:
    """What is kept of a box over all its records, oldest first."""
    sheets = [sheet for record in records for sheet in desk.results.sheets_of(record)]
    samples = {
        sample.id: sample for record in records for sample in desk.sampling.samples_of(record)
    }
    return Papers(
        samples=samples,
        sheets={sheet.sample: sheet for sheet in sheets if sheet.is_current},
        revisions=_revisions(desk, catalogue, sheets),
        printed={
            (sample, number): f"{text} {unit}"
            for record in records
            for sample, number, text, unit in desk.printed.of(record)
        },
        events=without_copies([_events(desk, record) for record in records]),
        findings=tuple(_findings(desk, records, samples)),
    )


def _revisions(
    desk: Desk, catalogue: Catalogue, sheets: Sequence[SheetRecord]
) -> dict[SampleId, tuple[SheetFacts, ...]]:
    """The issues of each sample's report in order, each with what it says otherwise."""
    issues: dict[SampleId, list[SheetRecord]] = {}
    for sheet in sheets:
        issues.setdefault(sheet.sample, []).append(sheet)
    several = [one.id for found in issues.values() if len(found) > 1 for one in found]
    texts: dict[bytes, dict[int, str]] = {}
    for key, number, text in desk.printed.of_sheets(several) if several else ():
        texts.setdefault(key, {})[number] = text
    answer = {}
    for sample, found in issues.items():
        told, before = [], dict[int, str]()
        for sheet in sorted(found, key=lambda one: (one.issue, one.created_at)):
            now = texts.get(sheet.id, {})
            changed = _changed(catalogue, before, now) if before else ()
            told.append(_sheet_facts(sheet, changed))
            before = now
        answer[sample] = tuple(told)
    return answer


def _changed(
    catalogue: Catalogue, before: Mapping[int, str], now: Mapping[int, str]
) -> tuple[str, ...]:
    """What one issue says otherwise than the one before it: "Iron 32 to 23"."""
    names = {number: one.name for number, one in catalogue.by_number.items()}
    return tuple(
        f"{names.get(number, number)} {before.get(number) or 'nothing'} to "
        f"{now.get(number) or 'nothing'}"
        for number in sorted({*before, *now})
        if before.get(number) != now.get(number)
    )


def _sheet_facts(sheet: SheetRecord, changed: tuple[str, ...]) -> SheetFacts:
    return SheetFacts(
        sheet_id=sheet.id,
        laboratory=sheet.laboratory,
        report_number=sheet.report_number,
        issue=sheet.issue,
        received_on=sheet.received_on,
        is_current=sheet.is_current,
        entered_by=sheet.created_by,
        changed=changed,
    )


def _events(desk: Desk, compartment: CompartmentId) -> list[EventFacts]:
    return [
        EventFacts(
            kind=event.kind,
            happened_on=event.happened_on,
            hours=event.true_hours,
            litres=event.litres,
            fluid=event.fluid or "",
            certainty=event.certainty,
            note=event.note,
            event_id=event.id,
        )
        for event in desk.fleet.events(compartment)
        if event.superseded_by is None
    ]


def _findings(
    desk: Desk, records: Sequence[CompartmentId], samples: Mapping[SampleId, Sample]
) -> list[FindingFacts]:
    found = []
    for record in records:
        for one in desk.findings.of(record):
            sample = samples.get(SampleId(one.sample_id)) if one.sample_id else None
            found.append(
                FindingFacts(
                    found_on=one.found_on,
                    result=one.result.replace("_", " "),
                    part=one.part,
                    note=one.note,
                    sample_id=one.sample_id,
                    place_hours=sample.true_hours if sample else None,
                )
            )
    return found
