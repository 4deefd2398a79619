"""Forms for the records of the register: fields from facts, and facts from what was written."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Any, TypeVar, cast

from fluiddesk.desktop.viewstate.record_form import FieldKind, FormField, RecordForm, Values
from fluiddesk.desktop.viewstate.record_values import text_of, value_for
from fluiddesk.desktop.viewstate.register import STATES
from fluiddesk.desktop.viewstate.register_offers import Choices, Offers
from fluiddesk.desktop.viewstate.register_words import Record, key_of, part_name
from fluiddesk.services.register.boxes import POINT_KINDS
from fluiddesk.services.register.facts import (
    NEW,
    BatchFacts,
    CompartmentFacts,
    FluidFacts,
    LaboratoryFacts,
    MachineFacts,
    MeterFacts,
    PointFacts,
    SiteFacts,
    TankFacts,
    TestListFacts,
    UserFacts,
)

R = TypeVar("R")

_NUMBER, _WHOLE, _DAY = FieldKind.NUMBER, FieldKind.WHOLE, FieldKind.DAY
_CHOICE, _LONG = FieldKind.CHOICE, FieldKind.LONG
_USE: Choices = (("no", "In use"), ("yes", "Retired"))
_LEAST_CRITICAL, _MOST_CRITICAL = 1, 5


def record_form(record: Record, offers: Offers) -> RecordForm:
    """The form of a record; one with version 0 is to be added."""
    is_new = record.version == NEW
    fields = tuple(
        replace(one, value=text_of(getattr(record, one.key)))
        for one in _FIELDS[type(record)](record, offers)
    )
    noun = _NOUNS[type(record)]
    name = _name(record, offers)
    return RecordForm(
        key=f"{key_of(record)}",
        title=f"New {noun}" if is_new else name,
        save_label=f"Add the {noun}" if is_new else f"Save {name}",
        fields=_kept_choices(fields),
        is_new=is_new,
    )


def facts_from(record: R, values: Values) -> R:
    """The record with what was written in its form.

    Raises:
        OperatorError: when a list within a field cannot be read.
    """
    told = {key: value_for(getattr(record, key), value, key) for key, value in values.items()}
    # Every value was brought to the type of the field it replaces.
    return cast("R", replace(cast("Any", record), **told))


def _name(record: Record, offers: Offers) -> str:
    if isinstance(record, MachineFacts):
        return record.code
    return part_name(record, offers.facts)


def _kept_choices(fields: Iterable[FormField]) -> tuple[FormField, ...]:
    """Offer what is saved too, though it may have been retired since."""
    return tuple(
        replace(one, choices=((one.value, one.value), *one.choices))
        if one.kind is _CHOICE and one.value and one.value not in dict(one.choices)
        else one
        for one in fields
    )


# --- fields ---------------------------------------------------------------------------------


def _site(record: Any, _offers: Offers) -> tuple[FormField, ...]:
    return (
        FormField(key="name", label="Name", is_needed=True),
        FormField(key="time_zone", label="Time zone", is_needed=True, note="such as UTC"),
        FormField(
            key="dust_shares",
            label="Local dust",
            note='shares by element, such as "Si 0.7, Al 0.2"; empty where unknown',
        ),
    )


def _machine(record: MachineFacts, offers: Offers) -> tuple[FormField, ...]:
    is_new = record.version == NEW
    site = FormField(key="site", label="Site", kind=_CHOICE, choices=offers.sites, is_needed=True)
    boxes = "its boxes, intervals and sampling points are made with it" if is_new else ""
    fields = (
        FormField(key="code", label="Number", is_needed=True),
        FormField(
            key="kind",
            label="Kind",
            kind=_CHOICE,
            choices=offers.machine_kinds,
            is_needed=True,
            note=boxes,
        ),
        FormField(key="model", label="Model", is_needed=True),
        FormField(key="serial", label="Serial number"),
        FormField(
            key="in_service_on",
            label="In service since",
            kind=_DAY,
            note="its meter counts from 0 on that day" if is_new else "",
        ),
        _criticality(),
        FormField(
            key="cost_per_down_hour",
            label="Cost per down hour",
            kind=_NUMBER,
            least=0,
            note="in the currency of your site",
        ),
        FormField(
            key="state",
            label="State",
            kind=_CHOICE,
            is_needed=True,
            choices=tuple((one.value, word) for one, word in STATES.items()),
            note="only a working machine owes samples",
        ),
        FormField(key="state_since", label="State since", kind=_DAY),
    )
    return (site, *fields) if is_new else fields


def _criticality() -> FormField:
    return FormField(
        key="criticality",
        label="Criticality",
        kind=_WHOLE,
        least=_LEAST_CRITICAL,
        most=_MOST_CRITICAL,
        is_needed=True,
        note="1 (least) to 5 (most)",
    )


def _compartment(record: CompartmentFacts, offers: Offers) -> tuple[FormField, ...]:
    is_new = record.version == NEW
    return (
        FormField(
            key="kind",
            label="Kind",
            kind=_CHOICE,
            choices=offers.box_kinds,
            is_needed=True,
            is_fixed=not is_new,
        ),
        FormField(key="position", label="Position", note="such as left; empty where there is one"),
        FormField(key="fluid", label="Fluid", kind=_CHOICE, choices=offers.fluids, is_needed=True),
        _number("capacity_l", "Capacity", "L", above=0, is_needed=True),
        FormField(
            key="residue_share",
            label="Residue share",
            kind=_NUMBER,
            least=0,
            most=0.99,
            note="of old fluid left by a change, 0 to 1",
        ),
        _number("filter_micron", "Filter", "µm", above=0),
        _number("interval_hours", "Interval", "h", above=0),
        FormField(
            key="interval_days",
            label="or at most every",
            kind=_WHOLE,
            unit="days",
            least=1,
            note="whichever comes first",
        ),
        _number("change_interval_hours", "Fluid change every", "h", above=0),
        FormField(
            key="change_interval_days",
            label="or at most every",
            kind=_WHOLE,
            unit="days",
            least=1,
            note="planned; a sample is due before it",
        ),
        _criticality(),
        FormField(key="test_list", label="Test list", kind=_CHOICE, choices=offers.test_lists),
        FormField(key="retired", label="In use", kind=_CHOICE, choices=_USE, is_needed=True),
    )


def _number(
    key: str, label: str, unit: str, *, above: float | None = None, is_needed: bool = False
) -> FormField:
    return FormField(
        key=key, label=label, unit=unit, kind=_NUMBER, above=above, is_needed=is_needed
    )


def _point(record: PointFacts, offers: Offers) -> tuple[FormField, ...]:
    kinds = tuple((one, one.capitalize()) for one in POINT_KINDS)
    ways = (("running_idle", "Running at idle"), ("shut_down", "Shut down"))
    return (
        FormField(key="kind", label="Kind", kind=_CHOICE, choices=kinds, is_needed=True),
        FormField(key="location", label="Location"),
        FormField(key="marking", label="Marking"),
        FormField(key="run_state", label="Drawn while", kind=_CHOICE, choices=ways, is_needed=True),
        _number("flush_ml", "Flush volume", "mL", above=0, is_needed=True),
        _number("tube_mm", "Tube length", "mm", above=0),
        FormField(
            key="hazards",
            label="Hazards",
            kind=_LONG,
            note="the machine's manual and site rules come first",
        ),
        FormField(key="retired", label="In use", kind=_CHOICE, choices=_USE, is_needed=True),
    )


def _meter(record: MeterFacts, _offers: Offers) -> tuple[FormField, ...]:
    units = (("h", "Hours"), ("km", "Kilometres"))
    told = (
        FormField(key="removed_on", label="Removed on", kind=_DAY, is_fixed=True),
        FormField(key="last_read_on", label="Last read on", kind=_DAY, is_fixed=True),
        replace(_number("last_value", "It showed", record.unit), is_fixed=True),
    )
    fields = (
        FormField(key="unit", label="Counts", kind=_CHOICE, choices=units, is_needed=True),
        FormField(key="fitted_on", label="Fitted on", kind=_DAY, is_needed=True),
        _number("start_value", "Showed then", record.unit, is_needed=True),
        _number("hours_before", "Hours before it", "h", is_needed=True),
        FormField(
            key="rolls_over_at",
            label="Starts again at",
            unit=record.unit,
            kind=_NUMBER,
            above=0,
            note="the value at which it returns to 0, if it does",
        ),
    )
    return fields if record.version == NEW else (*fields, *told)


def _fluid(record: FluidFacts, offers: Offers) -> tuple[FormField, ...]:
    classes = sorted({one.fluid_class for one in offers.catalogue.fluids.values()})
    return (
        FormField(key="code", label="Code", is_needed=True, is_fixed=record.version != NEW),
        FormField(key="name", label="Name", is_needed=True, note="by grade, not by brand"),
        FormField(
            key="fluid_class",
            label="Class",
            kind=_CHOICE,
            is_needed=True,
            choices=tuple((one, one.replace("_", " ").capitalize()) for one in classes),
        ),
        FormField(key="viscosity_grade", label="Viscosity grade"),
        _number("density_kg_per_l", "Density", "kg/L", above=0),
        FormField(key="retired", label="In use", kind=_CHOICE, choices=_USE, is_needed=True),
    )


def _tank(record: TankFacts, offers: Offers) -> tuple[FormField, ...]:
    is_new = record.version == NEW
    site = FormField(key="site", label="Site", kind=_CHOICE, choices=offers.sites, is_needed=True)
    fields = (
        FormField(key="code", label="Number", is_needed=True, note="as painted on it"),
        FormField(key="fluid", label="Fluid", kind=_CHOICE, choices=offers.fluids, is_needed=True),
        _number("capacity_l", "Capacity", "L", above=0),
        FormField(key="location", label="Location"),
        FormField(key="retired", label="In use", kind=_CHOICE, choices=_USE, is_needed=True),
    )
    return (site, *fields) if is_new else fields


def _batch(record: BatchFacts, offers: Offers) -> tuple[FormField, ...]:
    return (
        FormField(key="batch", label="Batch or drum", is_needed=True),
        FormField(key="fluid", label="Fluid", kind=_CHOICE, choices=offers.fluids, is_needed=True),
        FormField(key="delivered_on", label="Delivered on", kind=_DAY, is_needed=True),
        FormField(
            key="reference_number",
            label="Reference",
            kind=_WHOLE,
            least=1,
            note="number of the new-fluid reference that holds for it; empty for the usual one",
        ),
    )


def _laboratory(record: LaboratoryFacts, offers: Offers) -> tuple[FormField, ...]:
    layouts = (("", "None of ours"), *((one, one) for one in offers.layouts))
    return (
        FormField(key="code", label="Code", is_needed=True, is_fixed=record.version != NEW),
        FormField(key="name", label="Name", is_needed=True),
        FormField(key="site_name", label="Place"),
        FormField(key="layout", label="File layout", kind=_CHOICE, choices=layouts),
        FormField(key="lane_days", label="On the way", unit="days", kind=_WHOLE, least=0),
        FormField(
            key="turnaround_days",
            label="Promised",
            unit="days",
            kind=_WHOLE,
            least=0,
            note="from receipt to report",
        ),
        FormField(
            key="methods",
            label="Methods",
            kind=_LONG,
            note='by analyte, such as "Fe ASTM D5185, KV100 ASTM D445"',
        ),
        FormField(key="retired", label="In use", kind=_CHOICE, choices=_USE, is_needed=True),
    )


def _test_list(record: TestListFacts, _offers: Offers) -> tuple[FormField, ...]:
    return (
        FormField(key="code", label="Code", is_needed=True, is_fixed=record.version != NEW),
        FormField(key="name", label="Name", is_needed=True),
        FormField(
            key="analytes", label="Tests", kind=_LONG, is_needed=True, note="codes of analytes"
        ),
        FormField(
            key="compartment_kinds",
            label="Usual for",
            kind=_LONG,
            note="codes of compartment kinds; none for single samples",
        ),
        FormField(key="note", label="Note"),
        FormField(key="retired", label="In use", kind=_CHOICE, choices=_USE, is_needed=True),
    )


def _user(record: UserFacts, _offers: Offers) -> tuple[FormField, ...]:
    roles = tuple((one, one.capitalize()) for one in ("clerk", "planner", "manager", "reader"))
    active = (("yes", "Yes"), ("no", "No, has left"))
    return (
        FormField(key="name", label="Name", is_needed=True, is_fixed=record.version != NEW),
        FormField(key="role", label="Role", kind=_CHOICE, choices=roles, is_needed=True),
        FormField(
            key="is_active", label="Works here", kind=_CHOICE, choices=active, is_needed=True
        ),
    )


_FIELDS: Mapping[type, Callable[[Any, Offers], tuple[FormField, ...]]] = {
    SiteFacts: _site,
    MachineFacts: _machine,
    CompartmentFacts: _compartment,
    PointFacts: _point,
    MeterFacts: _meter,
    FluidFacts: _fluid,
    TankFacts: _tank,
    BatchFacts: _batch,
    LaboratoryFacts: _laboratory,
    TestListFacts: _test_list,
    UserFacts: _user,
}
_NOUNS: Mapping[type, str] = {
    SiteFacts: "site",
    MachineFacts: "machine",
    CompartmentFacts: "compartment",
    PointFacts: "sampling point",
    MeterFacts: "meter",
    FluidFacts: "fluid",
    TankFacts: "tank",
    BatchFacts: "delivery",
    LaboratoryFacts: "laboratory",
    TestListFacts: "test list",
    UserFacts: "desk user",
}
