"""How many hours are left, the base-number clock, and how past forecasts fared; plain values."""

from dataclasses import dataclass
from datetime import date

from fluiddesk.domain.analytes import Analyte
from fluiddesk.domain.severity import Severity


@dataclass(frozen=True, slots=True, kw_only=True)
class AnalyteClock:
    """Hours until one analyte reaches the next band of its limit.

    The three numbers are all ``None`` where no limit is in sight or too little is known; ``why``
    says which. Some may be ``None`` alone: a tenth of the chances lies beyond what is looked at.

    Attributes:
        analyte: which.
        severity: the band it would enter.
        bound: the value that starts it, in the analyte's unit.
        p10: hours by which one in ten such boxes would be there; p50 and p90 likewise.
        chance_before_due: of crossing before the next planned sample; ``None`` where nothing
            can be said.
        chance_of_growth: that a fault grows in this fill: its wear doubles in 50 to 400 hours.
        is_in_sight: ``False`` for "no limit in sight".
        why: "", or what is missing, or why none is in sight.
    """

    analyte: Analyte
    severity: Severity
    bound: float
    p10: float | None = None
    p50: float | None = None
    p90: float | None = None
    chance_before_due: float | None = None
    chance_of_growth: float = 0.0
    is_in_sight: bool = True
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BaseNumberFacts:
    """The base-number clock of the fill in the box.

    ``value`` is that of the last sample, or what the change left where the fluid was changed after
    it: the new fill is then taken to be used up as fast as the one before. Hours count from today.
    ``hours_left`` is infinite where fresh oil carries it; ``straight_line_hours_left`` is what a
    straight line would say. ``limit_text`` tells which limit ends the life.
    """

    used_per_1000_h: float
    value: float
    limit: float
    limit_text: str
    hours_left: float
    straight_line_hours_left: float
    ends_on: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ForecastScore:
    """How past forecasts of this kind fared.

    Attributes:
        scope: what was counted, in words ("iron of engines").
        marked: forecasts whose outcome is known.
        crossed: of those, limits that were reached.
        inside: share of crossings inside the 10 to 90 % band; ``None`` below the fewest.
        median_error_hours: middle of (crossed at minus 50 % point), ``None`` below the fewest.
        cut_off: ended by a change of fluid, limit or component before anything was reached.
        open: not known yet.
        afterwards: how many were not made when their sample was, but worked out later.
        sentence: the same in plain words.
    """

    scope: str
    marked: int = 0
    crossed: int = 0
    inside: float | None = None
    median_error_hours: float | None = None
    cut_off: int = 0
    open: int = 0
    afterwards: int = 0
    sentence: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class HoursLeft:
    """Hours until the first limit of any analyte, with 10, 50 and 90 %, and in days.

    All of ``p10``, ``p50``, ``p90`` are numbers, or all are ``None`` and ``why`` says why:
    "No limit in sight ..." (``is_in_sight`` is ``False``) or "Not enough to say: ..."
    (``is_enough`` is ``False``, ``missing`` lists what would help). A box that is past an Urgent
    bound already has none left: all three are 0 and ``why`` says so.

    Attributes:
        analyte: the analyte most likely to be first; ``None`` without a forecast.
        severity: the band that would be entered.
        bound: its bound.
        counted_from_on: day of the sample the hours count from; ``hours_since`` have run since.
        p10: hours from today's meter, never below 0; p50 and p90 likewise.
        on10: the days, by how much the machine runs; ``None`` where it does not run. A band day
            counts the spread of both the wear and the hours a day.
        chance_before_due: of crossing any limit before the next planned sample.
        clocks: each analyte, the first to be reached first.
    """

    p10: float | None = None
    p50: float | None = None
    p90: float | None = None
    on10: date | None = None
    on50: date | None = None
    on90: date | None = None
    analyte: Analyte | None = None
    severity: Severity = Severity.NO_VERDICT
    bound: float | None = None
    chance_before_due: float | None = None
    counted_from_on: date | None = None
    hours_since: float = 0.0
    is_enough: bool = True
    is_in_sight: bool = True
    why: str = ""
    missing: tuple[str, ...] = ()
    sentence: str = ""
    clocks: tuple[AnalyteClock, ...] = ()
    base_number: BaseNumberFacts | None = None
    base_number_why: str = ""
    score: ForecastScore | None = None
