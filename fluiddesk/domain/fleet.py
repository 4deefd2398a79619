"""Sites, machines, meters, compartments and their fills: the things a sample is drawn from."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.identity import CompartmentId, MachineId, SiteId

KM_PER_HOUR_WITHOUT_METER: Final = 16.0
"""Kilometres counted as one hour where there is no hour meter (US Army TB 43-0211: 16 km = 1 h)."""

HOURS_IN_A_DAY: Final = 24.0

MOST_KM_IN_AN_HOUR: Final = 100.0
"""A machine that counts kilometres goes no faster (common practice, no source)."""


class MachineState(StrEnum):
    """Whether a machine owes samples."""

    WORKING = "working"
    STANDBY = "standby"
    DOWN = "down"
    SOLD = "sold"


class EventKind(StrEnum):
    """What happened to a compartment between samples."""

    FLUID_CHANGE = "fluid_change"
    TOP_UP = "top_up"
    FILTER_CHANGE = "filter_change"
    COMPONENT_FIT = "component_fit"
    REPAIR = "repair"
    STAND_DOWN = "stand_down"


class Certainty(StrEnum):
    """How an event is known. Events are superseded, never overwritten."""

    RECORDED = "recorded"
    INFERRED = "inferred"
    DENIED = "denied"


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """A numbered machine on the site that owns its records."""

    site: SiteId
    id: MachineId
    code: str
    kind: str
    model: str
    state: MachineState = MachineState.WORKING
    criticality: int = 3
    serial: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Compartment:
    """One fluid-wetted box with its own fill.

    ``residue_share`` is the share of old fluid left in the box by a change (0 to 1).
    """

    site: SiteId
    id: CompartmentId
    machine: MachineId
    kind: str
    position: str
    fluid: str
    capacity_l: float
    residue_share: float
    interval_hours: float | None
    interval_days: int | None

    def name(self, kind_name: str) -> str:
        """The words for this box: "Final drive, left"."""
        return f"{kind_name}, {self.position}" if self.position else kind_name


@dataclass(frozen=True, slots=True, kw_only=True)
class Meter:
    """One meter of a machine and the span in which it counted.

    ``hours_before`` is the machine's true age in hours when this meter was fitted, and
    ``start_value`` what the meter showed then.
    """

    fitted_on: date
    start_value: float
    hours_before: float
    unit: str = "h"
    rolls_over_at: float | None = None


class MeterReadingError(OperatorError):
    """A meter value cannot be true: it runs backwards, or faster than the clock."""


def true_hours(
    meters: Sequence[Meter], *, read_on: NDArray[np.int64], values: NDArray[np.float64]
) -> NDArray[np.float64]:
    """The machine's age in hours at each meter reading, over meter replacements and roll-overs.

    Nothing is refused here but a machine without a meter: ``refuse_bad_readings`` says what cannot
    be true.

    Args:
        meters: the machine's meters in the order they were fitted; at least one.
        read_on: days as proleptic ordinals, in any order; readings of one day in the order read,
            shape (n,).
        values: what the meter showed, in the meter's unit, shape (n,).

    Returns:
        Hours since new, shape (n,). A reading on the day of a replacement counts on the new meter.
        Where a meter rolls over, it did so before a reading below its start, and whenever a reading
        falls by more than half of what the meter can show; a smaller fall runs backwards in plain
        sight.

    Raises:
        MeterReadingError: the machine has no meter.

    >>> old = Meter(fitted_on=date(2024, 1, 1), start_value=0, hours_before=0)
    >>> new = Meter(fitted_on=date(2025, 1, 1), start_value=5, hours_before=2000)
    >>> days = np.array([date(2024, 6, 1).toordinal(), date(2025, 6, 1).toordinal()])
    >>> true_hours([old, new], read_on=days, values=np.array([900.0, 205.0])).tolist()
    [900.0, 2200.0]
    """
    if not meters:
        raise MeterReadingError("The machine has no meter. Record the meter it was fitted with.")
    which = meter_in_place(meters, read_on)
    start = np.array([meter.start_value for meter in meters])[which]
    before = np.array([meter.hours_before for meter in meters])[which]
    wrap = np.array([meter.rolls_over_at or 0.0 for meter in meters])[which]
    risen = values - start + wrap * _roll_overs(which, read_on, values, start=start, wrap=wrap)
    hours: NDArray[np.float64] = before + risen / _per_hour(meters)[which]
    return hours


def meter_in_place(meters: Sequence[Meter], read_on: NDArray[np.int64]) -> NDArray[np.int64]:
    """Which meter counted on each day; a day before the first meter belongs to the first."""
    fitted = np.array([meter.fitted_on.toordinal() for meter in meters], dtype=np.int64)
    place: NDArray[np.int64] = np.searchsorted(fitted, read_on, side="right") - 1
    return np.maximum(place, 0)


def _per_hour(meters: Sequence[Meter]) -> NDArray[np.float64]:
    """What each meter counts in an hour."""
    return np.array([1.0 if meter.unit == "h" else KM_PER_HOUR_WITHOUT_METER for meter in meters])


def _roll_overs(
    which: NDArray[np.int64],
    read_on: NDArray[np.int64],
    values: NDArray[np.float64],
    *,
    start: NDArray[np.float64],
    wrap: NDArray[np.float64],
) -> NDArray[np.float64]:
    """How often the meter had rolled over since it was fitted, at each reading."""
    order = np.lexsort((read_on, which))
    meter, value, most = which[order], values[order], wrap[order]
    is_first = np.diff(meter, prepend=-1) != 0
    last = np.where(is_first, start[order], np.append(0.0, value[:-1]))
    rolled = (most > 0) & np.where(is_first, value < last, last - value > most / 2)
    counted = np.cumsum(rolled)
    begins = np.flatnonzero(is_first)
    earlier: NDArray[np.int64] = (counted - rolled)[begins]
    times = np.empty(len(values))
    times[order] = counted - np.repeat(earlier, np.diff(np.append(begins, len(values))))
    return times


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterFault:
    """A reading that cannot be true: its row, its value, and what to do, in words.

    ``row`` is -1 for the record of a meter itself, ``value`` then the age it gives the machine.
    """

    row: int
    value: float
    text: str


def allowed_band(
    meter: Meter, *, last_value: float, last_on: int, read_on: int
) -> tuple[float, float]:
    """The lowest and highest value a meter can show on a day, in its unit, before it rolls over.

    A meter never falls and counts at most 24 h a day. Days know no time: a first reading before
    the morning shift and a second one after the night shift lie up to a day further apart than
    their days do. A meter in kilometres counts at most 100 km in an hour (common practice, no
    source).

    Args:
        meter: the meter in place.
        last_value: what it showed last.
        last_on: day ordinal of that reading.
        read_on: day ordinal of the next.

    >>> engine_meter = Meter(fitted_on=date(2024, 1, 1), start_value=0, hours_before=0)
    >>> allowed_band(engine_meter, last_value=1200.0, last_on=739000, read_on=739010)
    (1200.0, 1464.0)
    """
    return last_value, last_value + _most_a_day(meter) * (max(read_on - last_on, 0) + 1)


def _most_a_day(meter: Meter) -> float:
    return HOURS_IN_A_DAY * (1.0 if meter.unit == "h" else MOST_KM_IN_AN_HOUR)


def meter_faults(
    meters: Sequence[Meter],
    *,
    read_on: NDArray[np.int64],
    values: NDArray[np.float64],
    place: str = "The machine",
) -> list[MeterFault]:
    """Every reading of a machine that cannot be true, in the order of the days.

    Each reading is held against the last one that can be true, so that one bad reading does not
    make the good ones after it look bad.

    Args:
        meters: the machine's meters in the order they were fitted; at least one.
        read_on: day ordinals, shape (n,).
        values: what the meter showed, shape (n,).
        place: the machine in the words of the message.

    >>> meter = Meter(fitted_on=date(2024, 1, 1), start_value=0, hours_before=0)
    >>> days = date(2024, 6, 1).toordinal() + np.array([0, 10, 20])
    >>> faults = meter_faults([meter], read_on=days, values=np.array([900.0, 9500.0, 1000.0]),
    ...                       place="Machine 7")
    >>> print(faults[0].text)
    Machine 7, row 2: the meter shows 9500 h on 2024-06-11 but showed 900 h on 2024-06-01; it can \
show 1164 h at most. Was it 950 h? Correct the reading, or record a meter replacement.
    """
    if not meters:
        raise MeterReadingError(f"{place} has no meter. Record the meter it was fitted with.")
    which = meter_in_place(meters, read_on)
    faults: list[MeterFault] = []
    for row, _, why in _against_last(meters, which, read_on=read_on, values=values):
        if why:
            where = f"{place}, row {row + 1}"
            faults.append(MeterFault(row=row, value=float(values[row]), text=f"{where}: {why}"))
    good = np.setdiff1d(np.arange(len(values)), [fault.row for fault in faults])
    ages = true_hours(meters, read_on=read_on[good], values=values[good])
    return faults + _replacement_faults(meters, ages=ages, which=which[good], place=place)


def meter_doubts(
    meters: Sequence[Meter], *, read_on: NDArray[np.int64], values: NDArray[np.float64]
) -> list[MeterFault]:
    """Readings that can be true only if one was read early in its day and the next one late.

    They count more than 24 h for each day between two readings, but not a day more. To be looked
    at, never refused. Arguments as ``meter_faults``; the texts name no row.

    >>> meter = Meter(fitted_on=date(2024, 1, 1), start_value=0, hours_before=0)
    >>> days = date(2024, 6, 1).toordinal() + np.array([0, 1, 2])
    >>> [doubt] = meter_doubts([meter], read_on=days, values=np.array([900.0, 927.0, 950.0]))
    >>> print(doubt.text)
    the meter shows 927 h on 2024-06-02 but showed 900 h on 2024-06-01: 27 h in 1 day. Check the \
reading, unless the first was read early in the day and this one late.
    """
    which = meter_in_place(meters, read_on)
    doubts: list[MeterFault] = []
    for row, last, why in _against_last(meters, which, read_on=read_on, values=values):
        meter, value, day = meters[int(which[row])], float(values[row]), int(read_on[row])
        gap = max(day - last[1], 1)
        risen = value - last[0] + (meter.rolls_over_at or 0.0) * (value < last[0])
        if why or risen <= _most_a_day(meter) * gap:
            continue
        text = (
            f"the meter shows {value:.10g} {meter.unit} on {date.fromordinal(day).isoformat()} but "
            f"showed {last[0]:.10g} {meter.unit} on {date.fromordinal(last[1]).isoformat()}: "
            f"{risen:.10g} {meter.unit} in {gap} {'day' if gap == 1 else 'days'}. Check the "
            "reading, unless the first was read early in the day and this one late."
        )
        doubts.append(MeterFault(row=row, value=value, text=text))
    return doubts


def _against_last(
    meters: Sequence[Meter],
    which: NDArray[np.int64],
    *,
    read_on: NDArray[np.int64],
    values: NDArray[np.float64],
) -> Iterator[tuple[int, tuple[float, int], str]]:
    """Each reading's row, the last value and day that can be true, and why it cannot be itself."""
    last = {
        number: (meter.start_value, meter.fitted_on.toordinal())
        for number, meter in enumerate(meters)
    }
    for row in np.lexsort((read_on, which)).tolist():
        number, value, day = int(which[row]), float(values[row]), int(read_on[row])
        why = _why_not(meters[number], value, day, last[number])
        yield row, last[number], why
        if not why:
            last[number] = (value, day)


def _replacement_faults(
    meters: Sequence[Meter],
    *,
    ages: NDArray[np.float64],
    which: NDArray[np.int64],
    place: str,
) -> list[MeterFault]:
    """Meters that make the machine younger than it was on the meter before."""
    faults = []
    for number, meter in enumerate(meters[1:], start=1):
        age = float(ages[which < number].max(initial=0.0))
        if meter.hours_before < age:
            text = (
                f"{place}: the meter fitted on {meter.fitted_on.isoformat()} starts at an age of "
                f"{meter.hours_before:.10g} h, but the machine had {age:.10g} h on the meter "
                f"before. Correct the age at the replacement."
            )
            faults.append(MeterFault(row=-1, value=meter.hours_before, text=text))
    return faults


def refuse_bad_readings(
    meters: Sequence[Meter],
    *,
    read_on: NDArray[np.int64],
    values: NDArray[np.float64],
    place: str = "The machine",
) -> None:
    """Refuse readings that cannot be true, all in one message (see ``meter_faults``).

    Raises:
        MeterReadingError: naming each value, its place and the remedy.
    """
    faults = meter_faults(meters, read_on=read_on, values=values, place=place)
    if faults:
        raise MeterReadingError("\n".join(fault.text for fault in faults))


def _why_not(meter: Meter, value: float, day: int, last: tuple[float, int]) -> str:
    """Why a meter cannot show a value on a day, or nothing."""
    shown = f"the meter shows {value:.10g} {meter.unit} on {date.fromordinal(day).isoformat()}"
    most = meter.rolls_over_at
    if not np.isfinite(value) or value < 0:
        return f"{shown}, which is no meter value. Correct the reading."
    if most is not None and value >= most:
        return f"{shown}, but it starts again at {most:.10g}. Correct the reading."
    if day < meter.fitted_on.toordinal():
        fitted = meter.fitted_on.isoformat()
        return f"{shown}, before it was fitted on {fitted}. Correct the day, or record the meter."
    low, high = allowed_band(meter, last_value=last[0], last_on=last[1], read_on=day)
    if _fits(value, low=low, high=high, most=most):
        return ""
    told = f"{shown} but showed {low:.10g} {meter.unit} on {date.fromordinal(last[1]).isoformat()}"
    if value > high:
        told += f"; it can show {high:.10g} {meter.unit} at most"
    slips = [one for one in (value * 10, value / 10) if _fits(one, low=low, high=high, most=most)]
    asked = f" Was it {slips[0]:.10g} {meter.unit}?" if slips else ""
    return f"{told}.{asked} Correct the reading, or record a meter replacement."


def _fits(value: float, *, low: float, high: float, most: float | None) -> bool:
    """Whether a value lies in the band, or past a roll-over in it."""
    return low <= value <= high or (most is not None and value + most <= high)
