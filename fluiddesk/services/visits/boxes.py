"""Single bottles of visits: added by hand, moved to another visit, taken off again."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from fluiddesk.domain.errors import NotFoundError, OperatorError
from fluiddesk.domain.identity import CompartmentId, SiteId
from fluiddesk.domain.samples import SampleReason
from fluiddesk.services.changes import Changes
from fluiddesk.services.visits.book import CHANGED, drop_box, refuse_closed, visit_name, visit_row
from fluiddesk.services.visits.facts import BoxOutcome
from fluiddesk.services.visits.on_a_visit import (
    NewBottle,
    WorkAtBoxes,
    count_minutes,
    put_on_visit,
    set_in_order,
)
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, RecordKey, RecordKind

BY_HAND = (
    SampleReason.ROUTINE, SampleReason.RESAMPLE, SampleReason.SPECIAL, SampleReason.POST_CHANGE,
    SampleReason.STORAGE,
)  # fmt: skip


def add_box(
    place: Workplace,
    visit_id: bytes,
    compartment: CompartmentId,
    *,
    reason: SampleReason,
    moment: datetime,
) -> Changes:
    """Put a box of the machine on an open visit, for a resample or another special reason.

    Raises:
        OperatorError: the box is on another machine, or stands on the visit for that reason; the
            visit was done or given up; the reason is none of a box.
        NotFoundError: there is no such visit or box.
    """
    if reason not in BY_HAND:
        raise OperatorError(
            f'"{reason.value}" is no reason to plan a bottle. Choose one of: '
            f"{', '.join(one.value for one in BY_HAND)}."
        )
    with place.store.transaction(who=place.who, moment=moment) as desk:
        row = visit_row(desk, visit_id)
        name = visit_name(desk, row)
        refuse_closed(row, name)
        box = desk.fleet.compartment(compartment)
        words = place.catalogue.box_name(box.kind, box.position)
        if box.machine != row["machine_id"]:
            raise OperatorError(f"{words} is on another machine than the {name}. Choose its visit.")
        bottle = NewBottle(compartment=compartment, reason=reason, words=words)
        put_on_visit(desk, row, [bottle], WorkAtBoxes(desk, place), name=name)
    return CHANGED


def move_box(place: Workplace, box_id: bytes, to_visit: bytes, *, moment: datetime) -> Changes:
    """Move an open bottle to another visit of its machine; its label goes along.

    Raises:
        OperatorError: the bottle is not open, or the visit is of another machine, done or given up.
        NotFoundError: there is no such bottle or visit.
    """
    with place.store.transaction(who=place.who, moment=moment) as desk:
        box = _open_box(desk, box_id)
        old, new = visit_row(desk, box["visit_id"]), visit_row(desk, to_visit)
        name = visit_name(desk, new)
        refuse_closed(new, name)
        if old["machine_id"] != new["machine_id"]:
            raise OperatorError(f"The {name} is to another machine. Choose a visit of this one.")
        there = desk.register.all(RecordKind.VISIT_BOX, visit_id=to_visit)
        last = max((int(one["place"]) for one in there), default=0)
        key = RecordKey(RecordKind.VISIT_BOX, SiteId(box["site_id"]), box_id)
        values = {"visit_id": to_visit, "place": last + 1}
        desk.register.change(key, values, version=None, name=f"{name}: bottle {last + 1}")
        work = WorkAtBoxes(desk, place)
        set_in_order(desk, new, work, name=name)
        count_minutes(desk, old, work, name=visit_name(desk, old))
    return CHANGED


def remove_box(place: Workplace, box_id: bytes, *, why: str, moment: datetime) -> Changes:
    """Take an open bottle off its visit, with a reason; its box is due as before.

    Raises:
        OperatorError: without a reason, or when the bottle is not open.
        NotFoundError: there is no such bottle.
    """
    if not why.strip():
        raise OperatorError("A bottle is taken off a visit with a reason. Say why.")
    with place.store.transaction(who=place.who, moment=moment) as desk:
        box = _open_box(desk, box_id)
        row = visit_row(desk, box["visit_id"])
        name = visit_name(desk, row)
        drop_box(desk, box, name, why=why.strip())
        count_minutes(desk, row, WorkAtBoxes(desk, place), name=name)
    return CHANGED


def note_due(
    place: Workplace,
    compartment: CompartmentId,
    *,
    due_on: date,
    is_excused: bool,
    reason: str,
    note: str,
    moment: datetime,
) -> Changes:
    """Say why a due sample was missed, or that none was owed; the person stands in the trail.

    Raises:
        OperatorError: the reason is not one of the list, or "other" without a note.
        NotFoundError: there is no such box.
    """
    known = ("machine_down", "no_access", "no_bottle", "forgotten", "weather", "sold", "standby",
             "other")  # fmt: skip
    if reason not in known:
        raise OperatorError(f'"{reason}" is no reason of the list. Choose: {", ".join(known)}.')
    if reason == "other" and not note.strip():
        raise OperatorError('The reason "other" needs a note. Say what it was.')
    with place.store.transaction(who=place.who, moment=moment) as desk:
        box = desk.fleet.compartment(compartment)
        words = place.catalogue.box_name(box.kind, box.position)
        desk.register.add(
            RecordKey(RecordKind.DUE_NOTE, box.site, desk.new_id()),
            {
                "compartment_id": compartment,
                "due_on": due_on,
                "kind": "excused" if is_excused else "missed",
                "reason": reason,
                "note": note.strip(),
            },
            name=f"due sample of {words} on {due_on.isoformat()}",
        )
    return CHANGED


def _open_box(desk: Desk, box_id: bytes) -> Mapping[str, Any]:
    found = desk.register.all(RecordKind.VISIT_BOX, id=box_id)
    if not found:
        raise NotFoundError("This bottle is no longer on a visit. Read the plan again.")
    if found[0]["outcome"] != BoxOutcome.OPEN:
        raise OperatorError("This bottle was taken or given up already. Read the plan again.")
    return found[0]
