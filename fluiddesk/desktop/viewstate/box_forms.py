"""Forms for single bottles of a visit, and for the reason behind a due event."""

from collections.abc import Sequence
from datetime import date
from typing import Final

from fluiddesk.desktop.viewstate.record_form import FieldKind, FormField, RecordForm
from fluiddesk.desktop.viewstate.round_plan import Planned, RoundPlan
from fluiddesk.desktop.viewstate.sampling_words import counted
from fluiddesk.domain.samples import SampleReason
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.fleet_condition import FleetCondition
from fluiddesk.services.interval_compliance.facts import EventLine
from fluiddesk.services.visits.boxes import BY_HAND
from fluiddesk.services.visits.facts import VisitBox

_WHY: Final = {
    "machine_down": "machine down",
    "no_access": "no access",
    "no_bottle": "no bottle",
    "forgotten": "forgotten",
    "weather": "weather",
    "sold": "sold",
    "standby": "standby",
    "other": "other, see the note",
}


def other_visits(plan: RoundPlan, one: Planned) -> tuple[Planned, ...]:
    """The other open visits to the same machine, which a bottle can be moved to."""
    return tuple(
        other
        for other in plan.every.values()
        if other.is_kept and other.key != one.key and other.visit.machine_id == one.visit.machine_id
    )


def move_box_form(box: VisitBox, others: Sequence[Planned]) -> RecordForm:
    """Asks which visit a bottle is moved to."""
    return RecordForm(
        key="move_box",
        title=f"Move {box.compartment}",
        about="The bottle goes to another visit of the same machine; its label goes along.",
        save_label="Move the bottle",
        is_new=True,
        fields=(
            FormField(
                key="visit",
                label="To the visit of",
                kind=FieldKind.CHOICE,
                is_needed=True,
                value=others[0].key.hex() if len(others) == 1 else "",
                choices=tuple(
                    (
                        one.key.hex(),
                        f"{one.visit.planned_on.isoformat()}, {counted(one.bottles, 'bottle')}",
                    )
                    for one in others
                ),
            ),
        ),
    )


def take_off_form(box: VisitBox) -> RecordForm:
    """Asks why a bottle is taken off its visit."""
    return RecordForm(
        key="take_off",
        title=f"Take {box.compartment} off the visit",
        about="The box is due as before. A label already issued is void.",
        save_label="Take off",
        is_new=True,
        fields=(FormField(key="why", label="Reason", kind=FieldKind.LONG, is_needed=True),),
    )


def add_box_form(one: Planned, fleet: FleetCondition, catalogue: Catalogue) -> RecordForm:
    """Asks which box of the machine is put on a visit too, and why."""
    boxes = [
        (row.compartment_id.hex(), catalogue.box_name(row.kind, row.position))
        for row in fleet.rows
        if row.machine_id == one.visit.machine_id
    ]
    return RecordForm(
        key="add_box",
        title=f"Add a bottle to {one.visit.machine}, {one.visit.planned_on.isoformat()}",
        about="A resample or special sample is marked with a bar on its label.",
        save_label="Add the bottle",
        is_new=True,
        fields=(
            FormField(
                key="box",
                label="Box",
                kind=FieldKind.CHOICE,
                is_needed=True,
                choices=tuple(boxes),
            ),
            FormField(
                key="reason",
                label="Reason",
                kind=FieldKind.CHOICE,
                is_needed=True,
                value=SampleReason.RESAMPLE.value,
                choices=tuple((reason.value, reason.value.replace("_", " ")) for reason in BY_HAND),
            ),
        ),
    )


def lay_form(boxes: int, *, today: date) -> RecordForm:
    """Asks for the day on which chosen boxes are sampled."""
    return RecordForm(
        key="lay",
        title=f"Plan a visit for {counted(boxes, 'box', 'boxes')}",
        about="One visit a machine, kept at once. It can be moved on the time bar.",
        save_label="Keep the visit",
        is_new=True,
        fields=(
            FormField(
                key="on",
                label="On",
                kind=FieldKind.DAY,
                is_needed=True,
                value=today.isoformat(),
            ),
        ),
    )


def due_note_form(line: EventLine) -> RecordForm:
    """Asks why a due sample was missed, or why none was owed."""
    return RecordForm(
        key="due_note",
        title=f"{line.machine}, {line.compartment}, due on {line.due_on.isoformat()}",
        about="The reason stands beside the due event, with your name in the trail.",
        save_label="Save the reason",
        is_new=True,
        fields=(
            FormField(
                key="kind",
                label="The sample",
                kind=FieldKind.CHOICE,
                is_needed=True,
                value="missed",
                choices=(("missed", "was owed all the same"), ("excused", "was not owed")),
            ),
            FormField(
                key="reason",
                label="Reason",
                kind=FieldKind.CHOICE,
                is_needed=True,
                choices=tuple(_WHY.items()),
            ),
            FormField(key="note", label="Note", kind=FieldKind.LONG),
        ),
    )
