"""Makes samples of matched rows and puts them, their sheets and meter values into a transaction."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from fluiddesk.domain.fleet import Compartment
from fluiddesk.domain.identity import CompartmentId, MachineId, SampleId, SiteId
from fluiddesk.domain.samples import (
    Sample,
    SampleOrigin,
    SampleReason,
    SampleState,
)
from fluiddesk.intake.past_reading import PastRow
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.reassess.blocks import refresh_blocks
from fluiddesk.services.reassess.fleet import Moved, reassess_boxes
from fluiddesk.services.register.derive import refresh_usage
from fluiddesk.services.sample_hours import MachineHours, Seen, events_of, fill_at
from fluiddesk.storage import Desk, EventRecord, MeterReadingRecord, PastSample


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A row and the box it belongs to; ``joins`` names a sample on the register it answers."""

    row: PastRow
    box: Compartment
    joins: SampleId | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SavedPast:
    """What saving did: the samples in the order of the rows, the boxes touched and those moved."""

    samples: tuple[Sample, ...]
    compartments: frozenset[CompartmentId]
    moved: tuple[Moved, ...]


def save_rows(
    desk: Desk,
    catalogue: Catalogue,
    placed: Sequence[Placed],
    intakes: Mapping[SiteId, bytes],
    *,
    hours: MachineHours,
    moment: datetime,
) -> SavedPast:
    """Save rows under their boxes, and judge the boxes anew.

    A sample of the past is marked as such: it never counts in compliance.
    """
    believed = _believed(hours, placed)
    samples: dict[int, Sample] = {}
    fresh: list[PastSample] = []
    events = events_of(desk, {one.box.id for one in placed})
    for places in _by_sample(placed):
        first = placed[places[0]]
        sheets = tuple(placed[at].row.sheet for at in places)
        if first.joins is not None:
            sample = desk.sampling.sample(first.joins)
            for sheet in sheets:
                desk.results.save_sheet(sample.site, sample.id, sheet, intakes[sample.site])
        else:
            sample = _sample(desk, first, believed[first.box.machine], events[first.box.id])
            fresh.append(PastSample(sample=sample, sheets=sheets))
        samples |= dict.fromkeys(places, sample)
    desk.past.save(intakes, fresh)
    _save_meters(desk, catalogue, placed, believed, hours)
    touched = frozenset(one.box.id for one in placed)
    refresh_blocks(desk, touched)
    outcome = reassess_boxes(desk, catalogue, moment=moment, compartments=touched)
    return SavedPast(
        samples=tuple(samples[at] for at in range(len(placed))),
        compartments=touched,
        moved=outcome.moved,
    )


def _by_sample(placed: Sequence[Placed]) -> Iterable[list[int]]:
    """The places of the rows of one sample together, its issues in rising order."""
    groups: dict[tuple[object, ...], list[int]] = defaultdict(list)
    for at, one in enumerate(placed):
        report = one.row.sheet.report_number
        key = (one.joins,) if one.joins else (one.box.id, one.row.sampled_on, report)
        groups[key].append(at)
    return (sorted(own, key=lambda at: placed[at].row.sheet.issue) for own in groups.values())


def _believed(
    hours: MachineHours, placed: Iterable[Placed]
) -> dict[MachineId, Mapping[Seen, float]]:
    seen: dict[MachineId, set[Seen]] = defaultdict(set)
    for one in placed:
        meter = one.row.sheet.meter_printed
        seen[one.box.machine] |= set() if meter is None else {(one.row.sampled_on, meter)}
    return {machine: hours.believed(machine, values) for machine, values in seen.items()}


def _sample(
    desk: Desk,
    placed: Placed,
    believed: Mapping[Seen, float],
    events: Sequence[EventRecord],
) -> Sample:
    row, box = placed.row, placed.box
    meter = row.sheet.meter_printed
    age = None if meter is None else believed.get((row.sampled_on, meter))
    fill, fluid_hours = fill_at(events, day=row.sampled_on, hours=age, printed=row.fluid_hours)
    return Sample(
        site=box.site,
        id=SampleId(desk.new_id()),
        compartment=box.id,
        bottle_code="",
        reason=SampleReason.ROUTINE,
        state=SampleState.REPORTED,
        taken_on=row.sampled_on,
        meter_value=meter,
        true_hours=age,
        fluid_hours=fluid_hours,
        fill_number=fill,
        origin=SampleOrigin.PAST,
    )


def _save_meters(
    desk: Desk,
    catalogue: Catalogue,
    placed: Iterable[Placed],
    believed: Mapping[MachineId, Mapping[Seen, float]],
    hours: MachineHours,
) -> None:
    """Keep one believed meter value a machine and day, where the register has none of that day."""
    records: dict[tuple[MachineId, date], MeterReadingRecord] = {}
    for one in placed:
        machine, meter = one.box.machine, one.row.sheet.meter_printed
        if meter is None or (seen := (one.row.sampled_on, meter)) not in believed[machine]:
            continue
        if not hours.is_known(machine, seen):
            records[machine, seen[0]] = hours.reading(one.box, seen, believed[machine][seen])
    desk.fleet.add_meter_readings(records.values())
    refresh_usage(desk, catalogue, {machine for machine, _ in records})
