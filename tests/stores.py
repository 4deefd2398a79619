"""Makes stores to test with, and fills them with one invented machine."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from fluiddesk.domain.fleet import Compartment, Machine, Meter
from fluiddesk.domain.fluids.product import FluidProduct, NewFluidReference
from fluiddesk.domain.identity import CompartmentId, MachineId, SampleId, SiteId, bottle_code
from fluiddesk.domain.samples import (
    Reading,
    ResultSheet,
    Sample,
    SampleReason,
    SampleState,
    Sign,
)
from fluiddesk.storage import (
    AssessmentRecord,
    ConditionRecord,
    Desk,
    DeskStore,
    SiteRecord,
    create_store,
    open_store,
)

MOMENT = datetime(2026, 3, 1, 12, tzinfo=UTC)
LATER = MOMENT + timedelta(hours=1)
SITE = SiteId(1)
CLERK = "Kim"


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """What ``fill`` has put into a store."""

    machine: Machine
    compartment: Compartment
    samples: tuple[Sample, ...]


def make_store(folder: Path, name: str = "pit.fluid") -> DeskStore:
    """An empty store in a file, open."""
    address = str(folder / name)
    create_store(address, moment=MOMENT)
    return open_store(address, busy_timeout_ms=50)


def fill(store: DeskStore, *, samples: int = 3) -> Filled:
    """Add an excavator with an engine, and samples of it that wait for the laboratory."""
    with store.transaction(who=CLERK, moment=MOMENT) as desk:
        desk.catalogue.add_analytes([(1, "iron", "mg/kg"), (2, "copper", "mg/kg")])
        desk.catalogue.add_fluids([make_fluid()])
        desk.catalogue.add_laboratories({"own": "Invented laboratory"})
        desk.fleet.add_site(SiteRecord(site=SITE, name="North pit", time_zone="UTC"))
        machine = Machine(
            site=SITE, id=MachineId(desk.new_id()), code="EX-01", kind="excavator", model="A"
        )
        desk.fleet.add_machine(machine)
        desk.fleet.add_meter(
            machine, Meter(fitted_on=date(2024, 1, 1), start_value=0, hours_before=0)
        )
        engine = make_engine(machine, CompartmentId(desk.new_id()))
        desk.fleet.add_compartment(engine)
        made = tuple(make_sample(desk, engine, number) for number in range(samples))
        desk.sampling.add_samples(made)
    return Filled(machine=machine, compartment=engine, samples=made)


def make_fluid() -> FluidProduct:
    """An engine oil by its grade, with a reference of 2 mg/kg iron."""
    reference = NewFluidReference(
        valid_from=date(2024, 1, 1), values={"iron": 2.0}, source="invented for a test"
    )
    return FluidProduct(
        code="E15",
        name="Engine oil 15W-40",
        fluid_class="engine_oil",
        viscosity_grade="15W-40",
        density_kg_per_l=0.87,
        references=(reference,),
    )


def make_engine(machine: Machine, key: CompartmentId) -> Compartment:
    """An engine with 40 litres, sampled every 250 hours."""
    return Compartment(
        site=machine.site,
        id=key,
        machine=machine.id,
        kind="engine",
        position="",
        fluid="E15",
        capacity_l=40.0,
        residue_share=0.1,
        interval_hours=250.0,
        interval_days=None,
    )


def make_sample(desk: Desk, compartment: Compartment, number: int) -> Sample:
    """A routine sample, one every 30 days and 250 hours."""
    return Sample(
        site=compartment.site,
        id=SampleId(desk.new_id()),
        compartment=compartment.id,
        bottle_code=bottle_code(f"26K{number:04}"),
        reason=SampleReason.ROUTINE,
        state=SampleState.SHIPPED,
        taken_on=date(2025, 1, 1) + timedelta(days=30 * number),
        true_hours=250.0 * number,
        fluid_hours=250.0 * number,
    )


def make_sheet(
    bottle: str, readings: Mapping[str, float] | None = None, *, issue: int = 1
) -> ResultSheet:
    """A laboratory's report; iron 12 and copper 3 mg/kg unless given."""
    values = {"iron": 12.0, "copper": 3.0} if readings is None else readings
    return ResultSheet(
        bottle_code=bottle,
        laboratory="own",
        report_number=f"R-{bottle}",
        issue=issue,
        readings={code: make_reading(code, value) for code, value in values.items()},
        received_on=date(2026, 2, 1),
    )


def make_reading(code: str, value: float, *, sign: Sign = Sign.PLAIN) -> Reading:
    """A value as a laboratory prints it."""
    return Reading(
        analyte=code, sign=sign, value=value, printed=f"{value:g}", printed_unit="ppm", decimals=0
    )


def report_all(store: DeskStore, filled: Filled, *, at: datetime = MOMENT) -> None:
    """Take in a sheet for each sample, and bring everything derived up to date."""
    with store.transaction(who=CLERK, moment=at) as desk:
        for number, sample in enumerate(filled.samples):
            sheet = make_sheet(sample.bottle_code, {"iron": 10.0 + number, "copper": 3.0})
            desk.results.save_sheet(sample.site, sample.id, sheet)
        desk.assessments.add_many([make_assessment(one) for one in filled.samples])
        bring_up_to_date(desk, [filled.compartment.id])
        newest = filled.samples[-1]
        desk.condition.save([make_condition(newest)])


def bring_up_to_date(desk: Desk, compartments: Iterable[CompartmentId]) -> None:
    """Rebuild the packed histories of compartments."""
    desk.blocks.write(desk.blocks.rebuild(list(compartments)))


def make_assessment(sample: Sample, severity: int = 1) -> AssessmentRecord:
    """A verdict of Watch without reasons."""
    return AssessmentRecord(
        site=sample.site,
        sample=sample.id,
        severity=severity,
        trust=0,
        reasons="[]",
        inputs_digest="0",
        program_version="0",
    )


def make_condition(sample: Sample, severity: int = 1) -> ConditionRecord:
    """The standing that follows from a sample's verdict."""
    return ConditionRecord(
        site=sample.site,
        compartment=sample.compartment,
        sample=sample.id,
        severity=severity,
        trust=0,
        taken_on=sample.taken_on,
        true_hours=sample.true_hours,
        fluid_hours=sample.fluid_hours,
    )
