"""The sampling interval, window and convention of each box as they held, day by day.

The rules of the limit sets hold from day to day of their sets; where no rule covers a box, its own
interval of the register with its recorded changes. Where no change is known the present interval
holds for all time.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.limits.interval_rule import USUAL_WINDOW_SHARE, IntervalRule
from fluiddesk.domain.limits.limit_set import LimitSet, set_in_force
from fluiddesk.services.day_ordinals import day_ordinal
from fluiddesk.services.intervals_in_force import RuleFinder
from fluiddesk.storage import Desk, RecordKind

FROM_EVER: Final = 0
"""The day from which the first row of a box holds."""


class Held(NamedTuple):
    """What held from a day on; hours and days as they are written, ``None`` where not given."""

    hours: float | None
    days: int | None
    share: float = USUAL_WINDOW_SHARE
    is_grid: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldColumns:
    """Intervals of n boxes as they held; e rows by box and day, columns of shape (e,).

    Attributes:
        box: index of the box, rising; each box has a row from ever.
        since: day ordinal from which a row holds, ``FROM_EVER`` for the first of a box.
        hours: NaN where not given.
        days: NaN where not given.
        share: half width of the window as a share of the interval.
        is_grid: whether due points stand on a fixed grid.
    """

    box: NDArray[np.int64]
    since: NDArray[np.int64]
    hours: NDArray[np.float64]
    days: NDArray[np.float64]
    share: NDArray[np.float64]
    is_grid: NDArray[np.bool_]

    def words(self, row: int) -> str:
        """The interval of a row in words."""
        hours, days = float(self.hours[row]), float(self.days[row])
        told = [
            "" if np.isnan(hours) else f"{hours:g} h",
            "" if np.isnan(days) else f"{days:g} days",
        ]
        grid = ", fixed grid" if self.is_grid[row] else ""
        return (" or ".join(part for part in told if part) or "no interval") + grid


Change = tuple[int, float | None, int | None, float | None, int | None]
"""Day ordinal, old hours and days, new hours and days."""


def interval_changes(
    desk: Desk, compartments: Iterable[bytes] | None = None
) -> dict[bytes, list[Change]]:
    """By compartment (or of some), the recorded changes of its own interval, by day."""
    rows = (
        desk.register.all(RecordKind.INTERVAL_CHANGE)
        if compartments is None
        else [
            row
            for one in compartments
            for row in desk.register.all(RecordKind.INTERVAL_CHANGE, compartment_id=one)
        ]
    )
    found: dict[bytes, list[Change]] = {}
    for row in sorted(rows, key=lambda one: (one["valid_from"], one["id"])):
        found.setdefault(row["compartment_id"], []).append(
            (day_ordinal(row["valid_from"]), row["old_hours"], row["old_days"],
             row["new_hours"], row["new_days"])
        )  # fmt: skip
    return found


def held_columns(
    rows: Sequence[Any],
    sets: Sequence[LimitSet],
    changes: Mapping[bytes, Sequence[Change]],
    *,
    today: date,
) -> HeldColumns:
    """The intervals of boxes as they held until a day.

    Args:
        rows: named tuples with ``compartment_id``, ``machine_kind``, ``model``, ``kind``,
            ``interval_hours`` and ``interval_days``, the last two as the register has them now.
        sets: every limit set with its days and interval rules.
        changes: the recorded changes of the register's own intervals.
        today: changes after it do not count.
    """
    spans = _spans(sets, today)
    finders = [(since, RuleFinder(rules)) for since, rules in spans]
    if not changes and all(not rules for _, rules in spans):
        return _plain(rows)
    found: list[tuple[int, int, Held]] = []
    for place, row in enumerate(rows):
        own = _own(row, changes.get(row.compartment_id, ()), today.toordinal())
        found += ((place, since, one) for since, one in _merged(row, own, finders))
    box, since, held = zip(*found, strict=True) if found else ((), (), ())
    return HeldColumns(
        box=np.array(box, dtype=np.int64),
        since=np.array(since, dtype=np.int64),
        hours=np.array([one.hours for one in held], dtype=np.float64),
        days=np.array([one.days for one in held], dtype=np.float64),
        share=np.array([one.share for one in held], dtype=np.float64),
        is_grid=np.array([one.is_grid for one in held], dtype=np.bool_),
    )


def _plain(rows: Sequence[Any]) -> HeldColumns:
    """The register's intervals, for all time."""
    return HeldColumns(
        box=np.arange(len(rows)),
        since=np.full(len(rows), FROM_EVER, dtype=np.int64),
        hours=np.array([row.interval_hours for row in rows], dtype=np.float64),
        days=np.array([row.interval_days for row in rows], dtype=np.float64),
        share=np.full(len(rows), USUAL_WINDOW_SHARE),
        is_grid=np.zeros(len(rows), dtype=np.bool_),
    )


def _spans(sets: Sequence[LimitSet], today: date) -> list[tuple[int, tuple[IntervalRule, ...]]]:
    """From which day which rules held; before the first set the register alone."""
    edges = {one.valid_from for one in sets} | {
        one.valid_until for one in sets if one.valid_until is not None
    }
    days = sorted(day for day in edges if day <= today)
    spans: list[tuple[int, tuple[IntervalRule, ...]]] = []
    for day in days:
        held = set_in_force(sets, day)
        rules = held.intervals if held else ()
        if not spans or spans[-1][1] != rules:
            spans.append((day.toordinal(), rules))
    return [(FROM_EVER, ()), *spans]


def _own(row: Any, changes: Sequence[Change], today: int) -> list[tuple[int, Held]]:
    """The register's own interval of a box, by day."""
    known = [one for one in changes if one[0] <= today]
    if not known:
        return [(FROM_EVER, Held(row.interval_hours, row.interval_days))]
    first = known[0]
    return [
        (FROM_EVER, Held(first[1], first[2])),
        *((day, Held(hours, days)) for day, _, _, hours, days in known),
    ]


def _merged(
    row: Any, own: Sequence[tuple[int, Held]], finders: Sequence[tuple[int, RuleFinder]]
) -> list[tuple[int, Held]]:
    """Rules over the register's own, by day; days on which nothing changes are left out."""
    ruled = [(since, finder.rule(row)) for since, finder in finders]
    merged: list[tuple[int, Held]] = []
    for day in sorted({since for since, _ in (*own, *ruled)}):
        rule = [one for since, one in ruled if since <= day][-1]
        held = [one for since, one in own if since <= day][-1]
        if rule is not None:
            held = Held(
                rule.interval_hours,
                rule.interval_days,
                rule.window_share,
                rule.convention == "grid",
            )
        if not merged or merged[-1][1] != held:
            merged.append((day, held))
    return merged
