"""Samples of drums, bulk tanks and new fluid, and known fluids sent as a check of the laboratory.

They belong to a fluid, its batch or its tank, never to a compartment.
"""

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from fluiddesk.domain.errors import NotFoundError, OperatorError
from fluiddesk.domain.identity import SiteId, normal_bottle_code
from fluiddesk.domain.samples import SampleReason, SampleState, Sign
from fluiddesk.services.changes import Changes
from fluiddesk.services.outside_plan.labels import free_bottle
from fluiddesk.services.register.fluids import rejudge_fluid
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import BottleRecord, FluidSampleRecord


class FluidSampleKind(StrEnum):
    """What was sampled."""

    DRUM = "drum"
    TANK = "tank"
    NEW_FLUID = "new_fluid"
    CHECK = "check"
    """A fluid whose values are known, sent without saying so."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NewFluidSample:
    """A bottle of a drum, tank or delivery. ``container`` says in words which one."""

    site_id: SiteId
    kind: FluidSampleKind
    fluid_code: str
    bottle_code: str
    taken_on: date
    batch_id: bytes | None = None
    tank_id: bytes | None = None
    container: str = ""
    taken_by: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FluidSampleFacts:
    """A fluid sample as lists show it; ``report_number`` is empty until a report has come."""

    id: bytes
    site: str
    kind: FluidSampleKind
    fluid_code: str
    fluid: str
    container: str
    bottle_code: str
    state: SampleState
    taken_on: date | None
    batch_id: bytes | None
    tank_id: bytes | None
    report_number: str
    note: str


def register_fluid_sample(
    place: Workplace, told: NewFluidSample, *, moment: datetime, today: date
) -> bytes:
    """Register a sample of no compartment; its laboratory row is then taken in like any other.

    Returns its identifier.

    Raises:
        BottleCodeError: when the check character does not fit.
        NotFoundError: when there is no such fluid or site.
        OperatorError: when the label is used, the day lies ahead, or it is not said what was
            sampled.
    """
    code = normal_bottle_code(told.bottle_code)
    if told.taken_on > today:
        raise OperatorError(
            f"{told.taken_on.isoformat()} lies after today ({today.isoformat()}). Correct the day "
            "the sample was drawn."
        )
    if not (told.container.strip() or told.batch_id or told.tank_id):
        raise OperatorError(
            "It is not said which drum, tank or delivery this is of. Choose it, or write it down."
        )
    with place.store.transaction(who=place.who, moment=moment) as desk:
        if told.fluid_code not in {one.code for one in desk.catalogue.fluids()}:
            raise NotFoundError(
                f'There is no fluid "{told.fluid_code}". Add it to the register first.'
            )
        if told.site_id not in {one.site for one in desk.fleet.sites()}:
            raise NotFoundError(f"There is no site {told.site_id}. Choose one of the register.")
        if free_bottle(desk, code, told.site_id) is None:
            desk.sampling.add_bottles([BottleRecord(site=told.site_id, code=code, issued_on=today)])
        made = desk.new_id()
        is_check = told.kind is FluidSampleKind.CHECK
        desk.outside.add_fluid_sample(
            FluidSampleRecord(
                site=told.site_id,
                id=made,
                bottle_code=code,
                kind=told.kind.value,
                fluid=told.fluid_code,
                batch=told.batch_id,
                tank=told.tank_id,
                container=told.container.strip(),
                reason=(SampleReason.SPECIAL if is_check else SampleReason.REFERENCE).value,
                state=SampleState.TAKEN.value,
                taken_on=told.taken_on,
                taken_by=told.taken_by.strip(),
                note=told.note.strip(),
            )
        )
    return made


def fluid_samples(place: Workplace) -> tuple[FluidSampleFacts, ...]:
    """Every sample of no compartment, newest first."""
    with place.store.reading() as desk:
        sites = {one.site: one.name for one in desk.fleet.sites()}
        fluids = {one.code: one.name for one in desk.catalogue.fluids()}
        records = desk.outside.fluid_samples()
    return tuple(
        FluidSampleFacts(
            id=one.id,
            site=sites[one.site],
            kind=FluidSampleKind(one.kind),
            fluid_code=one.fluid,
            fluid=fluids[one.fluid],
            container=one.container,
            bottle_code=one.bottle_code,
            state=SampleState(one.state),
            taken_on=one.taken_on,
            batch_id=one.batch,
            tank_id=one.tank,
            report_number=one.report_number,
            note=one.note,
        )
        for one in records
    )


def take_as_reference(
    place: Workplace, bottle: str, *, valid_from: date, moment: datetime
) -> tuple[int, Changes]:
    """Make what was measured on new fluid the reference of the fluid from a day on.

    Only values the laboratory could give as numbers are taken: a value below detection is no
    reference. The reference before stays in force for older samples; those since are judged anew.

    Returns the reference's number and what screens have to read again.

    Raises:
        NotFoundError: when no fluid sample has this bottle.
        OperatorError: when it is a check or a used fluid, or it has no results.
    """
    code = normal_bottle_code(bottle)
    with place.store.transaction(who=place.who, moment=moment) as desk:
        known = desk.outside.fluid_samples([code])
        if not known:
            raise NotFoundError(f"No fluid sample has the bottle {code}. Register it first.")
        [sample] = known
        if sample.kind != FluidSampleKind.NEW_FLUID:
            raise OperatorError(
                f"Bottle {code} is a {sample.kind} sample; only new fluid gives a reference."
            )
        values = {
            one.analyte: one.value
            for one in desk.outside.readings_of(sample.site, sample.id).values()
            if one.sign is Sign.PLAIN and one.value is not None
        }
        if not values:
            raise OperatorError(f"Bottle {code} has no results yet. Wait for the laboratory.")
        number = desk.catalogue.add_reference(
            sample.fluid,
            valid_from=valid_from,
            values=values,
            source=f"report {sample.report_number}, bottle {code}",
        )
        if sample.batch is not None:
            desk.outside.name_batch_reference(sample.site, sample.batch, number)
        told = {"fluid": sample.fluid, "valid_from": valid_from.isoformat(), "bottle": code}
        desk.audit.append(sample.site, "new-fluid reference", None, told)
        changes = rejudge_fluid(desk, place.catalogue, sample.fluid)
    return number, changes
