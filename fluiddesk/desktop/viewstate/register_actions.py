"""What can be done with a record besides editing it, each as a form of its own."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date

from fluiddesk.desktop.viewstate.record_form import FieldKind, FormField, RecordForm
from fluiddesk.desktop.viewstate.register_offers import Choices, Offers
from fluiddesk.desktop.viewstate.register_words import Record, part_name
from fluiddesk.domain.fleet import EventKind
from fluiddesk.services.register.facts import (
    NEW,
    BatchFacts,
    CompartmentFacts,
    FluidFacts,
    LaboratoryFacts,
    MachineFacts,
    PointFacts,
    SiteFacts,
    TankFacts,
    TestListFacts,
    UserFacts,
)

_NUMBER, _DAY, _CHOICE = FieldKind.NUMBER, FieldKind.DAY, FieldKind.CHOICE
_SOURCES: Choices = (
    ("desk", "Written at the desk"),
    ("sampler", "By the sampler"),
    ("telemetry", "Telemetry"),
    ("fuel_slip", "Fuel slip"),
    ("estimate", "Estimate"),
)
_CONDITIONS: Choices = (("new", "New"), ("overhauled", "Overhauled"), ("used", "Used"))
EVENTS: Choices = (
    (EventKind.FLUID_CHANGE.value, "Fluid change"),
    (EventKind.TOP_UP.value, "Top-up"),
    (EventKind.FILTER_CHANGE.value, "Filter change"),
    (EventKind.REPAIR.value, "Repair"),
)
UNDO = "undo"
WALK_UP, FLUID_SAMPLE = "walk_up", "fluid"
"""Actions that belong to samples outside the plan, which have forms of their own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Action:
    """One thing to do. ``form`` is ``None`` where a new record's own form is shown."""

    key: str
    words: str


def actions_for(record: Record, offers: Offers) -> tuple[Action, ...]:
    """What is offered for a saved record; a new one offers nothing."""
    if record.version == NEW:
        return ()
    match record:
        case MachineFacts():
            found = [Action(key="new_compartment", words="Add compartment")]
            found += [Action(key="reading", words="Meter reading")]
            found += [Action(key="meter", words="New meter")]
            if len(offers.sites) > 1 and not record.went_to:
                found += [Action(key="transfer", words="Transfer")]
        case CompartmentFacts():
            found = [
                Action(key="new_point", words="Add sampling point"),
                Action(key="event", words="Log an event"),
                Action(key="fit", words="Fit component"),
            ]
            if record.component_serial:
                found += [Action(key="remove", words="Remove component")]
            found += [Action(key=WALK_UP, words="Register a sample")]
        case FluidFacts():
            found = [
                Action(key="reference", words="New-fluid reference"),
                Action(key="batch", words="Delivery or drum"),
                Action(key=FLUID_SAMPLE, words="Register a sample"),
            ]
        case TankFacts() | BatchFacts():
            found = [Action(key=FLUID_SAMPLE, words="Register a sample")]
        case _:
            found = []
    return (*found, Action(key=UNDO, words="Undo change"))


def new_record(key: str, parent: Record | None, offers: Offers) -> Record | None:
    """An empty record for the actions that add one; ``None`` for other actions."""
    made: Record | None = None
    match key, parent:
        case "new_compartment", MachineFacts():
            made = CompartmentFacts(site=parent.site, machine=parent.id)
        case "new_point", CompartmentFacts():
            made = PointFacts(site=parent.site, compartment=parent.id)
        case "new_machine", _ if offers.facts.sites:
            made = MachineFacts(site=offers.facts.sites[0].site)
        case "new_tank", _ if offers.facts.sites:
            made = TankFacts(site=offers.facts.sites[0].site)
        case _:
            maker = _MAKERS.get(key)
            made = maker() if maker else None
    return made


_MAKERS: Mapping[str, Callable[[], Record]] = {
    "new_site": SiteFacts,
    "new_fluid": FluidFacts,
    "new_laboratory": LaboratoryFacts,
    "new_test_list": TestListFacts,
    "new_user": UserFacts,
}


def action_form(key: str, record: Record, offers: Offers, *, today: date) -> RecordForm:
    """The form of an action on a record.

    Raises:
        KeyError: when the action has no form.
    """
    title, save_label, fields = _FORMS[key](record, offers, today)
    name = record.code if isinstance(record, MachineFacts) else part_name(record, offers.facts)
    return RecordForm(
        key=key,
        title=f"{title}, {name}",
        save_label=save_label,
        fields=fields,
        is_new=True,
    )


_Made = tuple[str, str, tuple[FormField, ...]]


def _day(key: str, label: str, today: date) -> FormField:
    return FormField(key=key, label=label, kind=_DAY, value=today.isoformat(), is_needed=True)


def _reading(record: Record, offers: Offers, today: date) -> _Made:
    unit = _meter_unit(record, offers)
    return (
        "Meter reading",
        "Record the reading",
        (
            _day("read_on", "Read on", today),
            FormField(
                key="value", label="Meter shows", unit=unit, kind=_NUMBER, least=0, is_needed=True
            ),
            FormField(
                key="source",
                label="How it is known",
                kind=_CHOICE,
                choices=_SOURCES,
                value="desk",
                is_needed=True,
            ),
        ),
    )


def _meter(record: Record, offers: Offers, today: date) -> _Made:
    unit = _meter_unit(record, offers)
    return (
        "New meter",
        "Replace the meter",
        (
            _day("fitted_on", "Fitted on", today),
            FormField(
                key="ends_last_at",
                label="Old one showed",
                unit=unit,
                kind=_NUMBER,
                least=0,
                note="at removal; empty where nobody knows",
            ),
            FormField(
                key="unit",
                label="New one counts",
                kind=_CHOICE,
                choices=(("h", "Hours"), ("km", "Kilometres")),
                value=unit,
                is_needed=True,
            ),
            FormField(
                key="start_value",
                label="New one shows",
                kind=_NUMBER,
                value="0",
                least=0,
                is_needed=True,
            ),
            FormField(
                key="rolls_over_at",
                label="Starts again at",
                kind=_NUMBER,
                above=0,
                note="the value at which it returns to 0, if it does",
            ),
        ),
    )


def _transfer(record: Record, offers: Offers, today: date) -> _Made:
    here = str(int(record.site)) if isinstance(record, MachineFacts) else ""
    sites = tuple(one for one in offers.sites if one[0] != here)
    return (
        "Transfer",
        "Transfer the machine",
        (
            FormField(key="to", label="New site", kind=_CHOICE, choices=sites, is_needed=True),
            _day("on", "From", today),
        ),
    )


def _fit(_record: Record, _offers: Offers, today: date) -> _Made:
    return (
        "Component fitted",
        "Record the component",
        (
            FormField(key="serial", label="Serial number", is_needed=True),
            _day("fitted_on", "Fitted on", today),
            FormField(
                key="condition",
                label="It was",
                kind=_CHOICE,
                choices=_CONDITIONS,
                value="new",
                is_needed=True,
            ),
            FormField(
                key="hours_before",
                label="Hours on it",
                unit="h",
                kind=_NUMBER,
                value="0",
                least=0,
                is_needed=True,
                note="run elsewhere before",
            ),
            FormField(key="reason", label="Reason"),
        ),
    )


def _remove(record: Record, _offers: Offers, today: date) -> _Made:
    serial = record.component_serial if isinstance(record, CompartmentFacts) else ""
    return (
        "Component removed",
        f"Take out {serial}" if serial else "Record the removal",
        (
            _day("on", "Taken out on", today),
            FormField(key="reason", label="Reason", is_needed=True, note="such as worn, overhaul"),
        ),
    )


def _event(record: Record, offers: Offers, today: date) -> _Made:
    fluid = record.fluid if isinstance(record, CompartmentFacts) else ""
    return (
        "Event",
        "Log the event",
        (
            FormField(
                key="kind", label="What happened", kind=_CHOICE, choices=EVENTS, is_needed=True
            ),
            _day("happened_on", "On", today),
            FormField(key="litres", label="Litres", unit="L", kind=_NUMBER, above=0),
            FormField(key="fluid", label="Fluid", kind=_CHOICE, choices=offers.fluids, value=fluid),
            FormField(key="note", label="Note"),
        ),
    )


def _reference(_record: Record, _offers: Offers, today: date) -> _Made:
    return (
        "New-fluid reference",
        "Add the reference",
        (
            _day("valid_from", "Holds from", today),
            FormField(key="source", label="Source", is_needed=True, note="such as a data sheet"),
            FormField(
                key="values",
                label="Values",
                kind=FieldKind.LONG,
                is_needed=True,
                note='by analyte, such as "KV100 14.5, Zn 1100"',
            ),
        ),
    )


def _batch(_record: Record, offers: Offers, today: date) -> _Made:
    first = offers.sites[0][0] if len(offers.sites) == 1 else ""
    return (
        "Delivery",
        "Add the delivery",
        (
            FormField(
                key="site",
                label="Site",
                kind=_CHOICE,
                choices=offers.sites,
                value=first,
                is_needed=True,
            ),
            FormField(key="batch", label="Batch or drum", is_needed=True),
            _day("delivered_on", "Delivered on", today),
        ),
    )


def _remark(_record: Record, _offers: Offers, _today: date) -> _Made:
    words = FormField(key="words", label="Remark", kind=FieldKind.LONG, is_needed=True)
    return "Remark", "Write the remark", (words,)


def _meter_unit(record: Record, offers: Offers) -> str:
    if not isinstance(record, MachineFacts):
        return "h"
    fitted = [
        one.unit
        for one in offers.facts.meters
        if one.machine == record.id and one.removed_on is None
    ]
    return fitted[-1] if fitted else "h"


_FORMS: Mapping[str, Callable[[Record, Offers, date], _Made]] = {
    "reading": _reading,
    "meter": _meter,
    "transfer": _transfer,
    "fit": _fit,
    "remove": _remove,
    "event": _event,
    "reference": _reference,
    "batch": _batch,
    "remark": _remark,
}
