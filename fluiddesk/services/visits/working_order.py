"""The order in which the boxes of one machine are sampled, and the crew's time for it.

Live points first while the machine runs (hydraulic, then transmission, then engine), then with the
machine shut down the tube and plug points, coolant last when it has cooled (common practice, no
source).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from fluiddesk.domain.sampling.visits import visit_minutes
from fluiddesk.services.catalogue import Catalogue

LIVE_KINDS: Final = ("live valve", "line probe")
_LIVE_ORDER: Final = {"hydraulic": 0, "transmission": 1, "engine": 2}
_TUBE, _COOLANT = 10, 20


@dataclass(frozen=True, slots=True, kw_only=True)
class PointFacts:
    """The sampling point a box is sampled at by default; empty where the register has none."""

    id: bytes | None = None
    kind: str = ""
    location: str = ""
    marking: str = ""
    run_state: str = ""
    flush_ml: float = 0.0
    tube_mm: float | None = None
    hazards: str = ""

    @property
    def is_live(self) -> bool:
        """Whether the sample is drawn from the running machine."""
        return self.run_state == "running_idle" or self.kind in LIVE_KINDS


def default_points(rows: Sequence[Mapping[str, Any]]) -> dict[bytes, PointFacts]:
    """The first point in use of each compartment that is no drain.

    A sample is never planned from the drain stream, so a box whose only point is its drain has
    none here.
    """
    found: dict[bytes, PointFacts] = {}
    for row in rows:
        if row["retired"] or row["kind"] == "drain" or row["compartment_id"] in found:
            continue
        found[row["compartment_id"]] = PointFacts(
            id=row["id"],
            kind=row["kind"],
            location=row["location"],
            marking=row["marking"],
            run_state=row["run_state"],
            flush_ml=row["flush_ml"],
            tube_mm=row["tube_mm"],
            hazards=row["hazards"],
        )
    return found


def point_of(
    compartment: bytes, kind: str, points: Mapping[bytes, PointFacts], catalogue: Catalogue
) -> PointFacts:
    """The box's own sampling point, else the one usual for its kind."""
    if compartment in points:
        return points[compartment]
    known = catalogue.compartment_kinds.get(kind)
    usual = known.sampling_point if known else ""
    is_live = usual in ("live valve", "line probe")
    return PointFacts(kind=usual, run_state="running_idle" if is_live else "shut_down")


def working_place(kind: str, point: PointFacts, catalogue: Catalogue) -> tuple[int, int]:
    """Sort key of a box in the working order of its machine."""
    known = catalogue.compartment_kinds.get(kind)
    order = known.order if known else 999
    group = known.group if known else ""
    if group == "coolant":
        return (_COOLANT, order)
    if point.is_live:
        return (_LIVE_ORDER.get(group, 3), order)
    return (_TUBE, order)


def minutes_at(points: Sequence[PointFacts]) -> float:
    """The crew's minutes at a machine for these points; a live round needs it warm."""
    live = sum(one.is_live for one in points)
    found = visit_minutes(
        live_points=np.array([live]),
        tube_points=np.array([len(points) - live]),
        needs_warm_up=np.array([live > 0]),
    )
    return float(found[0])
