"""Compliance of a period by site, kind, month, sampler or machine, and the events behind it."""

from collections.abc import Sequence
from datetime import date

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.sampling.compliance import RoutineSamples, compliance
from fluiddesk.domain.sampling.outcome import Outcome
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.interval_compliance.facts import (
    ComplianceLine,
    ComplianceTable,
    EventBox,
    EventColumns,
    EventLine,
    GroupBy,
)

IntArray = NDArray[np.int64]
_NOBODY = "(no sample, or nobody named)"


def compliance_table(
    events: EventColumns, catalogue: Catalogue, *, first_day: date, last_day: date, by: GroupBy
) -> ComplianceTable:
    """Measure the due events whose window closed in a period.

    Args:
        events: the fleet's due events.
        catalogue: for the names of kinds.
        first_day: first day of the period.
        last_day: its last day.
        by: what the lines are told by; months without an event have no line.

    Raises:
        WearInputError: the period ends before it begins.
    """
    names, event_group, sample_group = _groups(events, catalogue, by)
    samples = RoutineSamples(
        group=sample_group, taken_on=events.sample_day, is_early=events.sample_is_early
    )
    period = {"first_day": first_day.toordinal(), "last_day": last_day.toordinal()}
    measured = compliance(
        events.outcome,
        samples,
        group=event_group,
        groups=len(names),
        closed_on=events.closes_on,
        **period,
    )
    [total] = compliance(
        events.outcome,
        RoutineSamples(
            group=np.zeros_like(sample_group),
            taken_on=events.sample_day,
            is_early=events.sample_is_early,
        ),
        group=np.zeros_like(event_group),
        groups=1,
        closed_on=events.closes_on,
        **period,
    )
    lines = [
        ComplianceLine(group=name, measures=one)
        for name, one in zip(names, measured, strict=True)
        if one.due or one.early_samples.of
    ]
    return ComplianceTable(
        first_day=first_day,
        last_day=last_day,
        by=by,
        lines=tuple(_ordered(lines, by)),
        total=total,
    )


def _ordered(lines: Sequence[ComplianceLine], by: GroupBy) -> list[ComplianceLine]:
    """Months in their order, everything else worst first; groups that owed nothing last."""
    if by is GroupBy.MONTH:
        return sorted(lines, key=lambda one: one.group)

    def key(line: ComplianceLine) -> tuple[float, str]:
        percent = line.measures.on_time_share.percent
        return (101.0 if percent is None else percent, line.group)

    return sorted(lines, key=key)


def _groups(
    events: EventColumns, catalogue: Catalogue, by: GroupBy
) -> tuple[list[str], IntArray, IntArray]:
    """Names of the groups, and the group of each event and of each routine sample."""
    if by is GroupBy.SAMPLER:
        names = [name or _NOBODY for name in events.samplers]
        return names, events.sampler, events.sample_sampler
    if by is GroupBy.MONTH:
        return _months(events)
    of_box = [_name(one, catalogue, by) for one in events.boxes]
    names = sorted(set(of_box))
    place = {name: at for at, name in enumerate(names)}
    number = np.array([place[name] for name in of_box], dtype=np.int64)
    return names, number[events.box], number[events.sample_box]


def _name(box: EventBox, catalogue: Catalogue, by: GroupBy) -> str:
    if by is GroupBy.MACHINE_KIND:
        return catalogue.machine_kind_name(box.machine_kind)
    if by is GroupBy.COMPARTMENT_KIND:
        return catalogue.kind_name(box.compartment_kind)
    return f"{box.machine}, {box.site}" if by is GroupBy.MACHINE else box.site


def _months(events: EventColumns) -> tuple[list[str], IntArray, IntArray]:
    days = np.concatenate([events.closes_on, events.sample_day])
    # Ordinal 719163 is 1 January 1970, where numpy begins to count.
    months = (days - 719_163).astype("datetime64[D]").astype("datetime64[M]")
    found, number = np.unique(months, return_inverse=True)
    number = number.astype(np.int64)
    return [str(one) for one in found], number[: len(events)], number[len(events) :]


def event_lines(
    events: EventColumns,
    *,
    first_day: date,
    last_day: date,
    outcomes: frozenset[Outcome] | None = None,
    compartment: bytes | None = None,
) -> tuple[EventLine, ...]:
    """The due events of a period one by one, by site, machine, box and day.

    Args:
        events: the fleet's due events.
        first_day: first day on which the window closed.
        last_day: last one.
        outcomes: only these; all where ``None``.
        compartment: only of this box.
    """
    inside = (events.closes_on >= first_day.toordinal()) & (
        events.closes_on <= last_day.toordinal()
    )
    if outcomes is not None:
        inside &= np.isin(events.outcome.outcome, [int(one) for one in outcomes])
    lines = [_line(events, row) for row in np.flatnonzero(inside).tolist()]
    if compartment is not None:
        lines = [one for one in lines if one.compartment_id == compartment]
    return tuple(
        sorted(lines, key=lambda one: (one.site, one.machine, one.compartment, one.due_on))
    )


def _line(events: EventColumns, row: int) -> EventLine:
    box = events.boxes[int(events.box[row])]
    due_on, hours = int(events.due_on[row]), float(events.due_hours[row])
    sampled, late = int(events.sampled_on[row]), float(events.outcome.late_by[row])
    return EventLine(
        site=box.site,
        machine=box.machine,
        compartment=box.compartment,
        compartment_id=box.compartment_id,
        due_on=date.fromordinal(due_on),
        window=(
            date.fromordinal(int(events.opens_on[row])),
            date.fromordinal(int(events.closes_on[row])),
        ),
        due_hours=None if np.isnan(hours) else hours,
        sampled_on=date.fromordinal(sampled) if sampled else None,
        sampler=events.samplers[int(events.sampler[row])],
        outcome=Outcome(int(events.outcome.outcome[row])),
        late_by_percent=100.0 * late if late else None,
        reason=events.reasons.get((box.compartment_id, due_on), ""),
        interval=events.held.words(int(events.held_row[row])),
    )
