"""What is still missing in the register, record by record, most pressing first."""

from collections.abc import Iterator
from datetime import date
from typing import Final

from fluiddesk.domain.fleet import MachineState
from fluiddesk.services.register.facts import (
    CompartmentFacts,
    FluidFacts,
    MachineFacts,
    MissingFact,
    RegisterFacts,
)

STALE_READING_DAYS: Final = 60
"""A meter not read for longer says little of what is due (common practice, no source)."""


def missing(facts: RegisterFacts, *, today: date) -> tuple[MissingFact, ...]:
    """What the programme still lacks; what it cannot plan or judge without comes first.

    Sold machines and retired records lack nothing.
    """
    found = [
        *_whole_register(facts),
        *_sites(facts),
        *_machines(facts, today=today),
        *_compartments(facts),
        *_fluids(facts),
        *_laboratories(facts),
    ]
    order = {"register": 0, "site": 1, "machine": 2, "meter": 3, "compartment": 4}
    return tuple(
        sorted(found, key=lambda one: (not one.blocks, order.get(one.record, 9), one.name))
    )


def _whole_register(facts: RegisterFacts) -> Iterator[MissingFact]:
    def gap(field: str, text: str, *, blocks: bool) -> MissingFact:
        return MissingFact(
            record="register", key=field, name="The register", field=field, text=text, blocks=blocks
        )

    if not facts.sites:
        yield gap("sites", "There is no site yet. Add the first one.", blocks=True)
    elif not facts.machines:
        text = "There is no machine yet. Add one by its kind, or read a file of machines."
        yield gap("machines", text, blocks=True)
    if not facts.fluids:
        yield gap("fluids", "There is no fluid yet. Add the fluids in use.", blocks=True)
    if not any(not one.retired for one in facts.laboratories):
        text = "No laboratory is noted yet. Add the one that tests your samples."
        yield gap("laboratories", text, blocks=False)
    if not facts.users:
        yield gap("users", "Nobody is noted as a desk user yet. Add yourself.", blocks=False)
    if not facts.test_lists:
        text = "No test list is set up: labels then order the laboratory's usual tests."
        yield gap("test_lists", text, blocks=False)


def _sites(facts: RegisterFacts) -> Iterator[MissingFact]:
    for site in facts.sites:
        if not site.dust_shares:
            yield MissingFact(
                record="site",
                key=str(site.site),
                name=site.name,
                field="dust_shares",
                text="The make-up of the local dust is not noted: dust in oil is told from wear "
                "less surely.",
                blocks=False,
                site=site.site,
            )


def _machines(facts: RegisterFacts, *, today: date) -> Iterator[MissingFact]:
    meters = {one.machine: one for one in facts.meters}
    boxed = {one.machine for one in facts.compartments if not one.retired}
    for machine in facts.machines:
        if machine.state is MachineState.SOLD:
            continue
        if machine.id not in boxed:
            text = "It has no compartment. Add its boxes, or make them by its kind."
            yield _of(machine, "machine", "compartments", text, blocks=True)
        meter = meters.get(machine.id)
        if meter is None:
            text = "It has no meter: nothing can be due by hours. Add its meter."
            yield _of(machine, "meter", "meter", text, blocks=True)
        elif meter.last_read_on is None:
            text = "Its meter was never read. Note what it shows."
            yield _of(machine, "meter", "reading", text, blocks=True)
        elif (today - meter.last_read_on).days > STALE_READING_DAYS:
            text = f"Its meter was last read on {meter.last_read_on.isoformat()}. Read it again."
            yield _of(machine, "meter", "reading", text, blocks=False)
        if not machine.serial:
            yield _of(machine, "machine", "serial", "Its serial number is missing.", blocks=False)


def _of(machine: MachineFacts, record: str, field: str, text: str, *, blocks: bool) -> MissingFact:
    return MissingFact(
        record=record,
        key=machine.id,
        name=machine.code,
        field=field,
        text=text,
        blocks=blocks,
        site=machine.site,
        machine=machine.id,
    )


def _compartments(facts: RegisterFacts) -> Iterator[MissingFact]:
    sold = {one.id for one in facts.machines if one.state is MachineState.SOLD}
    points = {one.compartment: one for one in facts.points if not one.retired}
    fluids = {one.code: one for one in facts.fluids}
    for box in facts.compartments:
        if box.retired or box.machine in sold:
            continue
        if box.interval_hours is None and box.interval_days is None:
            text = "It has no interval: it never falls due. Give hours, days or both."
            yield _of_box(box, "compartment", "interval_hours", text, blocks=True)
        fluid = fluids.get(box.fluid)
        if fluid is not None and fluid.retired:
            text = f"Its fluid {box.fluid} is retired. Choose the one it holds now."
            yield _of_box(box, "compartment", "fluid", text, blocks=True)
        point = points.get(box.id)
        if point is None:
            text = "No sampling point is noted: labels cannot say where to draw."
            yield _of_box(box, "point", "kind", text, blocks=False)
        elif not point.location:
            text = "Where its sampling point is, is not noted."
            yield _of_box(box, "point", "location", text, blocks=False)


def _of_box(
    box: CompartmentFacts, record: str, field: str, text: str, *, blocks: bool
) -> MissingFact:
    return MissingFact(
        record=record,
        key=box.id,
        name=f"{box.machine_code} {box.name}",
        field=field,
        text=text,
        blocks=blocks,
        site=box.site,
        machine=box.machine,
    )


def _fluids(facts: RegisterFacts) -> Iterator[MissingFact]:
    used = {one.fluid for one in facts.compartments if not one.retired}
    for fluid in facts.fluids:
        if fluid.code in used and not fluid.references:
            yield _of_code(
                "fluid",
                fluid,
                "references",
                "It has no new-fluid reference: changes from new cannot be judged.",
            )


def _of_code(record: str, fluid: FluidFacts, field: str, text: str) -> MissingFact:
    return MissingFact(
        record=record, key=fluid.code, name=fluid.name, field=field, text=text, blocks=False
    )


def _laboratories(facts: RegisterFacts) -> Iterator[MissingFact]:
    for one in facts.laboratories:
        if not one.retired and not one.layout:
            text = "The layout of its files is not noted: it is found out for each file."
            yield MissingFact(
                record="laboratory",
                key=one.code,
                name=one.name,
                field="layout",
                text=text,
                blocks=False,
            )
