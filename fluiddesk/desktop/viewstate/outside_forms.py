"""The forms of samples outside the plan, and the use cases that they ask for."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from fluiddesk.desktop.viewstate.outside_plan import KINDS, REASONS
from fluiddesk.desktop.viewstate.record_form import FieldKind, FormField, RecordForm, Values
from fluiddesk.desktop.viewstate.register_offers import Choices, Offers
from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.identity import CompartmentId, SiteId
from fluiddesk.domain.samples import DrawMethod, SampleReason
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.outside_plan.fluid_samples import FluidSampleKind
from fluiddesk.services.outside_plan.labels import MOST_AT_ONCE
from fluiddesk.services.outside_plan.overview import FluidValue, OutsideFacts
from fluiddesk.services.workplace import Workplace

_CHOICE, _DAY = FieldKind.CHOICE, FieldKind.DAY
_WALK_UP_REASONS = (
    SampleReason.SPECIAL, SampleReason.ROUTINE, SampleReason.RESAMPLE, SampleReason.POST_CHANGE,
    SampleReason.STORAGE,
)  # fmt: skip
_METHODS: Choices = (
    (DrawMethod.UNKNOWN.value, "Nobody knows"),
    (DrawMethod.VALVE_PROBE.value, "At the sampling valve"),
    (DrawMethod.VACUUM_TUBE.value, "By tube and pump"),
    (DrawMethod.DRAIN_STREAM.value, "From the drain stream"),
)
_ON_REGISTER = Changes(subjects=frozenset({Subject.FLEET, Subject.RESULTS}))


@dataclass(frozen=True, slots=True, kw_only=True)
class OutsideDone:
    """What was done, in a sentence; the ``bottle`` to show; what screens have to read again."""

    told: str
    bottle: str
    changes: Changes


def outside_form(
    key: str, offers: Offers, *, today: date, prefill: Mapping[str, str] | None = None
) -> RecordForm:
    """A form by its key, with what is known already filled in.

    Raises:
        KeyError: when there is no such form.
    """
    title, save_label, fields = _FORMS[key](offers, today)
    known = prefill or {}
    return RecordForm(
        key=key,
        title=title,
        save_label=save_label,
        fields=tuple(replace(one, value=known.get(one.key, one.value)) for one in fields),
        is_new=True,
    )


_Made = tuple[str, str, tuple[FormField, ...]]


def _bottle(key: str = "bottle_code", label: str = "Bottle") -> FormField:
    return FormField(key=key, label=label, is_needed=True, note="from its label")


def _day(key: str, label: str, today: date) -> FormField:
    return FormField(key=key, label=label, kind=_DAY, value=today.isoformat(), is_needed=True)


def _who() -> tuple[FormField, ...]:
    return (FormField(key="taken_by", label="Drawn by"), FormField(key="note", label="Note"))


def _site(offers: Offers, *, is_needed: bool) -> FormField:
    only = offers.sites[0][0] if len(offers.sites) == 1 else ""
    return FormField(
        key="site", label="Site", kind=_CHOICE, choices=offers.sites, value=only,
        is_needed=is_needed,
    )  # fmt: skip


def _walk_up(offers: Offers, today: date) -> _Made:
    reasons = tuple((one.value, REASONS[one]) for one in _WALK_UP_REASONS)
    return (
        "Walk-up sample",
        "Register the sample",
        (
            _bottle(),
            FormField(
                key="compartment", label="Drawn from", kind=FieldKind.PICK, choices=offers.boxes,
                is_needed=True,
            ),
            _day("taken_on", "Drawn on", today),
            FormField(
                key="meter_value", label="Meter showed", kind=FieldKind.NUMBER, least=0,
                note="if it was read",
            ),
            FormField(
                key="reason", label="Reason", kind=_CHOICE, choices=reasons,
                value=SampleReason.SPECIAL.value, is_needed=True,
            ),
            FormField(
                key="draw_method", label="How it was drawn", kind=_CHOICE, choices=_METHODS,
                value=DrawMethod.UNKNOWN.value, is_needed=True,
            ),
            *_who(),
        ),
    )  # fmt: skip


def _duplicate(_offers: Offers, _today: date) -> _Made:
    return (
        "Duplicate",
        "Register the duplicate",
        (
            _bottle("first", "First bottle"),
            replace(_bottle(label="Second bottle"), note="of the same draw"),
        ),
    )


def _fluid(offers: Offers, today: date) -> _Made:
    kinds = tuple(
        (one.value, words) for one, words in KINDS.items() if one is not FluidSampleKind.CHECK
    )
    kind = FormField(
        key="kind", label="What was sampled", kind=_CHOICE, choices=kinds, is_needed=True
    )
    return "Sample of a fluid", "Register the sample", (kind, *_of_fluid(offers, today))


def _check(offers: Offers, today: date) -> _Made:
    bottle, *others = _of_fluid(offers, today)
    fields = (replace(bottle, note="from its label"), *others)
    return "Check sample", "Register the check", fields


def _of_fluid(offers: Offers, today: date) -> tuple[FormField, ...]:
    return (
        _bottle(),
        FormField(
            key="store", label="Tank or delivery", kind=FieldKind.PICK, choices=offers.stores,
            note="of the register",
        ),
        FormField(key="container", label="or in words", note="such as drum 7"),
        replace(_site(offers, is_needed=False), note="unless chosen above"),
        FormField(
            key="fluid", label="Fluid", kind=_CHOICE, choices=offers.fluids,
            note="unless chosen above",
        ),
        _day("taken_on", "Drawn on", today),
        *_who(),
    )  # fmt: skip


def _reject(offers: Offers, _today: date) -> _Made:
    only = offers.laboratories[0][0] if len(offers.laboratories) == 1 else ""
    return (
        "Rejected by the laboratory",
        "Note the rejection",
        (
            _bottle(),
            FormField(
                key="laboratory", label="Laboratory", kind=_CHOICE, choices=offers.laboratories,
                value=only, is_needed=True,
            ),
            FormField(key="report_number", label="Report", note="if it gave one"),
            FormField(
                key="reason", label="What it wrote", is_needed=True,
                note="such as leaked",
            ),
            FormField(key="received_on", label="Received on", kind=_DAY),
        ),
    )  # fmt: skip


def _void(_offers: Offers, _today: date) -> _Made:
    why = FormField(
        key="reason", label="Why it is void", is_needed=True, note="such as registered twice"
    )
    return "Void", "Declare it void", (_bottle(), why)


def _labels(offers: Offers, _today: date) -> _Made:
    count = FormField(
        key="count", label="How many", kind=FieldKind.WHOLE, value="20", least=1,
        most=MOST_AT_ONCE, is_needed=True,
    )  # fmt: skip
    return "Spare labels", "Make the labels", (_site(offers, is_needed=True), count)


def _reference(_offers: Offers, today: date) -> _Made:
    day = replace(_day("valid_from", "Holds from", today), note="for samples from then on")
    return "New-fluid reference", "Make it the reference", (replace(_bottle(), is_fixed=True), day)


_FORMS: Mapping[str, Callable[[Offers, date], _Made]] = {
    "walk_up": _walk_up,
    "duplicate": _duplicate,
    "fluid": _fluid,
    "check": _check,
    "reject": _reject,
    "void": _void,
    "labels": _labels,
    "reference": _reference,
}


@dataclass(frozen=True, kw_only=True)
class OutsideCalls:
    """The use cases on one workplace. Every one may raise an ``OperatorError``."""

    place: Workplace

    def facts(self) -> OutsideFacts:
        """Everything outside the plan."""
        from fluiddesk.services.outside_plan.overview import outside_facts

        return outside_facts(self.place)

    def values(self, bottle: str) -> tuple[FluidValue, ...]:
        """What was measured of a fluid sample."""
        from fluiddesk.services.outside_plan.overview import fluid_values

        return fluid_values(self.place, bottle)

    def act(
        self, key: str, values: Values, offers: Offers, *, moment: datetime, today: date
    ) -> OutsideDone:
        """Do what a form asks for."""
        return _ACTS[key](self.place, values, offers, moment=moment, today=today)


def _text(values: Values, key: str) -> str:
    return str(values.get(key) or "")


def _day_of(values: Values, key: str, today: date) -> date:
    day = values.get(key)
    return day if isinstance(day, date) else today


def _do_walk_up(
    place: Workplace, values: Values, _offers: Offers, *, moment: datetime, today: date
) -> OutsideDone:
    from fluiddesk.services.outside_plan.walk_up import WalkUp, register_sample

    meter = values["meter_value"]
    told = WalkUp(
        bottle_code=_text(values, "bottle_code"),
        compartment_id=CompartmentId(bytes.fromhex(_text(values, "compartment"))),
        taken_on=_day_of(values, "taken_on", today),
        meter_value=meter if isinstance(meter, float) else None,
        reason=SampleReason(_text(values, "reason")),
        draw_method=DrawMethod(_text(values, "draw_method")),
        taken_by=_text(values, "taken_by"),
        note=_text(values, "note"),
    )
    made = register_sample(place, told, moment=moment, today=today)
    words = f"Bottle {made.bottle_code} is registered; its result can be taken in."
    told_all = " ".join((words, *made.warnings))
    return OutsideDone(told=told_all, bottle=made.bottle_code, changes=made.changes)


def _do_duplicate(
    place: Workplace, values: Values, _offers: Offers, *, moment: datetime, today: date
) -> OutsideDone:
    from fluiddesk.services.outside_plan.overview import sample_of_bottle
    from fluiddesk.services.outside_plan.walk_up import register_duplicate

    first = sample_of_bottle(place, _text(values, "first"))
    made = register_duplicate(
        place, first, _text(values, "bottle_code"), moment=moment, today=today
    )
    words = f"Bottle {made.bottle_code} is registered as a duplicate."
    return OutsideDone(told=words, bottle=made.bottle_code, changes=made.changes)


def _do_fluid(
    place: Workplace, values: Values, offers: Offers, *, moment: datetime, today: date
) -> OutsideDone:
    from fluiddesk.domain.identity import normal_bottle_code
    from fluiddesk.services.outside_plan.fluid_samples import (
        NewFluidSample,
        register_fluid_sample,
    )

    site, fluid, tank, batch = _store(values, offers)
    told = NewFluidSample(
        site_id=site,
        kind=FluidSampleKind(_text(values, "kind") or FluidSampleKind.CHECK),
        fluid_code=fluid,
        bottle_code=_text(values, "bottle_code"),
        taken_on=_day_of(values, "taken_on", today),
        batch_id=batch,
        tank_id=tank,
        container=_text(values, "container") or _store_words(values, offers),
        taken_by=_text(values, "taken_by"),
        note=_text(values, "note"),
    )
    register_fluid_sample(place, told, moment=moment, today=today)
    code = normal_bottle_code(told.bottle_code)
    words = f"Bottle {code} is registered; its result can be taken in."
    return OutsideDone(told=words, bottle=code, changes=_ON_REGISTER)


def _store(values: Values, offers: Offers) -> tuple[SiteId, str, bytes | None, bytes | None]:
    """Site, fluid, tank and delivery that a form means; a tank or delivery says the first two."""
    key = bytes.fromhex(_text(values, "store"))
    for tank in offers.facts.tanks:
        if key and tank.id == key:
            return tank.site, tank.fluid, key, None
    for batch in offers.facts.batches:
        if key and batch.id == key:
            return batch.site, batch.fluid, None, key
    site, fluid = _text(values, "site"), _text(values, "fluid")
    if not site or not fluid:
        raise OperatorError("Choose the site and the fluid, or a tank or delivery of the register.")
    return SiteId(int(site)), fluid, None, None


def _store_words(values: Values, offers: Offers) -> str:
    """The short words of the tank or delivery: a tank's number, or which delivery."""
    words = dict(offers.stores).get(_text(values, "store"), "").partition(",")[0]
    return words.removeprefix("Tank ").replace("Delivery ", "delivery ", 1)


def _do_reject(
    place: Workplace, values: Values, _offers: Offers, *, moment: datetime, today: date
) -> OutsideDone:
    from fluiddesk.domain.identity import normal_bottle_code
    from fluiddesk.services.outside_plan.rejected import Rejection, reject_sample

    received: Any = values["received_on"]
    told = Rejection(
        bottle_code=_text(values, "bottle_code"),
        laboratory=_text(values, "laboratory"),
        report_number=_text(values, "report_number"),
        reason=_text(values, "reason"),
        received_on=received,
    )
    changes = reject_sample(place, told, moment=moment, today=today)
    code = normal_bottle_code(told.bottle_code)
    words = f"Bottle {code} is rejected"
    words += "; its compartment is due again." if changes.compartments else "."
    return OutsideDone(told=words, bottle=code, changes=changes)


def _do_void(
    place: Workplace, values: Values, _offers: Offers, *, moment: datetime, today: date
) -> OutsideDone:
    from fluiddesk.domain.identity import normal_bottle_code
    from fluiddesk.services.outside_plan.voided import void_sample

    del today
    typed = _text(values, "bottle_code")
    changes = void_sample(place, typed, why=_text(values, "reason"), moment=moment)
    code = normal_bottle_code(typed)
    return OutsideDone(told=f"Bottle {code} is void.", bottle=code, changes=changes)


def _do_labels(
    place: Workplace, values: Values, _offers: Offers, *, moment: datetime, today: date
) -> OutsideDone:
    from fluiddesk.services.outside_plan.labels import issue_spare_labels

    site, count = SiteId(int(_text(values, "site"))), int(_text(values, "count"))
    codes = issue_spare_labels(place, site, count, moment=moment, today=today)
    words = f"Made {codes[0]}" + (f" to {codes[-1]}." if len(codes) > 1 else ".")
    return OutsideDone(told=words, bottle=codes[0], changes=_ON_REGISTER)


def _do_reference(
    place: Workplace, values: Values, _offers: Offers, *, moment: datetime, today: date
) -> OutsideDone:
    from fluiddesk.services.outside_plan.fluid_samples import take_as_reference

    bottle, day = _text(values, "bottle_code"), _day_of(values, "valid_from", today)
    number, changes = take_as_reference(place, bottle, valid_from=day, moment=moment)
    words = f"Reference {number} holds from {day.isoformat()}."
    return OutsideDone(told=words, bottle=bottle, changes=changes)


_ACTS: Mapping[str, Callable[..., OutsideDone]] = {
    "walk_up": _do_walk_up,
    "duplicate": _do_duplicate,
    "fluid": _do_fluid,
    "check": _do_fluid,
    "reject": _do_reject,
    "void": _do_void,
    "labels": _do_labels,
    "reference": _do_reference,
}
