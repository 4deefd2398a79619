"""Registers a bottle that was drawn without a plan, and a second bottle of the same draw."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

import numpy as np

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.fleet import Compartment, Meter, MeterFault, MeterReadingError, meter_faults
from fluiddesk.domain.identity import CompartmentId, SampleId, SiteId, normal_bottle_code
from fluiddesk.domain.samples import (
    DrawMethod,
    Sample,
    SampleOrigin,
    SampleReason,
    SampleState,
)
from fluiddesk.domain.trust.drawing import trust_of_drawing
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.outside_plan.labels import free_bottle
from fluiddesk.services.register.derive import refresh_usage
from fluiddesk.services.sample_hours import MachineHours, fill_at
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import BottleRecord, Desk

_REASONS = (
    SampleReason.ROUTINE, SampleReason.RESAMPLE, SampleReason.POST_CHANGE, SampleReason.SPECIAL,
    SampleReason.STORAGE,
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class WalkUp:
    """A bottle with its label and what is known of how it was filled.

    ``meter_value`` is in the unit of the machine's meter; ``None`` where nobody read it.
    """

    bottle_code: str
    compartment_id: CompartmentId
    taken_on: date
    meter_value: float | None = None
    reason: SampleReason = SampleReason.SPECIAL
    draw_method: DrawMethod = DrawMethod.UNKNOWN
    taken_by: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisteredSample:
    """The sample that was made, and what screens have to read again."""

    sample_id: SampleId
    bottle_code: str
    origin: SampleOrigin
    changes: Changes


def register_sample(
    place: Workplace, told: WalkUp, *, moment: datetime, today: date
) -> RegisteredSample:
    """Register a sample that the plan did not ask for; it never counts in compliance.

    A label issued as a spare is used up; a label nobody issued is taken over with its sample. The
    laboratory's row for it can then be taken in, also from a file that was read before.

    Raises:
        BottleCodeError: when the check character does not fit.
        OperatorError: when the label is used, the day lies ahead, or the meter cannot show that.
        NotFoundError: when there is no such box.
    """
    code = normal_bottle_code(told.bottle_code)
    if told.taken_on > today:
        raise OperatorError(
            f"{told.taken_on.isoformat()} lies after today ({today.isoformat()}). Correct the day "
            "the sample was drawn."
        )
    if told.reason not in _REASONS:
        raise OperatorError(
            f'"{told.reason.value}" is no reason for a sample of a box. Register a duplicate from '
            "its first bottle, new fluid from its drum or tank."
        )
    with place.store.transaction(who=place.who, moment=moment) as desk:
        box = desk.fleet.compartment(told.compartment_id)
        sample = _drawn(desk, box, replace(told, bottle_code=code))
        origin = _use_label(desk, box.site, code, today)
        sample = replace(sample, origin=origin)
        _add(desk, sample, taken_by=told.taken_by, note=told.note)
        _keep_meter(desk, place, box, sample)
    return _registered(sample)


def register_duplicate(
    place: Workplace, original: SampleId, bottle_code: str, *, moment: datetime, today: date
) -> RegisteredSample:
    """Register a second bottle of the same draw, for the spread of the laboratory's values.

    Raises:
        BottleCodeError: when the check character does not fit.
        OperatorError: when the label is used, or the first bottle was not drawn yet.
        NotFoundError: when there is no such sample.
    """
    code = normal_bottle_code(bottle_code)
    with place.store.transaction(who=place.who, moment=moment) as desk:
        first = desk.sampling.sample(original)
        if first.taken_on is None or first.state is SampleState.VOID:
            raise OperatorError(
                "The first bottle was not drawn, or was declared void, so it has no duplicate. "
                "Choose the bottle that was filled beside this one."
            )
        sample = replace(
            first,
            id=SampleId(desk.new_id()),
            bottle_code=code,
            reason=SampleReason.DUPLICATE,
            state=SampleState.TAKEN,
            duplicate_of=first.duplicate_of or first.id,
        )
        origin = _use_label(desk, first.site, code, today)
        sample = replace(sample, origin=origin)
        _add(desk, sample, taken_by="", note="")
    return _registered(sample)


def _drawn(desk: Desk, box: Compartment, told: WalkUp) -> Sample:
    trust, why = trust_of_drawing(told.draw_method)
    age = _age(desk, box, told)
    fill, fluid_hours = fill_at(
        desk.fleet.events(box.id), day=told.taken_on, hours=age, printed=None
    )
    return Sample(
        site=box.site,
        id=SampleId(desk.new_id()),
        compartment=box.id,
        bottle_code=told.bottle_code,
        reason=told.reason,
        state=SampleState.TAKEN,
        taken_on=told.taken_on,
        meter_value=told.meter_value,
        true_hours=age,
        fluid_hours=fluid_hours,
        fill_number=fill,
        draw_method=told.draw_method,
        trust=trust,
        trust_reason=why,
    )


def _age(desk: Desk, box: Compartment, told: WalkUp) -> float | None:
    """The machine's true hours at a meter value that can be true."""
    if told.meter_value is None:
        return None
    machine = next(one for one in desk.fleet.machines() if one.id == box.machine)
    meters = desk.fleet.meters(box.machine)
    known = [(one.read_on, one.value) for one in desk.fleet.meter_readings(box.machine)]
    place = f"Machine {machine.code}"
    tolerated = {one.text for one in _faults(meters, known, place)} if known else set()
    new = [
        one.text
        for one in _faults(meters, [*known, (told.taken_on, told.meter_value)], place)
        if one.text not in tolerated
    ]
    if new:
        raise MeterReadingError("\n".join(new))
    seen = (told.taken_on, told.meter_value)
    return MachineHours(desk).believed(box.machine, [seen]).get(seen)


def _faults(
    meters: Sequence[Meter], seen: Sequence[tuple[date, float]], place: str
) -> list[MeterFault]:
    return meter_faults(
        meters,
        read_on=np.array([day.toordinal() for day, _ in seen], dtype=np.int64),
        values=np.array([value for _, value in seen], dtype=np.float64),
        place=place,
    )


def _use_label(desk: Desk, site: SiteId, code: str, today: date) -> SampleOrigin:
    if free_bottle(desk, code, site) is not None:
        return SampleOrigin.SPARE_LABEL
    desk.sampling.add_bottles([BottleRecord(site=site, code=code, issued_on=today)])
    return SampleOrigin.WALK_UP


def _add(desk: Desk, sample: Sample, *, taken_by: str, note: str) -> None:
    desk.sampling.add_samples([sample], taken_by=taken_by.strip(), note=note.strip())
    desk.outside.link_bottle(sample.site, sample.bottle_code, sample.id)
    told = {
        "reason": sample.reason.value,
        "origin": sample.origin.value,
        "taken_on": sample.taken_on.isoformat() if sample.taken_on else None,
    }
    desk.audit.append(sample.site, f"sample {sample.bottle_code}", None, told)


def _keep_meter(desk: Desk, place: Workplace, box: Compartment, sample: Sample) -> None:
    meter, age, day = sample.meter_value, sample.true_hours, sample.taken_on
    if meter is None or age is None or day is None:
        return
    hours = MachineHours(desk)
    if not hours.is_known(box.machine, (day, meter)):
        desk.fleet.add_meter_readings([hours.reading(box, (day, meter), age)])
    refresh_usage(desk, place.catalogue, [box.machine])


def _registered(sample: Sample) -> RegisteredSample:
    return RegisteredSample(
        sample_id=sample.id,
        bottle_code=sample.bottle_code,
        origin=sample.origin,
        changes=Changes(
            subjects=frozenset({Subject.FLEET, Subject.RESULTS}),
            compartments=frozenset({sample.compartment}),
        ),
    )
