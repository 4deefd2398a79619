"""Registers a bottle that was drawn without a plan, and a second bottle of the same draw."""

from dataclasses import dataclass, replace
from datetime import date, datetime

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.fleet import Compartment
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
from fluiddesk.services.meter_seen import age_at, doubts_at, keep_reading
from fluiddesk.services.outside_plan.labels import free_bottle
from fluiddesk.services.sample_hours import fill_at
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import BottleRecord, Desk, RecordKind

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
    """The sample that was made, and what screens have to read again.

    ``warnings``: what was saved but should be looked at, in sentences.
    """

    sample_id: SampleId
    bottle_code: str
    origin: SampleOrigin
    changes: Changes
    warnings: tuple[str, ...] = ()


def register_sample(
    place: Workplace, told: WalkUp, *, moment: datetime, today: date
) -> RegisteredSample:
    """Register a sample that the plan did not ask for; it never counts in compliance.

    A label issued as a spare is used up; a label nobody issued is taken over with its sample. The
    laboratory's row for it can then be taken in, also from a file that was read before.

    Raises:
        BottleCodeError: when the check character does not fit.
        OperatorError: when the label is used, the day lies ahead, the meter cannot show that, or
            the box is retired or its machine gone by then.
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
        _refuse_gone(desk, place, box, told.taken_on)
        sample = _drawn(desk, box, replace(told, bottle_code=code))
        origin = _use_label(desk, box.site, code, today)
        sample = replace(sample, origin=origin)
        warnings = doubts_at(desk, box, told.taken_on, told.meter_value)
        _add(desk, sample, taken_by=told.taken_by, note=told.note)
        keep_reading(
            desk,
            place.catalogue,
            box,
            told.taken_on,
            meter=sample.meter_value,
            age=sample.true_hours,
        )
    return replace(_registered(sample), warnings=warnings)


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


def _refuse_gone(desk: Desk, place: Workplace, box: Compartment, day: date) -> None:
    """No sample comes from a box out of use, nor from a machine after it left the site."""
    code = next(one.code for one in desk.fleet.machines() if one.id == box.machine)
    name = f"{code}, {place.catalogue.box_name(box.kind, box.position)}"
    [row] = desk.register.all(RecordKind.COMPARTMENT, id=box.id)
    if row["retired"]:
        raise OperatorError(
            f"{name} is retired. Choose the box the sample is of, or put this one back into use on "
            "the Register page first."
        )
    moves = desk.register.all(RecordKind.TRANSFER, machine_id=box.machine)
    for move in moves:
        if day >= move["moved_on"]:
            sites = {one.site: one.name for one in desk.fleet.sites()}
            raise OperatorError(
                f"{name} went to {sites[move['to_site_id']]} on {move['moved_on'].isoformat()}, "
                f"but the sample was drawn on {day.isoformat()}. Choose the machine at that site, "
                "or correct the day."
            )


def _drawn(desk: Desk, box: Compartment, told: WalkUp) -> Sample:
    trust, why = trust_of_drawing(told.draw_method)
    age = age_at(desk, box, told.taken_on, told.meter_value)
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
