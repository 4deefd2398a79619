"""What a change of intervals or of a laboratory's days does to the chance, in one sentence."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.limits.interval_rule import IntervalRule
from fluiddesk.domain.units import percent_text
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.catch_chances.asking import chances, figures
from fluiddesk.services.catch_chances.facts import ChanceColumns, Chances, Lane
from fluiddesk.services.catch_chances.lanes import LabRecord
from fluiddesk.services.catch_chances.read import chance_columns, under_other_rules
from fluiddesk.services.intervals_in_force import interval_rules
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import RecordKind

_GROUPS_TOLD: Final = 3
_LITTLE: Final = 1e-6
_TO: Final = "\N{RIGHTWARDS ARROW}"


def intervals_told(
    columns: ChanceColumns, catalogue: Catalogue, rules: Sequence[IntervalRule]
) -> str:
    """What other interval rules would do to the chance; "" where no interval changes.

    Args:
        columns: the boxes as they are sampled now.
        catalogue: names of the kinds.
        rules: every interval rule that would hold then.
    """
    if tuple(rules) == columns.rules:
        return ""
    other = under_other_rules(columns, rules)
    now, then = chances(columns), chances(other)
    return _told(columns, catalogue, now, then, _differ(now.interval_hours, then.interval_hours))


def draft_told(
    place: Workplace,
    columns: ChanceColumns | None,
    rules: Sequence[IntervalRule],
    *,
    today: date,
) -> tuple[ChanceColumns | None, str]:
    """What the intervals of a draft would do to the chance, with the columns for the next asking.

    The fleet is read only once a draft differs from what is in force.

    Args:
        place: where to look.
        columns: as an earlier asking gave them, ``None`` at the first.
        rules: every interval rule of the draft.
        today: the day.
    """
    if columns is None:
        with place.store.reading() as desk:
            if interval_rules(desk, today) == tuple(rules):
                return None, ""
        columns = chance_columns(place, today=today)
    return columns, intervals_told(columns, place.catalogue, rules)


def lab_record(place: Workplace, code: str) -> LabRecord:
    """What the register says of a laboratory; nothing where it has none of that code."""
    with place.store.reading() as desk:
        found = (row for row in desk.register.all(RecordKind.LABORATORY) if row["code"] == code)
        row = next(found, None)
    if row is None:
        return LabRecord(code=code, name=code, lane_days=None, turnaround_days=None)
    return LabRecord(
        code=code,
        name=row["name"],
        lane_days=row["lane_days"],
        turnaround_days=row["turnaround_days"],
    )


def lab_told(place: Workplace, *, before: LabRecord, after: LabRecord, today: date) -> str:
    """What the days on a laboratory's record do to the chance; "" where they are the same.

    Where its lanes are measured the record changes nothing, which is said.
    """
    if before.answer_days == after.answer_days:
        return ""
    columns = chance_columns(place, today=today)
    lanes = np.unique(columns.lane).tolist()
    ours = [at for at in lanes if columns.lanes[at].laboratory == after.code]
    if not ours:
        return ""
    names = ", ".join(columns.lanes[at].site for at in ours)
    if all(columns.lanes[at].is_measured for at in ours):
        return (
            f"The chance to catch a fault stays as it is: the days to {after.name} are measured "
            f"for {names}."
        )
    was, is_now = (chances(_with_record(columns, one)) for one in (before, after))
    return _told(columns, place.catalogue, was, is_now, np.isin(columns.lane, ours))


def _with_record(columns: ChanceColumns, record: LabRecord) -> ChanceColumns:
    """The columns as they are with those days on a laboratory's record."""

    def under(lane: Lane) -> Lane:
        if lane.laboratory != record.code or lane.is_measured:
            return lane
        days = record.answer_days
        return replace(lane, days=lane.days_without_record if days is None else days)

    return replace(columns, lanes=tuple(under(lane) for lane in columns.lanes))


def _differ(before: NDArray[np.float64], after: NDArray[np.float64]) -> NDArray[np.bool_]:
    same = np.isnan(before) & np.isnan(after)
    return ~same & ~(np.abs(before - after) < _LITTLE)


def _told(
    columns: ChanceColumns,
    catalogue: Catalogue,
    now: Chances,
    then: Chances,
    changed: NDArray[np.bool_],
) -> str:
    """The groups that change most, by kind of box, with the bottles a year."""
    if not changed.any():
        return ""
    kinds = np.array([row.kind for row in columns.rows])
    found = []
    for kind in np.unique(kinds[changed]).tolist():
        mine = changed & (kinds == kind)
        sites = {columns.rows[at].site for at in np.flatnonzero(mine).tolist()}
        where = f" of {next(iter(sites))}" if len(sites) == 1 else ""
        before, after = figures(now, mine), figures(then, mine)
        name = f"{catalogue.kind_name(kind)}{where}"
        text = f"{name} {_share(before.mean)} {_TO} {_share(after.mean)}"
        found.append((int(mine.sum()), text))
    found.sort(key=lambda one: (-one[0], one[1]))
    words = "; ".join(text for _, text in found[:_GROUPS_TOLD])
    rest = len(found) - _GROUPS_TOLD
    words += f"; and {rest} more kinds" if rest > 1 else "; and one more kind" if rest == 1 else ""
    taken, to_take = (round(figures(one, changed).bottles) for one in (now, then))
    bottles = f" Bottles a year: {taken:,} {_TO} {to_take:,}." if taken != to_take else ""
    return f"Chance to catch a fault: {words}.{bottles}"


def _share(value: float | None) -> str:
    return "none" if value is None else percent_text(value)
