"""Hours left to a limit in words: the strip at the top, one line an analyte, past forecasts."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from fluiddesk.desktop.viewstate.compartment_history import DASH, hours_text, unit_text
from fluiddesk.domain.severity import Severity
from fluiddesk.services.compartment_history.facts import CompartmentHistory
from fluiddesk.services.compartment_history.forecast_facts import (
    AnalyteClock,
    BaseNumberFacts,
    ForecastScore,
    HoursLeft,
)
from fluiddesk.services.compartment_history.sentences import chance_text
from fluiddesk.services.compartment_history.short_names import short_name

_LEAST_SPAN: Final = 50.0
_ROOM: Final = 1.12
_WIDEST: Final = 4.0
"""The axis reaches no further than this many times the middle of the band ..."""
_NEAR_HOURS: Final = 1000.0
"""... but holds a band within so many hours whole, however near its middle lies."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """10, 50 and 90 % of the hours left; ``None`` where a point lies beyond what is looked at."""

    low: float
    middle: float | None
    high: float | None

    @property
    def words(self) -> str:
        """The band in figures: "118 to 386 h", "more than 190 h"."""
        if self.high is None:
            return f"more than {hours_text(self.low)} h"
        if round(self.low) == round(self.high):
            return f"{hours_text(self.low)} h"
        return f"{hours_text(self.low)} to {hours_text(self.high)} h"


@dataclass(frozen=True, slots=True, kw_only=True)
class DueMark:
    """Where the next planned sample stands on the axis of hours left."""

    hours: float
    low: float
    high: float
    on: date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class HoursLeftWords:
    """What the strip at the top of the page says.

    Attributes:
        answer: "118 to 386 h", "No limit in sight", "Not enough to say".
        limits: what would be reached: "Act, Iron 90 mg/kg", each shorter than the one before.
        severity: the band that would be entered.
        why: further words where there is no band.
        band: the band, where there is one.
        dates: days of its three points.
        due: the next planned sample.
        chance: "14 %", "less than 1 %", or empty.
        span: hours from now to the right end of the axis.
    """

    answer: str
    limits: tuple[str, ...] = ()
    severity: Severity = Severity.NO_VERDICT
    why: str = ""
    band: Band | None = None
    dates: tuple[date | None, date | None, date | None] = (None, None, None)
    due: DueMark | None = None
    chance: str = ""
    span: float = 100.0

    @property
    def spoken(self) -> str:
        """Everything in one line, for screen readers and the tooltip."""
        days = [day.isoformat() for day in self.dates if day is not None]
        parts = [
            f"Hours left: {self.answer}",
            self.limits[0] if self.limits else "",
            f"days {', '.join(days)}" if days else "",
            self.why,
            f"chance before the next planned sample {self.chance}" if self.chance else "",
        ]
        return "; ".join(part for part in parts if part)


def strip_words(history: CompartmentHistory, *, today: date) -> HoursLeftWords:
    """What the strip says of a box."""
    left = history.hours_left
    due = due_mark(history, today=today)
    band = band_of(left.p10, left.p50, left.p90)
    if not history.is_in_full:
        return HoursLeftWords(answer="\u2026", why="Being worked out.", due=due)
    if band is None:
        return HoursLeftWords(
            answer=_no_answer(left), why=_no_band(left), due=due, span=axis_span([], due)
        )
    return HoursLeftWords(
        answer=band.words if band.high != 0 else "None left",
        limits=_limits(left),
        severity=left.severity,
        why=left.why,
        band=band,
        dates=(left.on10, left.on50, left.on90),
        due=due,
        chance=chance_text(left.chance_before_due),
        span=axis_span([band], due),
    )


def _no_answer(left: HoursLeft) -> str:
    if not left.is_in_sight:
        return "No limit in sight"
    return "Not enough to say"


def _no_band(left: HoursLeft) -> str:
    why = left.why
    for head in ("No limit in sight", "Not enough to say"):
        why = why.removeprefix(head).lstrip(":;,. ")
    missing = f"Missing: {', '.join(left.missing)}." if left.missing else ""
    return " ".join(part for part in (why[:1].upper() + why[1:], missing) if part)


def _limits(left: HoursLeft) -> tuple[str, ...]:
    """The limit in words, each shorter than the one before."""
    if left.analyte is None or left.bound is None:
        return ()
    bound, unit = left.analyte.text(left.bound), unit_text(left.analyte.unit)
    told = f"{left.severity.word}, {left.analyte.name} {bound}"
    short = f"{left.severity.word}, {short_name(left.analyte.name)} {bound}"
    return (f"{told} {unit}".rstrip(), f"{short} {unit}".rstrip(), short)


def band_of(low: float | None, middle: float | None, high: float | None) -> Band | None:
    """The band of a forecast; ``None`` without one."""
    return None if low is None else Band(low=low, middle=middle, high=high)


def due_mark(history: CompartmentHistory, *, today: date) -> DueMark | None:
    """The next planned sample in hours from now, by its day where it is due by the calendar."""
    due, pace = history.due, history.hours_per_day
    if due.due_on is not None and pace:
        hours = (due.due_on - today).days * pace
        if due.by_hours and due.hours_left is not None:
            hours = due.hours_left
        begin, end = due.window or (due.due_on, due.due_on)
        half_low = (due.due_on - begin).days * pace
        half_high = (end - due.due_on).days * pace
        return DueMark(hours=hours, low=hours - half_low, high=hours + half_high, on=due.due_on)
    if due.hours_left is not None:
        return DueMark(hours=due.hours_left, low=due.hours_left, high=due.hours_left, on=due.due_on)
    return None


def axis_span(bands: Sequence[Band], due: DueMark | None) -> float:
    """Hours from now to the right end of an axis that holds these bands and the next sample."""
    ends = [_reach(band) for band in bands]
    if due is not None:
        ends.append(due.high)
    return max(*ends, _LEAST_SPAN, 0.0) * _ROOM if ends else _LEAST_SPAN


def _reach(band: Band) -> float:
    middle = band.middle if band.middle is not None else band.low * 1.5
    high = band.high if band.high is not None else middle * 1.5
    return min(high, max(middle * _WIDEST, _NEAR_HOURS))


def _short_chance(chance: float | None) -> str:
    """A chance for a narrow column."""
    return chance_text(chance).replace("less than ", "<\u2009").replace("more than ", ">\u2009")


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockRow:
    """One analyte on the Hours left section."""

    title: str
    limit: str
    severity: Severity
    band: Band | None
    figures: tuple[str, str, str]
    chance: str
    why: str


def clock_rows(left: HoursLeft) -> tuple[ClockRow, ...]:
    """One row an analyte with a forecast, the first to be reached first."""
    return tuple(row for row in map(_clock_row, left.clocks) if row.band is not None)


def no_clock_lines(left: HoursLeft) -> tuple[str, ...]:
    """The analytes without a forecast, those with the same reason in one line."""
    grouped: dict[str, list[str]] = {}
    for clock in left.clocks:
        if clock.p10 is None:
            grouped.setdefault(clock.why.rstrip("."), []).append(short_name(clock.analyte.name))
    # An analyte with limits on both sides is named once.
    return tuple(f"{why}: {', '.join(dict.fromkeys(names))}." for why, names in grouped.items())


def _clock_row(clock: AnalyteClock) -> ClockRow:
    analyte = clock.analyte
    points = (clock.p10, clock.p50, clock.p90)
    unit = unit_text(analyte.unit)
    return ClockRow(
        title=short_name(analyte.name),
        limit=f"{clock.severity.word} {analyte.text(clock.bound)} {unit}".rstrip(),
        severity=clock.severity,
        band=band_of(*points),
        figures=tuple(DASH if one is None else hours_text(one) for one in points),  # type: ignore[arg-type]
        chance=_short_chance(clock.chance_before_due),
        why=clock.why,
    )


def base_number_line(history: CompartmentHistory) -> str:
    """The base-number clock in one line; empty where it does not apply."""
    left = history.hours_left
    if left.base_number is None:
        return left.base_number_why
    return _clock_line(left.base_number)


def _clock_line(clock: BaseNumberFacts) -> str:
    told = f"Base number {clock.value:g}, used up at {clock.used_per_1000_h:.3g} per 1000 h: "
    if clock.hours_left == float("inf"):
        return f"{told}topping up carries it; it does not reach {clock.limit:g}"
    day = f", about {clock.ends_on.isoformat()}" if clock.ends_on else ""
    line = hours_text(clock.straight_line_hours_left)
    return (
        f"{told}{hours_text(clock.hours_left)} h to {clock.limit:g} ({clock.limit_text}){day};"
        f" a straight line would say {line} h"
    )


def score_lines(score: ForecastScore | None) -> tuple[str, ...]:
    """How past forecasts of this kind fared."""
    if score is None:
        return ("No forecast of this kind has been marked yet.",)
    counts = [
        f"{score.marked} marked",
        f"{score.crossed} reached the limit",
        f"{score.cut_off} ended by a change before that",
        f"{score.open} open",
    ]
    lines = [score.sentence]
    if score.marked + score.cut_off + score.open:
        lines.append(f"Past forecasts of {score.scope}: {', '.join(counts)}.")
    if score.median_error_hours is not None:
        late = "later" if score.median_error_hours > 0 else "earlier"
        hours = hours_text(abs(score.median_error_hours))
        lines.append(f"Crossings came {hours} h {late} than the middle of the band, as a median.")
    return tuple(line for line in lines if line)


def day_after(today: date, hours: float, pace: float | None) -> date | None:
    """The day on which so many hours have run."""
    return None if not pace else today + timedelta(days=round(hours / pace))
