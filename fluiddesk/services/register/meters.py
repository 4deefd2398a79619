"""Meters, their readings, replacements and roll-overs; true hours follow from them."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import Any, Final

import numpy as np

from fluiddesk.domain.fleet import Meter, MeterFault, meter_doubts, meter_faults, true_hours
from fluiddesk.domain.identity import MachineId
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.changes import Changes
from fluiddesk.services.register.derive import (
    FLEET_ONLY,
    refresh_true_hours,
    refresh_usage,
    rejudge,
)
from fluiddesk.services.register.facts import NEW, FieldFault, MeterFacts, ReadingFacts
from fluiddesk.services.register.machines import machine_row
from fluiddesk.services.register.saving import Faults, Saved, write_record
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, RecordKey, RecordKind

SOURCES: Final = ("sampler", "telemetry", "fuel_slip", "estimate", "desk")
UNITS: Final = ("h", "km")

Seen = tuple[date, float]
"""What a meter showed on a day."""


def save_meter(place: Workplace, facts: MeterFacts, *, today: date, moment: datetime) -> Saved:
    """Add a machine's first meter (version 0), or correct one that is there.

    A correction works out anew the hours that follow from it. For a further meter see
    ``replace_meter``.

    Raises:
        RegisterFaultsError: naming each wrong field; also where readings could not be true then.
        StaleRecordError: when somebody else saved it since it was read.
    """
    with place.store.transaction(who=place.who, moment=moment) as desk:
        if facts.version == NEW:
            return put_first_meter(desk, place.catalogue, facts, today=today)
        records = desk.fleet.meter_records(facts.machine)
        faults = _meter_faults(machine_row(desk, facts.machine)["code"], facts, today=today)
        faults.refuse()
        since = min(
            [record.meter.fitted_on for record in records if record.id == facts.id]
            + [facts.fitted_on or today]
        )
        meters = [one.meter for one in records if one.id != facts.id]
        meters = sorted([*meters, _meter(facts)], key=lambda one: one.fitted_on)
        _refuse_impossible(desk, facts.machine, meters, faults)
        return _written(desk, place.catalogue, facts, since=since)


def put_first_meter(desk: Desk, catalogue: Catalogue, facts: MeterFacts, *, today: date) -> Saved:
    """Add the first meter of a machine in an open transaction; see ``save_meter``."""
    faults = _meter_faults(machine_row(desk, facts.machine)["code"], facts, today=today)
    if desk.fleet.meter_records(facts.machine):
        text = "The machine has a meter already. Record a replacement instead."
        faults.add("fitted_on", facts.fitted_on, text)
    faults.refuse()
    return _written(desk, catalogue, facts, since=facts.fitted_on or today)


def _written(desk: Desk, catalogue: Catalogue, facts: MeterFacts, *, since: date) -> Saved:
    key = RecordKey(RecordKind.METER, facts.site, facts.id or desk.new_id())
    name = f"meter of machine {machine_row(desk, facts.machine)['code']}"
    write_record(desk, key, _values(facts), version=facts.version, name=name)
    return Saved(changes=_refresh(desk, catalogue, facts.machine, since=since), key=key.key)


def replace_meter(
    place: Workplace,
    facts: MeterFacts,
    *,
    ends_last_at: float | None,
    today: date,
    moment: datetime,
) -> Saved:
    """Fit a new meter in place of the one that counts now. Nothing but the meter changes.

    Args:
        place: where to work.
        facts: the new meter: its unit, the day, what it showed then. Its ``hours_before`` follow
            from the old one unless they are given.
        ends_last_at: what the old meter showed last; its last reading where it is not known.
        today: the day of the desk.
        moment: when it is saved.

    Raises:
        RegisterFaultsError: naming each wrong field; also where readings could not be true then.
    """
    with place.store.transaction(who=place.who, moment=moment) as desk:
        return put_replacement(desk, place.catalogue, facts, ends_last_at=ends_last_at, today=today)


def put_replacement(
    desk: Desk, catalogue: Catalogue, facts: MeterFacts, *, ends_last_at: float | None, today: date
) -> Saved:
    """Fit a new meter in an open transaction; see ``replace_meter``."""
    row = machine_row(desk, facts.machine)
    name = f"meter of machine {row['code']}"
    faults = _meter_faults(row["code"], facts, today=today)
    records = desk.fleet.meter_records(facts.machine)
    if not records:
        faults.add("fitted_on", facts.fitted_on, "The machine has no meter yet. Add its first one.")
    faults.refuse()
    day, last, old = facts.fitted_on or today, records[-1], [one.meter for one in records]
    if day <= last.meter.fitted_on:
        text = (
            f"The meter now counting was fitted on {last.meter.fitted_on.isoformat()}; the new one "
            f"cannot be fitted on {day.isoformat()}. Correct the day."
        )
        faults.add("fitted_on", day, text)
        faults.refuse()
    before = [seen for seen in _seen(desk, facts.machine) if seen[0] < day]
    end = ends_last_at
    if end is None:
        on_last = [value for on, value in before if on >= last.meter.fitted_on]
        end = on_last[-1] if on_last else last.meter.start_value
    for fault in _new_faults(old, [*before, (day, end)], at=len(before)):
        faults.add("ends_last_at", end, fault.text)
    faults.refuse()
    age = facts.hours_before or _ages(old, [*before, (day, end)])[-1]
    facts = replace(facts, hours_before=age)
    _refuse_impossible(desk, facts.machine, [*old, _meter(facts)], faults)
    ended = RecordKey(RecordKind.METER, facts.site, last.id)
    values = {"removed_on": day, "end_value": float(end)}
    desk.register.change(ended, values, version=None, name=name)
    key = RecordKey(RecordKind.METER, facts.site, facts.id or desk.new_id())
    desk.register.add(key, _values(facts), name=name)
    return Saved(changes=_refresh(desk, catalogue, facts.machine, since=day), key=key.key)


def add_reading(place: Workplace, facts: ReadingFacts, *, today: date, moment: datetime) -> Saved:
    """Note what a meter showed on a day; see ``put_reading``."""
    with place.store.transaction(who=place.who, moment=moment) as desk:
        return put_reading(desk, place.catalogue, facts, today=today)


def put_reading(desk: Desk, catalogue: Catalogue, facts: ReadingFacts, *, today: date) -> Saved:
    """Note a meter reading in an open transaction; what is due follows from it.

    Returns:
        With a warning where it is more than full days can give: it was read late, or it is wrong.

    Raises:
        RegisterFaultsError: when the reading cannot be true: backwards, faster than the clock,
            ahead of today; or would make a later one untrue.
    """
    row = machine_row(desk, facts.machine)
    faults = Faults(f"Machine {row['code']}")
    faults.needs_day("read_on", facts.read_on, "of the reading", today=today)
    faults.needs_number("value", facts.value, "The meter reading")
    faults.needs_choice("source", facts.source, SOURCES, "Source of the reading")
    meters = desk.fleet.meter_records(facts.machine)
    if not meters:
        faults.add("value", facts.value, "The machine has no meter. Record its meter first.")
    faults.refuse()
    day, value = facts.read_on or today, float(facts.value or 0.0)
    seen = _seen(desk, facts.machine)
    plain = [one.meter for one in meters]
    told = {fault.text for fault in _new_faults(plain, seen, at=None)}
    for fault in _new_faults(plain, [*seen, (day, value)], at=None):
        if fault.text not in told:
            faults.add("value", f"{value:.10g}", fault.text)
    faults.refuse()
    place = sum(one.meter.fitted_on <= day for one in meters) - 1
    key = RecordKey(RecordKind.METER_READING, facts.site, facts.id or desk.new_id())
    values: dict[str, Any] = {
        "machine_id": facts.machine,
        "meter_id": meters[max(place, 0)].id,
        "read_on": day,
        "value": value,
        "true_hours": _ages(plain, [*seen, (day, value)])[-1],
        "source": facts.source,
    }
    desk.register.add(key, values, name=f"meter reading of machine {row['code']}")
    doubts = _doubts(plain, [*seen, (day, value)], of=(day, value))
    changes = _refresh(desk, catalogue, facts.machine)
    return Saved(changes=changes, key=key.key, warnings=doubts)


def void_reading(
    place: Workplace, facts: ReadingFacts, *, reason: str, today: date, moment: datetime
) -> Saved:
    """Take a meter reading out of count; it stays in the database with the reason.

    Raises:
        RegisterFaultsError: without a reason.
        NotFoundError: when there is no such reading.
    """
    _ = today
    with place.store.transaction(who=place.who, moment=moment) as desk:
        row = machine_row(desk, facts.machine)
        faults = Faults(f"Meter reading of machine {row['code']}")
        faults.needs_text("voided_reason", reason, "The reason")
        faults.refuse()
        key = RecordKey(RecordKind.METER_READING, facts.site, facts.id)
        name = f"meter reading of machine {row['code']}"
        desk.register.change(key, {"voided_reason": reason.strip()}, version=None, name=name)
        return Saved(changes=_refresh(desk, place.catalogue, facts.machine), key=facts.id)


def _meter_faults(code: str, facts: MeterFacts, *, today: date) -> Faults:
    faults = Faults(f"Meter of machine {code}")
    faults.needs_choice("unit", facts.unit, UNITS, "Unit of the meter")
    faults.needs_day("fitted_on", facts.fitted_on, "of fitting", today=today)
    faults.needs_number("start_value", facts.start_value, "What it showed when fitted")
    faults.needs_number("hours_before", facts.hours_before, "The machine's hours when fitted")
    most = facts.rolls_over_at
    faults.needs_number("rolls_over_at", most, "Where it starts again", above=True, optional=True)
    if most is not None and facts.start_value >= most:
        text = (
            f"It showed {facts.start_value:g} but starts again at {most:g}. Correct one of the two."
        )
        faults.add("start_value", facts.start_value, text)
    return faults


def _meter(facts: MeterFacts) -> Meter:
    assert facts.fitted_on is not None  # noqa: S101  # refused before
    return Meter(
        fitted_on=facts.fitted_on,
        start_value=float(facts.start_value),
        hours_before=float(facts.hours_before),
        unit=facts.unit,
        rolls_over_at=facts.rolls_over_at,
    )


def _values(facts: MeterFacts) -> dict[str, Any]:
    return {
        "machine_id": facts.machine,
        "kind": facts.unit,
        "fitted_on": facts.fitted_on,
        "start_value": float(facts.start_value),
        "hours_before": float(facts.hours_before),
        "rolls_over_at": None if facts.rolls_over_at is None else float(facts.rolls_over_at),
    }


def _seen(desk: Desk, machine: MachineId) -> list[Seen]:
    return [(one.on, float(one.value or 0.0)) for one in desk.hours.readings(machine)]


def _columns(seen: Sequence[Seen]) -> dict[str, Any]:
    return {
        "read_on": np.array([day.toordinal() for day, _ in seen], dtype=np.int64),
        "values": np.array([value for _, value in seen], dtype=np.float64),
    }


def _ages(meters: Sequence[Meter], seen: Sequence[Seen]) -> list[float]:
    ages: list[float] = true_hours(meters, **_columns(seen)).tolist()
    return ages


def _new_faults(
    meters: Sequence[Meter], seen: Sequence[Seen], *, at: int | None
) -> list[MeterFault]:
    """What cannot be true, in words without the row; only of one row where ``at`` is given."""
    found = meter_faults(meters, **_columns(seen), place="")
    return [
        MeterFault(row=one.row, value=one.value, text=_sentence(one))
        for one in found
        if at is None or one.row == at
    ]


def _doubts(meters: Sequence[Meter], seen: Sequence[Seen], *, of: Seen) -> tuple[FieldFault, ...]:
    """What should be looked at of one reading."""
    ordered = sorted(seen)
    return tuple(
        FieldFault(
            field="value", value=f"{one.value:.10g}", text=one.text[:1].upper() + one.text[1:]
        )
        for one in meter_doubts(meters, **_columns(ordered))
        if ordered[one.row] == of
    )


def _sentence(fault: MeterFault) -> str:
    text = fault.text.removeprefix(f", row {fault.row + 1}").removeprefix(": ")
    return text[:1].upper() + text[1:]


def _refuse_impossible(
    desk: Desk, machine: MachineId, meters: Sequence[Meter], faults: Faults
) -> None:
    """Refuse meters under which readings that were true before could not be."""
    seen = _seen(desk, machine)
    old = desk.fleet.meters(machine)
    told = {fault.text for fault in _new_faults(old, seen, at=None)} if old else set()
    for fault in _new_faults(meters, seen, at=None):
        if fault.text not in told:
            faults.add("hours_before" if fault.row < 0 else "fitted_on", fault.value, fault.text)
    faults.refuse()


def _refresh(
    desk: Desk, catalogue: Catalogue, machine: MachineId, *, since: date | None = None
) -> Changes:
    boxes = refresh_true_hours(desk, machine, since=since)
    refresh_usage(desk, catalogue, [machine])
    return rejudge(desk, catalogue, boxes, moment=desk.moment) if boxes else FLEET_ONLY
