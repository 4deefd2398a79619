"""The bottles of a kept visit: put on it, set in working order, and what time they take."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.identity import CompartmentId, SiteId
from fluiddesk.domain.samples import SampleReason
from fluiddesk.services.visits.facts import BoxOutcome, VisitState
from fluiddesk.services.visits.working_order import (
    PointFacts,
    default_points,
    minutes_at,
    point_of,
    working_place,
)
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, RecordKey, RecordKind


def put_on_visit(
    desk: Desk,
    visit: Mapping[str, Any],
    *,
    compartment: CompartmentId,
    reason: SampleReason,
    place: int,
    name: str,
    due_on: date | None = None,
) -> None:
    """Add one bottle to a visit in the open transaction.

    A bottle for that box and reason that was given up before is opened again: a visit has one of
    each.

    Raises:
        OperatorError: when the bottle stands on the visit already.
    """
    site = SiteId(visit["site_id"])
    again = [
        row
        for row in desk.register.all(
            RecordKind.VISIT_BOX, visit_id=visit["id"], compartment_id=compartment
        )
        if row["reason"] == reason
    ]
    if any(row["outcome"] in (BoxOutcome.OPEN, BoxOutcome.TAKEN) for row in again):
        raise OperatorError(f"{name} stands on it for that reason already. Read the plan again.")
    values: dict[str, Any] = {
        "place": place,
        "due_on": due_on,
        "outcome": BoxOutcome.OPEN.value,
    }
    if again:
        # Its label is void, so it gets a new one.
        values |= {"why_not": "", "sample_id": None}
        key = RecordKey(RecordKind.VISIT_BOX, site, again[0]["id"])
        desk.register.change(key, values, version=None, name=name)
        return
    key = RecordKey(RecordKind.VISIT_BOX, site, desk.new_id())
    values |= {"visit_id": visit["id"], "compartment_id": compartment, "reason": reason.value}
    desk.register.add(key, values, name=name)


def set_in_order(desk: Desk, place: Workplace, visit: Mapping[str, Any], *, name: str) -> bool:
    """Number the bottles of a visit in working order and count the crew's minutes anew.

    An issued visit becomes a planned one, so that its sheet is printed again. Whether it did.
    """
    rows = _rows(desk, place, visit)
    ordered = sorted(rows, key=lambda one: (not one.is_open, one.working_key, one.number))
    for number, one in enumerate(ordered, start=1):
        key = RecordKey(RecordKind.VISIT_BOX, SiteId(visit["site_id"]), one.id)
        words = f"{name}: bottle {number}"
        desk.register.change(key, {"place": number}, version=None, name=words)
    was_issued = bool(visit["state"] == VisitState.ISSUED)
    values: dict[str, Any] = {"minutes": _minutes(rows)}
    if was_issued:
        values["state"] = VisitState.PLANNED.value
    desk.register.change(_key(visit), values, version=None, name=name)
    return was_issued


def count_minutes(desk: Desk, place: Workplace, visit: Mapping[str, Any], *, name: str) -> None:
    """Count the crew's minutes anew after a bottle was taken off.

    The other bottles keep their numbers, so that a sheet that is printed still holds.
    """
    values = {"minutes": _minutes(_rows(desk, place, visit))}
    desk.register.change(_key(visit), values, version=None, name=name)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """A bottle of a visit with the work at its box."""

    id: bytes
    number: int
    is_open: bool
    point: PointFacts
    working_key: tuple[int, int, str]


def _rows(desk: Desk, place: Workplace, visit: Mapping[str, Any]) -> list[_Row]:
    found = desk.register.all(RecordKind.VISIT_BOX, visit_id=visit["id"])
    return [_row(desk, place, one) for one in found]


def _row(desk: Desk, place: Workplace, row: Mapping[str, Any]) -> _Row:
    box = desk.fleet.compartment(CompartmentId(row["compartment_id"]))
    known = default_points(desk.register.all(RecordKind.POINT, compartment_id=box.id))
    point = point_of(box.id, box.kind, known, place.catalogue)
    return _Row(
        id=row["id"],
        number=int(row["place"]),
        is_open=row["outcome"] == BoxOutcome.OPEN,
        point=point,
        working_key=(*working_place(box.kind, point, place.catalogue), box.position),
    )


def _minutes(rows: Iterable[_Row]) -> float:
    points = [one.point for one in rows if one.is_open]
    return minutes_at(points) if points else 0.0


def _key(visit: Mapping[str, Any]) -> RecordKey:
    return RecordKey(RecordKind.VISIT, SiteId(visit["site_id"]), visit["id"])
