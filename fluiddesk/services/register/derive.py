"""What follows from a change of the register: true hours, usage, packed histories and verdicts."""

import math
from collections.abc import Collection, Iterable, Sequence
from datetime import date, datetime
from typing import Final

import numpy as np

from fluiddesk.domain.fleet import Certainty, EventKind, Meter, true_hours
from fluiddesk.domain.identity import CompartmentId, MachineId
from fluiddesk.domain.trends.usage import usage
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.reassess.blocks import refresh_blocks
from fluiddesk.services.reassess.fleet import reassess_boxes
from fluiddesk.services.register.owners import earlier_machines
from fluiddesk.storage import Desk, HoursRecord, UsageRecord

_USUAL_HOURS_PER_DAY: Final = 8.0
"""Where the catalogue lacks the machine's kind (common practice, no source)."""

_SAME_HOURS: Final = 1e-6

FLEET_ONLY: Final = Changes(subjects=frozenset({Subject.FLEET}))


def rejudge(
    desk: Desk, catalogue: Catalogue, compartments: Collection[CompartmentId], *, moment: datetime
) -> Changes:
    """Build the histories of boxes anew and judge them; boxes without results stay as they are."""
    known = {key for key, _ in desk.blocks.pairs(compartments)} if compartments else set()
    touched = frozenset(known & set(compartments))
    if not touched:
        return FLEET_ONLY
    refresh_blocks(desk, touched)
    reassess_boxes(desk, catalogue, moment=moment, compartments=touched)
    subjects = frozenset({Subject.FLEET, Subject.ASSESSMENTS})
    return Changes(subjects=subjects, compartments=touched)


def refresh_usage(desk: Desk, catalogue: Catalogue, machines: Iterable[MachineId]) -> None:
    """Work out anew how much machines have run and run, from their meter readings.

    Readings at sites that owned a machine before count on. The readings' true hours must be right
    already (see ``refresh_true_hours``).
    """
    known = {one.id: one for one in desk.fleet.machines()}
    records = []
    for key in machines:
        machine = known[key]
        seen = _readings_of(desk, key)
        kind = catalogue.machine_kinds.get(machine.kind)
        found = usage(
            days=np.array([day for day, _ in seen], dtype=np.int64),
            hours=np.array([hours for _, hours in seen]),
            fallback_hours_per_day=kind.hours_per_day if kind else _USUAL_HOURS_PER_DAY,
        )
        if found is None:
            desk.hours.forget_usage(machine.site, key)
            continue
        spread = 0.0 if math.isnan(found.spread) else found.spread
        records.append(
            UsageRecord(
                site=machine.site,
                machine=key,
                hours_now=found.hours_now,
                as_of=date.fromordinal(found.as_of),
                hours_per_day=found.hours_per_day,
                hours_per_day_spread=spread,
                readings=found.readings,
            )
        )
    desk.fleet.save_usage(records)


def _readings_of(desk: Desk, machine: MachineId) -> list[tuple[int, float]]:
    """Day ordinals and true hours, each once: the last one before a transfer is in both records."""
    readings = desk.fleet.meter_readings(machine)
    own = [(one.read_on.toordinal(), one.true_hours) for one in readings]
    if not own:
        return []
    since = own[0][0]
    earlier = [
        (one.read_on.toordinal(), one.true_hours)
        for before in earlier_machines(desk, machine)
        for one in desk.fleet.meter_readings(before)
    ]
    return [*(pair for pair in earlier if pair[0] < since), *own]


def refresh_true_hours(
    desk: Desk, machine: MachineId, *, since: date | None = None
) -> frozenset[CompartmentId]:
    """Work out anew the true hours of a machine's readings, and of samples with a meter value.

    Args:
        desk: an open transaction.
        machine: whose.
        since: samples taken on this day or later are worked out too, as after a change of a meter
            that counts from then on; none where it is left out.

    Returns:
        The boxes with a sample whose hours changed: they are to be judged again.
    """
    meters = desk.fleet.meters(machine)
    readings = desk.hours.readings(machine)
    if not meters:
        return frozenset()
    ages = _ages(meters, readings)
    desk.hours.set_reading_hours(
        [pair for pair in zip(readings, ages, strict=True) if _differs(*pair)]
    )
    if since is None:
        return frozenset()
    moved = []
    for sample in desk.hours.samples(machine, since=since):
        # Alone beside the readings: a mistyped sample makes no roll-over for the others.
        age = _ages(meters, [*readings, sample])[-1]
        if _differs(sample, age):
            moved.append((sample, age, _fluid_hours(desk, sample, age, since=since)))
    desk.hours.set_sample_hours(moved)
    return frozenset(CompartmentId(sample.compartment) for sample, _, _ in moved)


def _ages(meters: Sequence[Meter], seen: Sequence[HoursRecord]) -> list[float]:
    if not seen:
        return []
    days = np.array([one.on.toordinal() for one in seen], dtype=np.int64)
    values = np.array([one.value for one in seen], dtype=np.float64)
    ages: list[float] = true_hours(meters, read_on=days, values=values).tolist()
    return ages


def _differs(kept: HoursRecord, age: float) -> bool:
    return kept.true_hours is None or abs(kept.true_hours - age) > _SAME_HOURS


def _fluid_hours(desk: Desk, sample: HoursRecord, age: float, *, since: date) -> float | None:
    """Hours on the fluid after the machine's age at the sample was put right.

    A fill that began after the meter was fitted lies wholly on it: its hours stay.
    """
    if sample.fluid_hours is None or sample.true_hours is None:
        return sample.fluid_hours
    changes = [
        event.happened_on
        for event in desk.fleet.events(CompartmentId(sample.compartment))
        if event.kind is EventKind.FLUID_CHANGE
        and event.certainty is not Certainty.DENIED
        and since <= event.happened_on <= sample.on
    ]
    return sample.fluid_hours if changes else sample.fluid_hours + age - sample.true_hours
