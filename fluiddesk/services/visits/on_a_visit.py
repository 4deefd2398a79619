"""The bottles of a kept visit: put on it, set in working order, and what time they take."""

from collections.abc import Iterable, Mapping, Sequence
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

Row = Mapping[str, Any]
_STANDS = (BoxOutcome.OPEN, BoxOutcome.TAKEN)


@dataclass(frozen=True, slots=True, kw_only=True)
class NewBottle:
    """A bottle that is put on a visit; ``words`` are what messages call its box."""

    compartment: CompartmentId
    reason: SampleReason
    words: str
    due_on: date | None = None


@dataclass(frozen=True, slots=True)
class _Work:
    """The work at one box."""

    point: PointFacts
    key: tuple[int, int, str]


class WorkAtBoxes:
    """The work at boxes in the open transaction, each read once.

    Args:
        desk: the transaction.
        place: for the catalogue.
        is_for_many: whether the whole register is read at once, which is quicker for many boxes.
    """

    def __init__(self, desk: Desk, place: Workplace, *, is_for_many: bool = False) -> None:
        self._desk, self._catalogue = desk, place.catalogue
        self._known: dict[bytes, _Work] = {}
        if is_for_many:
            points = default_points(desk.register.all(RecordKind.POINT))
            for row in desk.register.all(RecordKind.COMPARTMENT):
                self._note(row["id"], row["kind"], row["position"], points)

    def of(self, box: bytes) -> _Work:
        """The work at a box."""
        if box not in self._known:
            found = self._desk.fleet.compartment(CompartmentId(box))
            rows = self._desk.register.all(RecordKind.POINT, compartment_id=box)
            self._note(box, found.kind, found.position, default_points(rows))
        return self._known[box]

    def _note(
        self, box: bytes, kind: str, position: str, points: Mapping[bytes, PointFacts]
    ) -> None:
        point = point_of(box, kind, points, self._catalogue)
        key = (*working_place(kind, point, self._catalogue), position)
        self._known[box] = _Work(point, key)

    def minutes(self, rows: Iterable[Row]) -> float:
        """The crew's minutes for the open bottles among some."""
        points = [self.of(row["compartment_id"]).point for row in rows if _is_open(row)]
        return minutes_at(points) if points else 0.0

    def ordered(self, rows: Iterable[Row]) -> list[Row]:
        """Bottles in working order, open ones first."""
        return sorted(rows, key=lambda row: (not _is_open(row), self.of(row["compartment_id"]).key))


def put_on_visit(
    desk: Desk, visit: Row, bottles: Sequence[NewBottle], work: WorkAtBoxes, *, name: str
) -> bool:
    """Add bottles to a visit in the open transaction, and set it in working order.

    A bottle for a box and reason that was given up before is opened again with a new label: a
    visit has one of each. An issued visit becomes a planned one, so that its sheet is printed
    again. Whether it did.

    Raises:
        OperatorError: when a bottle stands on the visit already; naming its box.
    """
    there = desk.register.all(RecordKind.VISIT_BOX, visit_id=visit["id"])
    known = {(row["compartment_id"], row["reason"]): row for row in there}
    wanted = {(row["compartment_id"], row["reason"]): dict(row) for row in there}
    for one in bottles:
        key = (one.compartment, one.reason.value)
        if key in wanted and wanted[key]["outcome"] in _STANDS:
            raise OperatorError(f"{one.words} stands on the {name} for that reason already.")
        wanted[key] = {
            "visit_id": visit["id"],
            "compartment_id": one.compartment,
            "reason": one.reason.value,
            "due_on": one.due_on,
            "outcome": BoxOutcome.OPEN.value,
            **({"why_not": "", "sample_id": None} if key in known else {}),
        }
    words = {(one.compartment, one.reason.value): one.words for one in bottles}
    ordered = work.ordered(wanted.values())
    for number, row in enumerate(ordered, start=1):
        key = (row["compartment_id"], row["reason"])
        told = f"{name}: {words.get(key, f'bottle {number}')}"
        _write(desk, visit, {**row, "place": number}, known.get(key), name=told)
    return _settle(desk, visit, work.minutes(ordered), name=name)


def _write(desk: Desk, visit: Row, row: Mapping[str, Any], known: Row | None, *, name: str) -> None:
    """Write what is new of a bottle's row."""
    site = SiteId(visit["site_id"])
    if known is None:
        desk.register.add(RecordKey(RecordKind.VISIT_BOX, site, desk.new_id()), row, name=name)
        return
    differing = {one: value for one, value in row.items() if known.get(one) != value}
    if differing:
        key = RecordKey(RecordKind.VISIT_BOX, site, known["id"])
        desk.register.change(key, differing, version=None, name=name)


def set_in_order(desk: Desk, visit: Row, work: WorkAtBoxes, *, name: str) -> bool:
    """Number the bottles of a visit in working order and count the crew's minutes anew.

    An issued visit becomes a planned one, so that its sheet is printed again. Whether it did.
    """
    return put_on_visit(desk, visit, (), work, name=name)


def count_minutes(desk: Desk, visit: Row, work: WorkAtBoxes, *, name: str) -> None:
    """Count the crew's minutes anew after a bottle was taken off.

    The other bottles keep their numbers, so that a sheet that is printed still holds.
    """
    rows = desk.register.all(RecordKind.VISIT_BOX, visit_id=visit["id"])
    desk.register.change(_key(visit), {"minutes": work.minutes(rows)}, version=None, name=name)


def _settle(desk: Desk, visit: Row, minutes: float, *, name: str) -> bool:
    was_issued = bool(visit["state"] == VisitState.ISSUED)
    values: dict[str, Any] = {"minutes": minutes}
    if was_issued:
        values["state"] = VisitState.PLANNED.value
    desk.register.change(_key(visit), values, version=None, name=name)
    return was_issued


def _is_open(row: Row) -> bool:
    return bool(row["outcome"] == BoxOutcome.OPEN)


def _key(visit: Row) -> RecordKey:
    return RecordKey(RecordKind.VISIT, SiteId(visit["site_id"]), visit["id"])
