"""The bottles of a kept visit: put on it, set in working order, and what time they take."""

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

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
    """
    site = SiteId(visit["site_id"])
    again = [
        row
        for row in desk.register.all(
            RecordKind.VISIT_BOX, visit_id=visit["id"], compartment_id=compartment
        )
        if row["reason"] == reason and row["outcome"] != BoxOutcome.OPEN
    ]
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


def set_in_order(
    desk: Desk, place: Workplace, visit: Mapping[str, Any], *, name: str, prints_again: bool
) -> None:
    """Number the bottles of a visit in working order and count the crew's minutes anew.

    ``prints_again``: an issued visit becomes a planned one, so that its sheet is printed again.
    """
    site = SiteId(visit["site_id"])
    rows = desk.register.all(RecordKind.VISIT_BOX, visit_id=visit["id"])
    work = {row["id"]: _Work.of(desk, place, row) for row in rows}
    ordered = sorted(rows, key=lambda row: (*work[row["id"]].key, int(row["place"])))
    for number, row in enumerate(ordered, start=1):
        key = RecordKey(RecordKind.VISIT_BOX, site, row["id"])
        words = f"{name}: bottle {number}"
        desk.register.change(key, {"place": number}, version=None, name=words)
    values: dict[str, Any] = {"minutes": _minutes(work[row["id"]] for row in rows if _is_open(row))}
    if prints_again and visit["state"] == VisitState.ISSUED:
        values["state"] = VisitState.PLANNED.value
    key = RecordKey(RecordKind.VISIT, site, visit["id"])
    desk.register.change(key, values, version=None, name=name)


def _is_open(row: Mapping[str, Any]) -> bool:
    return bool(row["outcome"] == BoxOutcome.OPEN)


def _minutes(work: "Iterable[_Work]") -> float:
    points = [one.point for one in work]
    return minutes_at(points) if points else 0.0


class _Work:
    """The work at one box of a visit."""

    def __init__(self, point: PointFacts, key: tuple[int, int, str]) -> None:
        self.point, self.key = point, key

    @classmethod
    def of(cls, desk: Desk, place: Workplace, row: Mapping[str, Any]) -> "_Work":
        """The work at a row's box."""
        box = desk.fleet.compartment(CompartmentId(row["compartment_id"]))
        found = default_points(desk.register.all(RecordKind.POINT, compartment_id=box.id))
        point = point_of(box.id, box.kind, found, place.catalogue)
        return cls(point, (*working_place(box.kind, point, place.catalogue), box.position))
