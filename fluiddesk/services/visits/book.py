"""Visits kept: saved from a plan, moved, given up, and their bottles issued."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any, Final

from fluiddesk.domain.errors import NotFoundError, OperatorError
from fluiddesk.domain.identity import CompartmentId, SampleId, SiteId, bottle_code
from fluiddesk.domain.samples import Sample, SampleReason, SampleState
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.register.saving import write_record
from fluiddesk.services.visits.facts import BoxOutcome, Visit, VisitState
from fluiddesk.services.visits.on_a_visit import NewBottle, WorkAtBoxes, put_on_visit
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import BottleRecord, Desk, RecordKey, RecordKind

CHANGED: Final = Changes(subjects=frozenset({Subject.FLEET}))
_SERIES: Final = "P"
"""Bottles of planned visits have a series of their own."""
_DIGITS: Final = 5
_MANY: Final = 50
"""From so many bottles on, the register is read at once."""
_OPEN: Final = (VisitState.PLANNED, VisitState.ISSUED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Issued:
    """The bottles that were issued, by visit, in working order."""

    codes: Mapping[bytes, tuple[str, ...]]

    @property
    def count(self) -> int:
        """How many bottles."""
        return sum(len(one) for one in self.codes.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """What keeping a plan came to.

    ``ids``: a visit for each proposal, in the order given. ``to_print_again``: visits whose sheet
    was printed before bottles joined them, by machine and day; they are planned again.
    """

    ids: tuple[bytes, ...]
    to_print_again: tuple[str, ...] = ()


def save_visits(
    place: Workplace, visits: Iterable[Visit], *, moment: datetime
) -> tuple[bytes, ...]:
    """Keep proposed visits; returns their identifiers, in the order given.

    Raises:
        OperatorError: when a box stands on another open visit already; nothing is saved then.
    """
    return keep_proposals(place, visits, moment=moment).ids


def keep_proposals(place: Workplace, visits: Iterable[Visit], *, moment: datetime) -> Kept:
    """Keep what a plan proposes in one transaction: new visits, and bottles that join kept ones.

    Raises:
        OperatorError: when a box stands on another open visit already, or a visit that bottles
            were to join was done or given up; nothing is saved then.
    """
    wanted, ids, again = tuple(visits), list[bytes](), list[str]()
    joining = sum(len(visit.boxes) for visit in wanted if visit.joins is not None)
    with place.store.transaction(who=place.who, moment=moment) as desk:
        taken = _boxes_on_visits(desk)
        work = WorkAtBoxes(desk, place, is_for_many=joining > _MANY)
        for visit in wanted:
            if visit.joins is None:
                ids.append(_add_visit(desk, visit, taken))
                continue
            ids.append(visit.joins)
            _refuse_taken(visit, taken)
            row = visit_row(desk, visit.joins)
            if _add_to(desk, visit, row, work):
                again.append(f"{visit.machine} on {row['planned_on'].isoformat()}")
            taken.update({box.compartment_id: row["planned_on"] for box in visit.boxes})
    return Kept(ids=tuple(ids), to_print_again=tuple(again))


def _add_to(desk: Desk, visit: Visit, row: Mapping[str, Any], work: WorkAtBoxes) -> bool:
    """Add bottles to a kept visit; whether its bottles were issued and its sheet printed."""
    name = visit_name(desk, row)
    refuse_closed(row, name)
    bottles = [
        NewBottle(
            compartment=box.compartment_id,
            reason=box.reason,
            words=box.compartment,
            due_on=box.due_on,
        )
        for box in visit.boxes
    ]
    return put_on_visit(desk, row, bottles, work, name=name)


def _boxes_on_visits(desk: Desk) -> dict[bytes, date]:
    """By compartment, the day of the open visit it stands on."""
    days = {
        row["id"]: row["planned_on"]
        for row in desk.register.all(RecordKind.VISIT)
        if row["state"] in _OPEN
    }
    return {
        row["compartment_id"]: days[row["visit_id"]]
        for row in desk.register.all(RecordKind.VISIT_BOX)
        if row["outcome"] == BoxOutcome.OPEN and row["visit_id"] in days
    }


def _refuse_taken(visit: Visit, taken: Mapping[bytes, date]) -> None:
    for box in visit.boxes:
        if box.compartment_id in taken:
            raise OperatorError(
                f"{visit.machine}, {box.compartment} stands on the visit of "
                f"{taken[box.compartment_id].isoformat()} already. Plan anew, or move that visit."
            )


def _add_visit(desk: Desk, visit: Visit, taken: dict[bytes, date]) -> bytes:
    _refuse_taken(visit, taken)
    row = desk.new_id()
    name = f"visit to {visit.machine} on {visit.planned_on.isoformat()}"
    values = {
        "machine_id": visit.machine_id,
        "planned_on": visit.planned_on,
        "state": VisitState.PLANNED.value,
        "crew_id": visit.crew_id,
        "minutes": float(visit.minutes),
        "note": visit.note,
    }
    desk.register.add(RecordKey(RecordKind.VISIT, visit.site_id, row), values, name=name)
    for place, box in enumerate(visit.boxes, start=1):
        taken[box.compartment_id] = visit.planned_on
        desk.register.add(
            RecordKey(RecordKind.VISIT_BOX, visit.site_id, desk.new_id()),
            {
                "visit_id": row,
                "compartment_id": box.compartment_id,
                "place": place,
                "reason": box.reason.value,
                "due_on": box.due_on,
                "outcome": BoxOutcome.OPEN.value,
            },
            name=f"{name}: {box.compartment}",
        )
    return row


def visit_row(desk: Desk, visit_id: bytes) -> Mapping[str, Any]:
    """The row of a visit.

    Raises:
        NotFoundError: when there is none.
    """
    found = desk.register.all(RecordKind.VISIT, id=visit_id)
    if not found:
        raise NotFoundError("This visit is no longer in the store. Read the plan again.")
    return found[0]


def _key(row: Mapping[str, Any]) -> RecordKey:
    return RecordKey(RecordKind.VISIT, SiteId(row["site_id"]), row["id"])


def visit_name(desk: Desk, row: Mapping[str, Any]) -> str:
    """What a visit is called in the trail and in messages."""
    machine = RecordKey(RecordKind.MACHINE, SiteId(row["site_id"]), row["machine_id"])
    code = desk.register.row(machine, name="machine")["code"]
    return f"visit to {code} on {row['planned_on'].isoformat()}"


def refuse_closed(row: Mapping[str, Any], name: str) -> None:
    """Refuse a change of a visit that was done or given up.

    Raises:
        OperatorError: naming the visit.
    """
    if row["state"] not in _OPEN:
        told = "was done" if row["state"] == VisitState.DONE else "was given up"
        raise OperatorError(f"The {name} {told}; it cannot be changed. Plan a new visit.")


def move_visit(
    place: Workplace,
    visit_id: bytes,
    *,
    to: date,
    version: int,
    today: date,
    moment: datetime,
    crew: bytes | None = None,
) -> Changes:
    """Move a visit to another day, and to another crew where one is given; its bottles go along.

    Raises:
        OperatorError: when the day has passed, or the visit was done or given up.
        StaleRecordError: when somebody else changed it since.
    """
    if to < today:
        raise OperatorError(
            f"{to.isoformat()} has passed (today is {today.isoformat()}). Choose a day to come."
        )
    with place.store.transaction(who=place.who, moment=moment) as desk:
        row = visit_row(desk, visit_id)
        name = visit_name(desk, row)
        refuse_closed(row, name)
        values: dict[str, Any] = {"planned_on": to}
        if crew is not None:
            values["crew_id"] = crew
        write_record(desk, _key(row), values, version=version, name=name)
    return CHANGED


def drop_visit(
    place: Workplace, visit_id: bytes, *, why: str, version: int, moment: datetime
) -> Changes:
    """Give a visit up: its boxes are due as before, labels already issued are void.

    Raises:
        OperatorError: without a reason, or when the visit was done or given up before.
        StaleRecordError: when somebody else changed it since.
    """
    if not why.strip():
        raise OperatorError("A visit is given up with a reason. Say why.")
    with place.store.transaction(who=place.who, moment=moment) as desk:
        row = visit_row(desk, visit_id)
        name = visit_name(desk, row)
        refuse_closed(row, name)
        values = {"state": VisitState.DROPPED.value, "note": why.strip()}
        write_record(desk, _key(row), values, version=version, name=name)
        for box in desk.register.all(RecordKind.VISIT_BOX, visit_id=visit_id):
            if box["outcome"] == BoxOutcome.OPEN:
                drop_box(desk, box, name, why=why.strip())
        desk.taking_drafts.close(visit_id, name=f"sheet of the {name}", why="visit given up")
    return CHANGED


def drop_box(desk: Desk, box: Mapping[str, Any], name: str, *, why: str) -> None:
    """Leave one bottle of a visit unfilled; a label already issued is void."""
    key = RecordKey(RecordKind.VISIT_BOX, SiteId(box["site_id"]), box["id"])
    values = {"outcome": BoxOutcome.NOT_TAKEN.value, "why_not": why}
    desk.register.change(key, values, version=None, name=f"{name}: bottle {box['place']}")
    if box["sample_id"] is not None:
        sample = desk.sampling.sample(SampleId(box["sample_id"]))
        desk.sampling.edit_sample(replace(sample, state=SampleState.VOID), version=None)
        add_step(desk, sample.site, [sample.bottle_code], "void", known_by="typed", note=why)


def issue_bottles(
    place: Workplace, visit_ids: Sequence[bytes], *, today: date, moment: datetime
) -> Issued:
    """Give every open bottle of some visits its code; a bottle that has one keeps it.

    Raises:
        OperatorError: when a visit was done or given up, or the year's numbers are used up.
    """
    codes: dict[bytes, tuple[str, ...]] = {}
    with place.store.transaction(who=place.who, moment=moment) as desk:
        numbers = _Numbers(desk, today)
        for visit_id in visit_ids:
            row = visit_row(desk, visit_id)
            name = visit_name(desk, row)
            refuse_closed(row, name)
            boxes = desk.register.all(RecordKind.VISIT_BOX, visit_id=visit_id)
            ordered = sorted(boxes, key=lambda one: int(one["place"]))
            wanted = [one for one in ordered if one["outcome"] == BoxOutcome.OPEN]
            codes[visit_id] = tuple(_issue(desk, one, name, numbers, today) for one in wanted)
            if row["state"] != VisitState.ISSUED:
                state = {"state": VisitState.ISSUED.value}
                desk.register.change(_key(row), state, version=None, name=name)
    return Issued(codes=codes)


class _Numbers:
    """The next free bottle codes of the year."""

    def __init__(self, desk: Desk, today: date) -> None:
        self._start = f"{today:%y}{_SERIES}"
        last = desk.outside.last_code(self._start)
        self._next = int(last[len(self._start) + 1 :][:_DIGITS]) + 1 if last else 1

    def take(self) -> str:
        """One code.

        Raises:
            OperatorError: when the year's numbers are used up.
        """
        if self._next >= 10**_DIGITS:
            raise OperatorError(
                "This year's numbers of planned bottles are used up. Use spare labels."
            )
        code = bottle_code(f"{self._start}{self._next:0{_DIGITS}}")
        self._next += 1
        return code


def _issue(desk: Desk, box: Mapping[str, Any], name: str, numbers: _Numbers, today: date) -> str:
    if box["sample_id"] is not None:
        return desk.sampling.sample(SampleId(box["sample_id"])).bottle_code
    site, code = SiteId(box["site_id"]), numbers.take()
    sample = Sample(
        site=site,
        id=SampleId(desk.new_id()),
        compartment=CompartmentId(box["compartment_id"]),
        bottle_code=code,
        reason=SampleReason(box["reason"]),
        state=SampleState.ISSUED,
    )
    desk.sampling.add_samples([sample])
    desk.sampling.add_bottles(
        [BottleRecord(site=site, code=code, sample=sample.id, issued_on=today)]
    )
    key = RecordKey(RecordKind.VISIT_BOX, site, box["id"])
    values = {"sample_id": sample.id}
    desk.register.change(key, values, version=None, name=f"{name}: bottle {code}")
    add_step(desk, site, [code], "issued", known_by="typed")
    return code


def add_step(
    desk: Desk,
    site: SiteId,
    codes: Sequence[str],
    step: str,
    *,
    known_by: str,
    at: datetime | None = None,
    shipment: bytes | None = None,
    note: str = "",
) -> None:
    """Write a hand-over of some bottles in the open transaction."""
    when = at or desk.moment
    desk.load(
        "custody_step",
        ("site_id", "id", "bottle_code", "step", "at", "known_by", "shipment_id", "note"),
        [(int(site), desk.new_id(), code, step, when, known_by, shipment, note) for code in codes],
    )
