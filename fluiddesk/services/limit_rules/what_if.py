"""What a draft would change: boxes by severity, who moves, alarms a month, findings, budget."""

from datetime import date
from time import perf_counter

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.limits.limit_set import Limit, LimitSet
from fluiddesk.domain.severity import Severity
from fluiddesk.services.limit_rules.budget import budget_of, row_effects_of
from fluiddesk.services.limit_rules.differing import differing_boxes
from fluiddesk.services.limit_rules.facts import (
    FindingScore,
    LastYear,
    Latest,
    MonthAlarms,
    RowEffect,
    WhatIfMove,
)
from fluiddesk.services.limit_rules.replay import Replay, merged, replay, replay_boxes
from fluiddesk.services.limit_rules.what_if_fleet import Found, Rows, WhatIfFleet, rows_about
from fluiddesk.services.reassess.judging import Judge, Progress


def what_if_latest(
    fleet: WhatIfFleet, draft: LimitSet, *, progress: Progress | None = None
) -> Latest:
    """The latest believed sample of every box, by the set in force and by a draft.

    Both are judged as if they had always held, so that only the limits make the difference.

    Raises:
        CancelledError: when ``progress`` says to stop.
    """
    begun = perf_counter()
    before, after = _both(fleet, draft, fleet.latest, progress)
    return Latest(
        before=_counts(fleet, before),
        after=_counts(fleet, after),
        moves=_moves(fleet, before, after),
        seconds=perf_counter() - begun,
    )


def what_if_year(
    fleet: WhatIfFleet, draft: LimitSet, *, progress: Progress | None = None
) -> LastYear:
    """The samples of the last year, by the set in force and by a draft.

    A confirmed fault is caught by a set that puts at least one believed sample of the box, drawn in
    the 120 days up to the day it was found, at Act or Urgent; it is missed where there were such
    samples and none was. Where no sample was drawn, no limit could catch it, and it does not
    count. A false alarm is a finding of nothing of which the same is true.

    Raises:
        CancelledError: when ``progress`` says to stop.
    """
    begun = perf_counter()
    before, after = _both(fleet, draft, fleet.year, progress)
    return LastYear(
        since=fleet.since,
        until=fleet.today,
        samples=sum(int(rows.sum()) for rows in fleet.year),
        months=_months(fleet, before, after),
        findings_before=_score(fleet, before),
        findings_after=_score(fleet, after),
        budget_before=budget_of(fleet, before),
        budget_after=budget_of(fleet, after),
        seconds=perf_counter() - begun,
    )


def row_effects(
    fleet: WhatIfFleet, draft: LimitSet, *, progress: Progress | None = None
) -> tuple[RowEffect, ...]:
    """What each limit of a draft does to the last year's samples; rows that judged none left out.

    Raises:
        CancelledError: when ``progress`` says to stop.
    """
    _, after = _both(fleet, draft, fleet.year, progress)
    return row_effects_of(fleet, after, draft)


def _both(
    fleet: WhatIfFleet, draft: LimitSet, rows: Rows, progress: Progress | None
) -> tuple[Replay, Replay]:
    """What the set in force and the draft say; the former is kept, the latter joined from both.

    Boxes on whose chosen rows the draft changes nothing are not judged again.
    """
    with fleet.replaying:
        if fleet.replayed is None:
            held = fleet.rulebook(fleet.held)
            fleet.replayed = replay(fleet.columns, held, rows=fleet.asked, progress=progress)
        before = fleet.replayed
    judge = Judge(fleet.rulebook(draft), ())
    again = differing_boxes(fleet.columns, fleet.kinds, fleet.held, draft, judge=judge, asked=rows)
    fresh = replay_boxes(
        fleet.columns, fleet.rulebook(draft), rows=rows, boxes=again, progress=progress
    )
    return before, merged(fleet.columns, before, fresh, judged_again=again, draft=draft)


def _counts(fleet: WhatIfFleet, told: Replay) -> dict[Severity, int]:
    counts = np.zeros(len(Severity), dtype=np.int64)
    for severity, rows in zip(told.severity, fleet.latest, strict=True):
        counts += np.bincount(severity[rows] + 1, minlength=len(counts))
    judged = int(counts.sum())
    counts[0] += fleet.idle_boxes + len(fleet.columns.boxes) - judged
    return {Severity(place - 1): int(count) for place, count in enumerate(counts)}


def _moves(fleet: WhatIfFleet, before: Replay, after: Replay) -> tuple[WhatIfMove, ...]:
    """Boxes whose severity differs, the worst turns first."""
    moves = []
    leading = _Leading(fleet, before, after)
    for place, group in enumerate(fleet.columns.groups):
        old, new = before.severity[place], after.severity[place]
        for row in np.flatnonzero(fleet.latest[place] & (old != new)).tolist():
            box = fleet.columns.boxes[int(group.compartment[row])]
            was, now = Severity(int(old[row])), Severity(int(new[row]))
            moves.append(
                WhatIfMove(
                    compartment_id=box.compartment_id,
                    site=box.site,
                    machine=box.machine,
                    compartment=fleet.catalogue.box_name(box.kind, box.position),
                    sampled_on=date.fromordinal(int(group.taken_on[row])),
                    before=was,
                    after=now,
                    why=leading.why(place, row, rises=now > was),
                )
            )
    return tuple(
        sorted(moves, key=lambda one: (-int(one.after), int(one.before), one.site, one.machine))
    )


class _Leading:
    """The limit that leads a sample's verdict, in words; looked up for rows that move."""

    def __init__(self, fleet: WhatIfFleet, before: Replay, after: Replay) -> None:
        self._analytes = fleet.catalogue.analytes
        self._told = {True: _places(fleet, after), False: _places(fleet, before)}
        self._parts = {True: after.parts, False: before.parts}

    def why(self, group: int, row: int, *, rises: bool) -> str:
        """Up: what the draft fires on; down: what the set in force fired on, and no longer does."""
        at, inside = self._told[rises][group]
        if at[row] < 0:
            return ""
        part = self._parts[rises][int(at[row])]
        place = int(inside[row])
        bands = part.bands[place]
        worst = np.flatnonzero(bands == bands.max())
        limit = part.limits[int(worst[0])]
        figure = float(part.figures[place, worst[0]])
        return self._words(limit, figure, Severity(int(bands.max())), rises=rises)

    def _words(self, limit: Limit, figure: float, band: Severity, *, rises: bool) -> str:
        name = self._analytes[limit.analyte].name
        bounds = [bound for bound in limit.bounds()[: max(int(band), 1)] if bound is not None]
        bound = bounds[-1] if bounds else None
        told = name if np.isnan(figure) else f"{name} {figure:.4g}"
        if bound is None:
            return told
        return f"{told}, limit {bound:g}" if rises else f"{told}, limit was {bound:g}"


def _places(
    fleet: WhatIfFleet, told: Replay
) -> tuple[tuple[NDArray[np.int32], NDArray[np.int32]], ...]:
    """For each group and row, the part that judged it and its place there; -1 for none."""
    places = tuple(
        (np.full(len(group), -1, dtype=np.int32), np.zeros(len(group), dtype=np.int32))
        for group in fleet.columns.groups
    )
    for index, part in enumerate(told.parts):
        at, inside = places[part.group]
        at[part.rows] = index
        inside[part.rows] = np.arange(len(part.rows))
    return places


def _months(fleet: WhatIfFleet, before: Replay, after: Replay) -> tuple[MonthAlarms, ...]:
    first, last = fleet.since, fleet.today
    size = (last.year - first.year) * 12 + last.month - first.month + 1
    counts = np.zeros((3, size), dtype=np.int64)
    for place, group in enumerate(fleet.columns.groups):
        rows = fleet.year[place] & (group.taken_on <= last.toordinal())
        month = _month_of(group.taken_on[rows], first)
        for line, chosen in enumerate(
            (
                np.ones(len(month), dtype=bool),
                before.severity[place][rows] >= Severity.ACT,
                after.severity[place][rows] >= Severity.ACT,
            )
        ):
            counts[line] += np.bincount(month[chosen], minlength=size)[:size]
    begin = first.year * 12 + first.month - 1
    return tuple(
        MonthAlarms(
            month=date((begin + at) // 12, (begin + at) % 12 + 1, 1),
            samples=int(counts[0, at]),
            before=int(counts[1, at]),
            after=int(counts[2, at]),
        )
        for at in range(size)
    )


def _month_of(days: NDArray[np.int32], first: date) -> NDArray[np.int64]:
    """Months since the month of the first day."""
    epoch = date(1970, 1, 1).toordinal()
    months = (days.astype(np.int64) - epoch).astype("datetime64[D]").astype("datetime64[M]")
    begin = np.datetime64(first.isoformat(), "M")
    return (months - begin).astype(np.int64)


def _score(fleet: WhatIfFleet, told: Replay) -> FindingScore:
    caught = missed = false_alarms = 0
    for found in fleet.findings:
        worst = _worst_about(fleet, told, found)
        if worst is None:
            continue
        fired = worst >= Severity.ACT
        if found.is_fault:
            caught, missed = caught + fired, missed + (not fired)
        else:
            false_alarms += fired
    return FindingScore(caught=caught, missed=missed, false_alarms=false_alarms)


def _worst_about(fleet: WhatIfFleet, told: Replay, found: Found) -> int | None:
    """The worst severity of the samples a finding speaks about; ``None`` without one."""
    worst: int | None = None
    for place, group in enumerate(fleet.columns.groups):
        rows = rows_about(group.compartment, group.taken_on, found) & fleet.year[place]
        if rows.any():
            here = int(told.severity[place][rows].max())
            worst = here if worst is None else max(worst, here)
    return worst
