"""Hours since new over roll-overs and a new meter, and the day a box comes due."""

import re
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil, floor, isnan
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.fleet import Meter, refuse_bad_readings, true_hours
from fluiddesk.domain.sampling.forecast import DueForecast, forecast_due
from fluiddesk.domain.trends.usage import FEWEST_READINGS, day_to_day_spread, usage
from fluiddesk.services.reckoner.facts import Answer, Field, Reckoning, Status, Typed, Value
from fluiddesk.services.reckoner.typed import (
    NUMBER,
    TypedError,
    TypedFields,
    day_in,
    number_in,
    told,
)

_FIELDS: Final = (
    Field(
        name="readings",
        label="Meter readings, day and hours",
        example="2026-10-09 9810; 2026-10-23 9935; 2026-11-06 55; 2026-11-20 180",
        is_long=True,
    ),
    Field(
        name="due_at",
        label="Due at, hours since new",
        unit="h",
        example="10250",
        at_least=0.0,
    ),
    Field(
        name="rolls_over_at",
        label="Meter starts again at",
        unit="h",
        example="10000",
        is_needed=False,
        above=0.0,
    ),
    Field(
        name="new_meter",
        label="New meter: day, hours since new then, what it showed",
        is_needed=False,
        is_long=True,
    ),
    Field(name="today", label="As of day, else the last reading", is_needed=False),
    Field(
        name="hours_per_day",
        label="Hours a day, else from the readings",
        unit="h",
        is_needed=False,
        at_least=0.0,
        at_most=24.0,
    ),
    Field(
        name="spread",
        label="Spread of the hours from day to day (one sd)",
        unit="h",
        is_needed=False,
        at_least=0.0,
        at_most=24.0,
    ),
)
_READING: Final = re.compile(rf"(?P<day>\S+)\s+(?P<hours>{NUMBER})\s*h?")
_NEW_METER: Final = re.compile(
    rf"(?P<day>\S+?),?\s+(?P<age>{NUMBER})\s*h?,?\s+(?P<shown>{NUMBER})\s*h?"
)
_LONGEST_DAYS: Final = 36_500
"""Dates end after a century."""
_HAIR_PLACES: Final = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pace:
    """Hours a day, their spread (NaN where it is not known) and where they come from."""

    hours_per_day: float
    spread: float
    told: str


def _work(given: Typed) -> Answer:
    typed = TypedFields(_FIELDS, given)
    days, shown = _readings(typed)
    due_at = typed.number("due_at")
    meters = _meters(typed, days, shown)
    refuse_bad_readings(meters, read_on=days, values=shown)
    ages = true_hours(meters, read_on=days, values=shown)
    typed.steps += [
        f"{date.fromordinal(int(day)).isoformat()}: meter {told(value, 7)} h, hours since new "
        f"{told(age, 7)}"
        for day, value, age in zip(days, shown, ages, strict=True)
    ]
    pace = _pace(typed, days, ages)
    today = typed.day("today") or date.fromordinal(int(days[-1]))
    since = today.toordinal() - int(days[-1])
    if since < 0:
        last = date.fromordinal(int(days[-1])).isoformat()
        raise TypedError(
            f"As of day: {today.isoformat()} lies before the last reading, {last}. Correct the "
            "day, or leave the reading out."
        )
    hours_today = float(ages[-1]) + pace.hours_per_day * since
    left = due_at - hours_today
    typed.steps += [
        pace.told,
        f"Hours since new on {today.isoformat()}: {told(hours_today, 7)}; left: {told(left)}",
    ]
    spread = 0.0 if isnan(pace.spread) else pace.spread
    found = forecast_due(hours_left=left, hours_per_day=pace.hours_per_day, sd_per_day=spread)
    return _answer(typed, found, pace, today=today, age=float(ages[-1]), left=left)


def _readings(typed: TypedFields) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """The days and the values of the readings, in the order of the days."""
    found = []
    for part in re.split(r"[;\n]", typed.text("readings")):
        if not part.strip():
            continue
        match = _READING.fullmatch(part.strip())
        if not match:
            raise TypedError(
                f'Meter readings: "{part.strip()}" is no reading. Write day and hours, several '
                "parted by semicolons, such as 2026-11-06 9935; 2026-11-20 10055."
            )
        day = day_in(match["day"], label="Meter readings").toordinal()
        found.append((day, number_in(match["hours"])))
    if not found:
        typed.refuse_missing("readings")
    found.sort(key=lambda one: one[0])
    return np.array([day for day, _ in found]), np.array([value for _, value in found])


def _meters(typed: TypedFields, days: NDArray[np.int64], shown: NDArray[np.float64]) -> list[Meter]:
    """The meter of the first reading, and the one that came after it."""
    rolls_over_at = typed.maybe("rolls_over_at")
    first = Meter(
        fitted_on=date.fromordinal(int(days[0])),
        start_value=float(shown[0]),
        hours_before=float(shown[0]),
        rolls_over_at=rolls_over_at,
    )
    text = typed.text("new_meter")
    if not text:
        return [first]
    match = _NEW_METER.fullmatch(text)
    if not match:
        raise TypedError(
            f'New meter: "{text}" cannot be read. Write the day, the hours since new on that day '
            "and what the new meter showed, such as 2026-10-15 9850 0."
        )
    fitted = day_in(match["day"], label="New meter")
    if fitted < first.fitted_on:
        raise TypedError(
            f"New meter: {fitted.isoformat()} lies before the first reading. Leave the new meter "
            "out, or give a reading of the old one."
        )
    second = Meter(
        fitted_on=fitted,
        start_value=number_in(match["shown"]),
        hours_before=number_in(match["age"]),
        rolls_over_at=rolls_over_at,
    )
    return [first, second]


def _pace(typed: TypedFields, days: NDArray[np.int64], ages: NDArray[np.float64]) -> _Pace:
    known = typed.maybe("hours_per_day")
    spread = typed.maybe("spread")
    if known is not None:
        words = f"Hours a day: {told(known)}, as given"
        return _Pace(hours_per_day=known, spread=_or_nan(spread), told=words)
    found = usage(days=days, hours=ages, fallback_hours_per_day=0.0)
    recent = slice(len(days) - (found.readings if found else 0), None)
    if found is None or len(np.unique(days[recent])) < FEWEST_READINGS:
        raise TypedError(
            f"{len(days)} meter readings are not enough for the hours a day: it takes "
            f"{FEWEST_READINGS} on different days in the last twelve weeks. Give more readings, or "
            "give the hours a day."
        )
    rate = found.hours_per_day
    own = day_to_day_spread(days=days[recent], hours=ages[recent], hours_per_day=rate)
    words = (
        f"Hours a day: {told(rate, 3)}, the median of the slopes between {found.readings} readings"
    )
    return _Pace(hours_per_day=rate, spread=own if spread is None else spread, told=words)


def _or_nan(number: float | None) -> float:
    return float("nan") if number is None else number


def _answer(
    typed: TypedFields,
    found: DueForecast[float],
    pace: _Pace,
    *,
    today: date,
    age: float,
    left: float,
) -> Answer:
    has_band = not isnan(pace.spread)
    cautions = list(typed.cautions)
    if not has_band:
        cautions.append("No spread of the hours a day is known, so that no band can be given.")
    headline, sentence, days = _told_due(found, today=today, left=left, band=has_band)
    return Answer(
        headline=headline,
        sentence=sentence,
        values=(*days, *_hours(pace, age=age, left=left)),
        steps=tuple(typed.steps),
        method="hours since new over roll-overs and a new meter; hours a day as the median of all "
        "slopes between readings of twelve weeks; band of 80 %: spread x root of the days",
        source="common practice, first order, days independent of each other",
        status=Status.PRACTICE,
        cautions=(
            *cautions,
            "A stand-down or a change of shifts moves the day; plan critical boxes on the early "
            "edge of the band.",
        ),
    )


def _hours(pace: _Pace, *, age: float, left: float) -> list[Value]:
    """Where the machine stands, and how fast it runs."""
    figures = [
        ("hours_since_new", "Hours since new at the last reading", age, 7),
        ("hours_left", "Hours left", left, 4),
        ("hours_per_day", "Hours a day", pace.hours_per_day, 3),
    ]
    if not isnan(pace.spread):
        figures.append(("spread", "Spread of the hours from day to day", pace.spread, 3))
    return [
        Value(name=name, label=label, number=number, text=told(number, digits), unit="h")
        for name, label, number, digits in figures
    ]


def _told_due(
    found: DueForecast[float], *, today: date, left: float, band: bool
) -> tuple[str, str, list[Value]]:
    """Headline, sentence and values of the due day."""
    if left <= 0:
        past = told(-left)
        text = "Due now" if not left else f"Due since {past} h"
        return text, f"{text}: the due point has been reached.", [_day("due_on", "Due on", today)]
    if found.days > _LONGEST_DAYS:
        none = Value(name="due_on", label="Due on", number=None, text="no day can be given")
        return (
            "No day can be given",
            "A machine that stands, or hardly runs, comes due on no day of this century.",
            [none],
        )
    due = _after(today, found.days, up=False)
    words = f"Due on {due.isoformat()}"
    sentence = f"Due in {told(found.days, 3)} days, on {due.isoformat()}."
    values = [
        _day("due_on", "Due on", due),
        Value(name="days", label="Days", number=found.days, text=told(found.days, 3), unit="d"),
    ]
    if band and found.high <= _LONGEST_DAYS:
        low, high = _after(today, found.low, up=False), _after(today, found.high, up=True)
        values += [
            _day("early_edge", "Early edge of the 80 % band", low),
            _day("late_edge", "Late edge of the 80 % band", high),
        ]
        sentence = (
            f"Due in {told(found.days, 3)} days (80 % band {told(found.low, 3)} to "
            f"{told(found.high, 3)}): {due.isoformat()}, between {low.isoformat()} and "
            f"{high.isoformat()}."
        )
    return words, sentence, values


def _after(today: date, days: float, *, up: bool) -> date:
    near = round(days, _HAIR_PLACES)
    return today + timedelta(days=ceil(near) if up else floor(near))


def _day(name: str, label: str, day: date) -> Value:
    return Value(name=name, label=label, number=day.isoformat(), text=day.isoformat())


HOURS: Final = Reckoning(
    name="hours",
    title="Hours and due day",
    about="Hours since new over a roll-over or a new meter, and the day a box comes due.",
    fields=_FIELDS,
    in_order=("readings", "due_at"),
    work=_work,
)
