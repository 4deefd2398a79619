"""A fleet kept in memory while a draft is edited, with who was healthy and what was found."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from threading import Lock
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.errors import CancelledError, NotFoundError
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.limits.limit_set import LimitSet, LimitSetState, set_in_force
from fluiddesk.domain.severity import Trust
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.limit_rules.differing import Kinds, kinds_of
from fluiddesk.services.limit_rules.replay import Replay
from fluiddesk.services.reassess.fleet_columns import (
    FleetColumns,
    latest_rows,
    load_fleet_columns,
    rows_since,
)
from fluiddesk.services.reassess.judging import Progress, Rulebook
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import FindingLine

YEAR: Final = timedelta(days=365)

LOOK_BACK: Final = timedelta(days=120)
"""A fault was there to be seen in samples drawn so long before it was found (common practice, no
source): about four intervals of 250 h."""

CONFIRMED: Final = "fault_confirmed"
NOTHING: Final = "nothing_found"

Rows = tuple[NDArray[np.bool_], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """One finding of the last year: the box, by its place, and the days it speaks about."""

    box: int
    is_fault: bool
    first_day: int
    last_day: int


@dataclass(slots=True, kw_only=True)
class WhatIfFleet:
    """Every sample of the fleet with the set in force; what was replayed before is kept.

    Attributes:
        columns: the samples.
        held: the set in force today, as if it had held all along.
        today: the day it was read.
        latest: rows of the last believed sample of each box, one mask a group.
        year: rows of the last year.
        healthy: rows of the last year that count as healthy.
        findings: what people found in the last year.
        idle_boxes: boxes in use without any sample.
        kinds: the boxes by kind.
        replayed: what the set in force says of the latest samples and of the year's; ``None``
            until it is first asked for. Takes longest, so the page asks for it when it opens.
        replaying: held meanwhile, so that two pieces of work do not do it twice.
    """

    columns: FleetColumns
    catalogue: Catalogue
    held: LimitSet
    today: date
    latest: Rows
    year: Rows
    healthy: Rows
    findings: Sequence[Found]
    idle_boxes: int
    kinds: Kinds
    replayed: Replay | None = None
    replaying: Lock = field(default_factory=Lock, repr=False, compare=False)

    @property
    def since(self) -> date:
        """The first day of the last year."""
        return self.today - YEAR

    @property
    def asked(self) -> Rows:
        """The latest samples and those of the last year."""
        return tuple(one | other for one, other in zip(self.latest, self.year, strict=True))

    def rulebook(self, limit_set: LimitSet) -> Rulebook:
        """The rules as if one set had held since ever."""
        always = replace(
            limit_set, state=LimitSetState.IN_FORCE, valid_from=date.min, valid_until=None
        )
        return replace(self.columns.rulebook, sets=(always,))


def open_what_if(place: Workplace, *, today: date, progress: Progress | None = None) -> WhatIfFleet:
    """Read the fleet once; keep the answer while the page is open.

    Healthy samples are those of the last year with trust Good, of boxes in which no fault was
    confirmed within ``LOOK_BACK`` after the sample. A fault that nobody wrote down counts as
    healthy, so that the share of healthy samples flagged is too large rather than too small.

    Raises:
        NotFoundError: when no set is in force.
        CancelledError: when ``progress`` says to stop.
    """
    with place.store.reading() as desk:
        columns = load_fleet_columns(desk, place.catalogue)
        found = desk.findings.lines()
        boxes = len(desk.boxes.rows())
    _go_on(progress)
    held = set_in_force(columns.rulebook.sets, today)
    if held is None:
        raise NotFoundError(f"No limit set is in force on {today}. Put a limit set in force first.")
    at = {box.compartment_id: index for index, box in enumerate(columns.boxes)}
    findings = _findings(found, at, today)
    year = tuple(
        recent & (group.taken_on <= today.toordinal())
        for recent, group in zip(rows_since(columns, today - YEAR), columns.groups, strict=True)
    )
    return WhatIfFleet(
        columns=columns,
        catalogue=place.catalogue,
        held=held,
        today=today,
        latest=latest_rows(columns),
        year=year,
        healthy=_healthy(columns, year, findings),
        findings=findings,
        idle_boxes=boxes - len(columns.boxes),
        kinds=kinds_of(columns),
    )


def _go_on(progress: Progress | None) -> None:
    if progress is not None and not progress(0, None):
        raise CancelledError("Stopped; nothing has changed.")


def _findings(
    lines: Sequence[FindingLine], at: Mapping[CompartmentId, int], today: date
) -> list[Found]:
    """The findings of the last year that say whether a machine was at fault."""
    return [
        Found(
            box=at[one.compartment_id],
            is_fault=one.result == CONFIRMED,
            first_day=(one.found_on - LOOK_BACK).toordinal(),
            last_day=one.found_on.toordinal(),
        )
        for one in lines
        if one.compartment_id in at
        and one.result in (CONFIRMED, NOTHING)
        and today - YEAR <= one.found_on <= today
    ]


def _healthy(columns: FleetColumns, year: Rows, findings: Sequence[Found]) -> Rows:
    masks = []
    for group, inside in zip(columns.groups, year, strict=True):
        healthy = inside & (group.trust == Trust.GOOD)
        for one in findings:
            if one.is_fault:
                healthy &= ~rows_about(group.compartment, group.taken_on, one)
        masks.append(healthy)
    return tuple(masks)


def rows_about(box: NDArray[np.int32], day: NDArray[np.int32], found: Found) -> NDArray[np.bool_]:
    """The samples a finding speaks about: of its box, drawn up to ``LOOK_BACK`` before it."""
    about: NDArray[np.bool_] = box == found.box
    return about & (day >= found.first_day) & (day <= found.last_day)
