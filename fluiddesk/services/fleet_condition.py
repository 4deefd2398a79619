"""The fleet at a glance: the current condition of every box, what is due, and one sentence."""

import operator
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.fleet import MachineState
from fluiddesk.domain.limits.limit_set import LimitSet, set_in_force
from fluiddesk.domain.limits.settings import USUAL, settings_of
from fluiddesk.domain.sampling.due import (
    DueColumns,
    DuePoints,
    DueState,
    due_columns,
    due_points,
)
from fluiddesk.domain.sampling.window import GROUND_RULE, WindowRule
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.day_ordinals import day_ordinal
from fluiddesk.services.due_counting.grid_points import GridPoints, grid_points
from fluiddesk.services.intervals_in_force import interval_rules, under_rules
from fluiddesk.services.planned_changes import PlannedChanges, owed_before, planned_changes
from fluiddesk.services.special_intervals import SpecialRows, special_columns, special_rows
from fluiddesk.services.workplace import Workplace


class BoxRow(NamedTuple):
    """The current condition of one compartment as stored; fields as ``CONDITION_COLUMNS``."""

    site_id: int
    site: str
    machine_id: bytes
    machine: str
    machine_kind: str
    model: str
    machine_state: str
    compartment_id: bytes
    kind: str
    position: str
    interval_hours: float | None
    interval_days: int | None
    severity: int | None
    trust: int | None
    taken_on: date | str | None
    true_hours: float | None
    fluid_hours: float | None
    direction: int | None
    headline: str | None
    reasons: str | None
    first_seen_on: date | str | None
    hours_now: float | None
    usage_as_of: date | str | None
    hours_per_day: float | None
    sample_id: bytes | None
    previous_severity: int | None
    criticality: int
    fluid_code: str
    awaited_on: date | str | None = None
    awaited_hours: float | None = None


_FIELDS: Final = len(BoxRow._fields)
_UNKNOWN_KIND: Final = 999
"""Compartment kinds that the catalogue lacks stand last."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetCondition:
    """Every box of the fleet, in order of site, machine and power path; all columns shape (n,).

    Attributes:
        rows: the boxes.
        severity: values of ``Severity``; ``NO_VERDICT`` for a box without a believed sample.
        trust: values of ``Trust`` of the last sample.
        age_days: days since the last sample, -1 where there is none.
        direction: 1 rising, 0 level, -1 falling.
        is_stale: whether two intervals have passed since the last sample.
        due: what is due.
        is_awaited: whether a newer sample was drawn whose report has not come.
        machine: index of the machine each box belongs to, rising; machines as first seen.
        special: why a box is due sooner than usual, or before which fluid change; "" where the
            usual interval alone says when.
        changes: the next planned fluid changes; ``None`` where no box has one.
        usual: what would be due without special intervals and planned changes.
        usual_at: the due points of that.
        registered: the boxes with the interval of the register, whatever the rules say.
        is_grid: whether due points stand on a fixed grid.
    """

    today: date
    rows: Sequence[BoxRow]
    severity: NDArray[np.int8]
    trust: NDArray[np.int8]
    age_days: NDArray[np.int32]
    direction: NDArray[np.int8]
    is_stale: NDArray[np.bool_]
    due: DueColumns
    is_awaited: NDArray[np.bool_]
    machine: NDArray[np.int32]
    usual: DueColumns
    usual_at: DuePoints
    registered: Sequence[BoxRow]
    is_grid: NDArray[np.bool_]
    special: tuple[str, ...] = ()
    changes: PlannedChanges | None = None

    def __len__(self) -> int:
        return len(self.rows)

    def before_change(self, at: int) -> str:
        """The fluid change that a box's next sample is drawn before, in words; "" for none."""
        if self.changes is None or not self.changes.is_before[at]:
            return ""
        return self.changes.words(at)

    def machines_at(self, severity: Severity) -> int:
        """How many machines have this as their worst severity."""
        if not len(self.rows):
            return 0
        return int((self.machine_severity() == severity).sum())

    def machine_severity(self) -> NDArray[np.int8]:
        """The worst severity of each machine, shape (number of machines,)."""
        if not len(self.rows):
            return np.zeros(0, dtype=np.int8)
        starts = np.flatnonzero(np.diff(self.machine, prepend=-1))
        worst: NDArray[np.int8] = np.maximum.reduceat(self.severity, starts)
        return worst

    @property
    def sentence(self) -> str:
        """What a manager must know first, in one line."""
        if not len(self.rows):
            return "No machines yet. Open the sample fleet, or start your own register."
        urgent, act = self.machines_at(Severity.URGENT), self.machines_at(Severity.ACT)
        waiting = urgent + act
        first = (
            f"{_count(waiting, 'machine needs', 'machines need')} your decision"
            + (f", {urgent} of them Urgent" if urgent and waiting > 1 else "")
            + (" (Urgent)" if urgent and waiting == 1 else "")
            if waiting
            else "No machine needs a decision"
        )
        overdue = int((self.due.state == DueState.OVERDUE).sum())
        never = int((self.due.state == DueState.NEVER_SAMPLED).sum())
        suspect = int((self.trust == Trust.SUSPECT).sum())
        waiting = int(self.is_awaited.sum())
        rest = [
            f"{_count(overdue, 'box', 'boxes')} overdue for a sample" if overdue else "",
            f"{never} never sampled" if never else "",
            f"{waiting} at the laboratory" if waiting else "",
            f"{suspect} in doubt" if suspect else "",
        ]
        told = ", ".join(part for part in rest if part)
        return f"{first}; {told}." if told else f"{first}; every box is in its interval."


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def fleet_condition(place: Workplace, *, today: date) -> FleetCondition:
    """Read the current condition of every box in one statement, and work out what is due."""
    with place.store.reading() as desk:
        raw = desk.condition.rows()
        rules = interval_rules(desk, today)
        special = special_rows(desk, today=today)
        held = set_in_force(desk.limits.heads(), today)
        kinds = {code: kind.order for code, kind in place.catalogue.compartment_kinds.items()}
        registered = _by_power_path(raw, kinds)
        grid = grid_points(desk, registered, rules, today=today)
    rows, window = under_rules(registered, rules)
    found = condition_columns(
        rows,
        today=today,
        window_share=window,
        special=special,
        stale_after=stale_after(held),
        grid=grid,
    )
    return replace(found, registered=registered)


def stale_after(held: LimitSet | None) -> float:
    """After how many missed intervals a verdict is stale, by the set in force."""
    return (USUAL if held is None else settings_of(held.settings)).stale_after


def _by_power_path(raw: Sequence[tuple[Any, ...]], kinds: Mapping[str, int]) -> Sequence[BoxRow]:
    """The rows by site, machine, power path and position; they come by site and machine."""
    if not raw:
        return []
    columns: Any = BoxRow._make(zip(*raw, strict=True))
    sites = {name: place for place, name in enumerate(sorted(set(columns.site)))}
    by_kind = np.array([kinds.get(kind, _UNKNOWN_KIND) for kind in columns.kind])
    by_site = np.array([sites[name] for name in columns.site])
    order = np.lexsort((by_kind, _runs(columns.machine_id), by_site))
    return [BoxRow._make(raw[place]) for place in order.tolist()]


def condition_columns(
    rows: Sequence[BoxRow],
    *,
    today: date,
    window_share: NDArray[np.float64] | None = None,
    special: SpecialRows | None = None,
    stale_after: float = USUAL.stale_after,
    grid: GridPoints | None = None,
) -> FleetCondition:
    """Lay the boxes out as columns.

    Args:
        rows: the boxes, with the interval that holds for each; those of one machine together.
        today: the day asked about.
        window_share: half width of each box's window as a share of its interval; a tenth where
            it is left out.
        special: what makes boxes due sooner than usual.
        stale_after: a verdict is stale after so many missed intervals.
        grid: the due points of boxes on a fixed grid.
    """
    told: Any = BoxRow._make(zip(*rows, strict=True) if rows else [()] * _FIELDS)
    taken_on, awaited_on = _ordinals(told.taken_on), _ordinals(told.awaited_on)
    is_awaited = awaited_on > taken_on
    # A bottle at the laboratory counts: the sample was drawn, only its answer is missing.
    drawn_on = np.maximum(taken_on, awaited_on)
    at_hours = np.where(is_awaited, _floats(told.awaited_hours), _floats(told.true_hours))
    hours, days = _floats(told.interval_hours), _floats(told.interval_days)

    known: dict[str, Any] = {
        "today": today.toordinal(),
        "taken_on": drawn_on,
        "taken_at_hours": at_hours,
        "hours_now": _floats(told.hours_now),
        "hours_as_of": _ordinals(told.usage_as_of),
        "hours_per_day": _floats(told.hours_per_day),
        "is_excused": np.array([one != MachineState.WORKING for one in told.machine_state], bool),
        "rule": GROUND_RULE if window_share is None else WindowRule(share=window_share),
    }
    made = _what_is_due(rows, known, (hours, days), special=special, grid=grid)
    age = np.where(taken_on > 0, today.toordinal() - taken_on, -1).astype(np.int32)
    interval = made.by_last_sample.due_on.astype(np.float64) - drawn_on
    has_interval = made.usual.state != DueState.NO_INTERVAL
    return FleetCondition(
        today=today,
        rows=rows,
        severity=_small_numbers(told.severity, missing=Severity.NO_VERDICT),
        trust=_small_numbers(told.trust, missing=Trust.GOOD),
        age_days=age,
        direction=_small_numbers(told.direction, missing=0),
        is_stale=(taken_on > 0) & (age > interval * stale_after) & has_interval,
        due=made.due,
        is_awaited=is_awaited,
        machine=_runs(told.machine_id),
        usual=made.usual,
        usual_at=made.usual_at,
        registered=rows,
        is_grid=np.zeros(len(rows), dtype=np.bool_) if grid is None else grid.is_grid,
        special=made.why,
        changes=made.changes,
    )


class _Due(NamedTuple):
    """What is due: counted from the last samples, by the boxes' conventions, and with the rest."""

    by_last_sample: DueColumns
    usual: DueColumns
    usual_at: DuePoints
    due: DueColumns
    why: tuple[str, ...]
    changes: PlannedChanges | None


def _what_is_due(
    rows: Sequence[BoxRow],
    known: dict[str, Any],
    intervals: tuple[NDArray[np.float64], NDArray[np.float64]],
    *,
    special: SpecialRows | None,
    grid: GridPoints | None,
) -> _Due:
    """Work out what is due, from what ``due_columns`` asks for by its names."""
    hours, days = intervals
    drawn_on, at_hours = known["taken_on"], known["taken_at_hours"]
    last = usual = due_columns(**known, interval_hours=hours, interval_days=days)
    usual_at = due_points(drawn_on, at_hours, hours, days)
    if grid is not None:
        usual_at = grid.over(usual_at)
        usual = due_columns(**known, interval_hours=hours, interval_days=days, due_at=usual_at)
    if special is None:
        return _Due(last, usual, usual_at, usual, ("",) * len(rows), None)
    sooner = special_columns(rows, special, drawn_on=drawn_on, drawn_at_hours=at_hours)
    asked = due_points(drawn_on, at_hours, sooner.hours, sooner.days)
    at = DuePoints(np.fmin(usual_at.hours, asked.hours), np.fmin(usual_at.day, asked.day))
    hours, days = np.fmin(hours, sooner.hours), np.fmin(days, sooner.days)
    due = due_columns(**known, interval_hours=hours, interval_days=days, due_at=at)
    why = _why_sooner(sooner.why, due.due_on < usual.due_on)
    planned = planned_changes(rows, special.changes, special.asked, known)
    due, why, changes = owed_before(due, planned, known, why)
    return _Due(last, usual, usual_at, due, why, changes)


def _why_sooner(why: Sequence[str], is_sooner: NDArray[np.bool_]) -> tuple[str, ...]:
    return tuple(word if one else "" for word, one in zip(why, is_sooner.tolist(), strict=True))


def _runs(values: Sequence[bytes]) -> NDArray[np.int32]:
    """Number the runs of equal values, from 0."""
    starts = map(operator.ne, values[1:], values[:-1])
    return np.cumsum([0, *starts] if values else [], dtype=np.int32)


def _floats(values: Sequence[float | int | None]) -> NDArray[np.float64]:
    # numpy reads None as "not a number" here.
    return np.array(values, dtype=np.float64)


def _small_numbers(values: Sequence[int | None], *, missing: int) -> NDArray[np.int8]:
    return np.array([missing if value is None else value for value in values], dtype=np.int8)


def _ordinals(days: Sequence[date | str | None]) -> NDArray[np.int32]:
    """Day ordinals, 0 for "none"; each day that occurs is read once."""
    known = {day: _ordinal(day) for day in set(days)}
    return np.array([known[day] for day in days], dtype=np.int32)


def _ordinal(day: date | str | None) -> int:
    return 0 if day is None else day_ordinal(day)


@dataclass(frozen=True, slots=True, kw_only=True)
class ConditionLine:
    """The latest verdict of one box in words."""

    site: str
    machine: str
    compartment: str
    severity: Severity
    trust: Trust
    sampled_on: date | None
    reasons: tuple[str, ...]
    is_stale: bool = False


def condition_lines(fleet: FleetCondition, catalogue: Catalogue) -> tuple[ConditionLine, ...]:
    """Every box's verdict with its reasons, worst first, then by site, machine and compartment."""
    # Imported here, so that the fleet page does not wait for the limits.
    from fluiddesk.services.reassess.wording import reason_text, reason_title, reasons_from_text

    lines = [
        ConditionLine(
            site=row.site,
            machine=row.machine,
            compartment=catalogue.box_name(row.kind, row.position),
            severity=Severity(int(fleet.severity[index])),
            trust=Trust(int(fleet.trust[index])),
            sampled_on=date.fromordinal(fleet.today.toordinal() - int(fleet.age_days[index]))
            if fleet.age_days[index] >= 0
            else None,
            reasons=tuple(
                f"{reason_title(rule, catalogue.analytes)}: {reason_text(rule, catalogue.analytes)}"
                for rule in reasons_from_text(row.reasons)
            ),
            is_stale=bool(fleet.is_stale[index]),
        )
        for index, row in enumerate(fleet.rows)
    ]
    return tuple(
        sorted(lines, key=lambda line: (-line.severity, line.site, line.machine, line.compartment))
    )
