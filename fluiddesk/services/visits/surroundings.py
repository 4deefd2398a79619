"""What a plan takes from the register beside the boxes: points, crews, days, visits kept before."""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from fluiddesk.domain.identity import SiteId
from fluiddesk.services.visits.crew_time import Work
from fluiddesk.services.visits.facts import BoxOutcome, VisitState
from fluiddesk.services.visits.working_order import PointFacts, default_points
from fluiddesk.storage import Desk, RecordKind

_OPEN: Final = (VisitState.PLANNED, VisitState.ISSUED)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptVisit:
    """A visit that is planned or issued. ``boxes``: those whose bottles are still to be filled."""

    id: bytes
    site_id: SiteId
    machine_id: bytes
    planned_on: date
    is_issued: bool
    crew_id: bytes | None
    minutes: float
    boxes: tuple[bytes, ...]

    @property
    def work(self) -> Work:
        """The crew's time for it; it stays on its day."""
        return Work(
            crew_id=self.crew_id,
            day=self.planned_on,
            minutes=self.minutes,
            first_day=self.planned_on,
            last_day=self.planned_on,
            is_fixed=True,
        )


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What a plan takes from the register beside the boxes themselves."""

    points: Mapping[bytes, PointFacts]
    areas: Mapping[bytes, str]
    crews: Sequence[Mapping[str, Any]]
    services: Sequence[Mapping[str, Any]]
    kept: Sequence[KeptVisit]

    @property
    def on_visits(self) -> Collection[bytes]:
        """The boxes that stand on a kept visit."""
        return frozenset(box for one in self.kept for box in one.boxes)


def surroundings(desk: Desk) -> Surroundings:
    """Read sampling points, areas, crews, service days and the visits that are kept."""
    return Surroundings(
        default_points(desk.register.all(RecordKind.POINT)),
        {row["id"]: row["area"] for row in desk.register.all(RecordKind.MACHINE)},
        [row for row in desk.register.all(RecordKind.CREW) if not row["retired"]],
        [row for row in desk.register.all(RecordKind.SERVICE_DATE) if not row["dropped"]],
        kept_visits(desk),
    )


def kept_visits(desk: Desk) -> tuple[KeptVisit, ...]:
    """The visits that are planned or issued, earliest first."""
    boxes: dict[bytes, list[bytes]] = defaultdict(list)
    for row in desk.register.all(RecordKind.VISIT_BOX):
        if row["outcome"] == BoxOutcome.OPEN:
            boxes[row["visit_id"]].append(row["compartment_id"])
    found = [
        KeptVisit(
            id=row["id"],
            site_id=SiteId(row["site_id"]),
            machine_id=row["machine_id"],
            planned_on=row["planned_on"],
            is_issued=row["state"] == VisitState.ISSUED,
            crew_id=row["crew_id"],
            minutes=row["minutes"] or 0.0,
            boxes=tuple(boxes.get(row["id"], ())),
        )
        for row in desk.register.all(RecordKind.VISIT)
        if row["state"] in _OPEN
    ]
    return tuple(sorted(found, key=lambda one: (one.planned_on, one.id)))
