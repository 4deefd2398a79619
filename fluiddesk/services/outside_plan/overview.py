"""What stands outside the plan, in one reading: samples of boxes, of fluids, spare labels."""

from dataclasses import dataclass
from datetime import date

from fluiddesk.domain.errors import NotFoundError
from fluiddesk.domain.identity import CompartmentId, MachineId, SampleId, normal_bottle_code
from fluiddesk.domain.samples import SampleOrigin, SampleReason, SampleState
from fluiddesk.services.outside_plan.fluid_samples import FluidSampleFacts, fluid_samples
from fluiddesk.services.outside_plan.labels import SpareLabel, spare_labels
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import BoxSampleRecord


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxSampleFacts:
    """A sample of a compartment that was not planned, or that the laboratory rejected.

    ``report_number`` is empty until a report has come; ``rejected_reason`` where it had results;
    ``first_bottle`` unless this is the duplicate of another bottle.
    """

    id: SampleId
    site: str
    machine_id: MachineId
    machine: str
    compartment_id: CompartmentId
    compartment: str
    bottle_code: str
    reason: SampleReason
    origin: SampleOrigin
    state: SampleState
    taken_on: date | None
    taken_by: str
    note: str
    first_bottle: str
    report_number: str
    rejected_reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OutsideFacts:
    """Everything outside the plan, newest first; labels by site and number."""

    box_samples: tuple[BoxSampleFacts, ...]
    fluid_samples: tuple[FluidSampleFacts, ...]
    spare_labels: tuple[SpareLabel, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FluidValue:
    """What a laboratory measured of a fluid sample, beside what the fluid reads unused.

    ``printed`` is what the laboratory wrote, in ``printed_unit``; ``reference`` is in ``unit``,
    ``None`` where the fluid has none for it.
    """

    analyte: str
    symbol: str
    printed: str
    printed_unit: str
    reference: float | None
    unit: str


def outside_facts(place: Workplace) -> OutsideFacts:
    """Everything outside the plan."""
    with place.store.reading() as desk:
        sites = {int(one.site): one.name for one in desk.fleet.sites()}
        records = desk.outside.box_samples()
        firsts = desk.sampling.samples(
            [SampleId(one.duplicate_of) for one in records if one.duplicate_of is not None]
        )
    bottles = {bytes(key): sample.bottle_code for key, sample in firsts.items()}
    return OutsideFacts(
        box_samples=tuple(_box_sample(place, one, sites, bottles) for one in records),
        fluid_samples=fluid_samples(place),
        spare_labels=spare_labels(place),
    )


def _box_sample(
    place: Workplace, one: BoxSampleRecord, sites: dict[int, str], bottles: dict[bytes, str]
) -> BoxSampleFacts:
    return BoxSampleFacts(
        id=SampleId(one.id),
        site=sites[one.site],
        machine_id=MachineId(one.machine_id),
        machine=one.machine,
        compartment_id=CompartmentId(one.compartment_id),
        compartment=place.catalogue.box_name(one.kind, one.position),
        bottle_code=one.bottle_code,
        reason=SampleReason(one.reason),
        origin=SampleOrigin(one.origin),
        state=SampleState(one.state),
        taken_on=one.taken_on,
        taken_by=one.taken_by,
        note=one.note,
        first_bottle=bottles.get(bytes(one.duplicate_of or b""), ""),
        report_number=one.report_number or "",
        rejected_reason=one.rejected_reason or "",
    )


def fluid_values(place: Workplace, bottle: str) -> tuple[FluidValue, ...]:
    """What was measured of a fluid sample, in the catalogue's order; empty before a report.

    The reference is the one in force on the day it was drawn.

    Raises:
        NotFoundError: when no fluid sample has this bottle.
    """
    code = normal_bottle_code(bottle)
    with place.store.reading() as desk:
        known = desk.outside.fluid_samples([code])
        if not known:
            raise NotFoundError(f"No fluid sample has the bottle {code}. Register it first.")
        [sample] = known
        readings = desk.outside.readings_of(sample.site, sample.id)
        day = sample.taken_on or date.max
        known_ones = desk.fleet.references()
    held = [
        (one.valid_from, number)
        for number, one in known_ones.items()
        if one.fluid_code == sample.fluid and one.valid_from <= day
    ]
    reference = known_ones[max(held)[1]].values if held else {}
    analytes = place.catalogue.analytes
    return tuple(
        FluidValue(
            analyte=key,
            symbol=analytes[key].symbol if key in analytes else key,
            printed=readings[key].printed,
            printed_unit=readings[key].printed_unit,
            reference=reference.get(key),
            unit=analytes[key].unit if key in analytes else "",
        )
        for key in sorted(readings, key=lambda key: _order(place, key))
    )


def _order(place: Workplace, analyte: str) -> tuple[int, str]:
    known = place.catalogue.analytes.get(analyte)
    return (known.number if known else len(place.catalogue.analytes), analyte)


def sample_of_bottle(place: Workplace, bottle: str) -> SampleId:
    """The sample of a compartment with this bottle.

    Raises:
        BottleCodeError: when the check character does not fit.
        NotFoundError: when no such sample has it.
    """
    code = normal_bottle_code(bottle)
    with place.store.reading() as desk:
        sample = desk.sampling.by_bottle([code]).get(code)
    if sample is None:
        raise NotFoundError(
            f"No sample of a compartment has the bottle {code}. Compare the label with the bottle."
        )
    return sample.id
