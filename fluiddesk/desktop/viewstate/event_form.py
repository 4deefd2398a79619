"""The form for an event of a box: which fields its kind has, and the entry they make."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Final

from fluiddesk.desktop.viewstate.record_form import (
    FieldKind,
    FormDraft,
    FormField,
    RecordForm,
    Value,
)
from fluiddesk.domain.fleet import EventKind
from fluiddesk.services.compartment_history.event_checks import EventEntry
from fluiddesk.services.compartment_history.facts import CompartmentHistory

KINDS: Final = (
    (EventKind.TOP_UP.value, "Top-up"),
    (EventKind.FLUID_CHANGE.value, "Fluid change"),
    (EventKind.FILTER_CHANGE.value, "Filter change"),
    (EventKind.COMPONENT_FIT.value, "Component fitted"),
    (EventKind.REPAIR.value, "Repair"),
    (EventKind.STAND_DOWN.value, "Stand-down"),
)
_CONDITIONS: Final = (("new", "New"), ("overhauled", "Overhauled"), ("used", "Used"))
_KEPT: Final = ("happened_on", "meter_value", "note")
"""Fields of every kind: what is written there stays when another kind is chosen."""


def event_form(
    kind: EventKind,
    history: CompartmentHistory,
    *,
    fluids: Sequence[tuple[str, str]],
    today: date,
    written: Mapping[str, str] | None = None,
) -> RecordForm:
    """The form for one kind of event.

    Args:
        kind: what happened.
        history: the box it happened to.
        fluids: code and name of the fluids on offer.
        today: the day offered first.
        written: what was written before another kind was chosen.
    """
    kept = {key: text for key, text in (written or {}).items() if key in _KEPT}
    fields = [
        FormField(
            key="kind",
            label="What happened",
            kind=FieldKind.CHOICE,
            choices=KINDS,
            value=kind.value,
            is_needed=True,
        ),
        FormField(
            key="happened_on",
            label="On",
            kind=FieldKind.DAY,
            value=kept.get("happened_on", today.isoformat()),
            is_needed=True,
        ),
        FormField(
            key="meter_value",
            label="Meter showed",
            kind=FieldKind.NUMBER,
            value=kept.get("meter_value", ""),
            least=0,
            note="if it was read; else by the readings around the day",
        ),
        *_own_fields(kind, history, fluids),
        FormField(
            key="note",
            label="What was repaired" if kind is EventKind.REPAIR else "Note",
            value=kept.get("note", ""),
            is_needed=kind is EventKind.REPAIR,
        ),
    ]
    return RecordForm(
        key="event",
        title=f"Log an event, {history.machine} {history.box}",
        save_label="Log the event",
        fields=tuple(fields),
        is_new=True,
    )


def _own_fields(
    kind: EventKind, history: CompartmentHistory, fluids: Sequence[tuple[str, str]]
) -> tuple[FormField, ...]:
    match kind:
        case EventKind.TOP_UP | EventKind.FLUID_CHANGE:
            is_top_up = kind is EventKind.TOP_UP
            note = f"of {history.capacity_l:g} L" if is_top_up else "as filled in"
            return (
                FormField(
                    key="litres",
                    label="Litres",
                    unit="L",
                    kind=FieldKind.NUMBER,
                    above=0,
                    note=note,
                    is_needed=is_top_up,
                ),
                _fluid(history, fluids),
            )
        case EventKind.COMPONENT_FIT:
            return (
                FormField(key="serial", label="Serial number", is_needed=True),
                FormField(
                    key="condition",
                    label="It was",
                    kind=FieldKind.CHOICE,
                    choices=_CONDITIONS,
                    value="new",
                    is_needed=True,
                ),
                FormField(
                    key="hours_before",
                    label="Hours on it",
                    unit="h",
                    kind=FieldKind.NUMBER,
                    value="0",
                    least=0,
                    note="run elsewhere before",
                    is_needed=True,
                ),
            )
        case _:
            return ()


def _fluid(history: CompartmentHistory, fluids: Sequence[tuple[str, str]]) -> FormField:
    own = next((code for code, name in fluids if name == history.fluid), "")
    return FormField(
        key="fluid",
        label="Fluid",
        kind=FieldKind.CHOICE,
        choices=(("", "As registered"), *(one for one in fluids if one[0] != own)),
        note=f"registered: {history.fluid}",
        value="",
    )


def kind_of(draft: FormDraft) -> EventKind:
    """The kind that is chosen."""
    return EventKind(draft.texts["kind"])


def entry_of(draft: FormDraft, *, is_confirmed: bool) -> EventEntry | None:
    """The entry that a form makes; ``None`` while a field cannot be read."""
    if draft.problems:
        return None
    values = draft.values()
    day = values["happened_on"]
    if not isinstance(day, date):
        return None
    return EventEntry(
        kind=kind_of(draft),
        happened_on=day,
        meter_value=_number(values["meter_value"]),
        litres=_number(values.get("litres")),
        fluid=_text(values.get("fluid")) or None,
        serial=_text(values.get("serial")),
        condition=_text(values.get("condition")) or "new",
        hours_before=_number(values.get("hours_before")) or 0.0,
        note=_text(values["note"]),
        is_confirmed=is_confirmed,
    )


def _number(value: Value) -> float | None:
    return float(value) if isinstance(value, (int, float)) else None


def _text(value: Value) -> str:
    return value if isinstance(value, str) else ""
