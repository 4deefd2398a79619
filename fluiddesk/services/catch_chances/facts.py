"""The chance to catch a fault, by box and by group, as plain values."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import IntEnum, StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.errors import UsageError
from fluiddesk.domain.limits.interval_rule import IntervalRule
from fluiddesk.domain.units import percent_text
from fluiddesk.services.fleet_condition import BoxRow

Hours = NDArray[np.float64]

LOW_CHANCE: Final = 0.5
"""Below it a fault is likelier missed than caught; such boxes are counted."""

_LONGEST_DAYS: Final = 365.0
_MOST_SHARE: Final = 100.0
_MOST_HOURS: Final = 1_000_000.0


class KnownFrom(StrEnum):
    """What the days from drawing to answer of a lane rest on."""

    MEASURED = "measured"
    RECORD = "record"
    ELSEWHERE = "elsewhere"
    ASSUMED = "assumed"


class LeftOut(IntEnum):
    """Why no chance can be given for a box."""

    NOT = 0
    EXCUSED = 1
    STANDS = 2
    NO_INTERVAL = 3

    @property
    def words(self) -> str:
        """Why, in words; "" where there is a chance."""
        return _LEFT_OUT[self]


_LEFT_OUT: Final = {
    LeftOut.NOT: "",
    LeftOut.EXCUSED: "the machine is not at work",
    LeftOut.STANDS: "the machine does not run",
    LeftOut.NO_INTERVAL: "no interval",
}


class GroupBy(StrEnum):
    """What boxes are told together by."""

    SITE = "site"
    LANE = "lane"
    MACHINE_KIND = "machine"
    BOX_KIND = "kind"


@dataclass(frozen=True, slots=True, kw_only=True)
class LegDays:
    """The median days on one leg of a lane; ``None`` where no bottle tells."""

    title: str
    days: float | None
    bottles: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Lane:
    """The way from a site to a laboratory and back.

    ``days``: from drawing to answer. ``bottles``: reports of the last year it could be measured by.
    ``days_without_record``: what would stand if neither reports nor the laboratory's record told.
    ``about``: what ``days`` rest on, in words.
    """

    site: str
    laboratory: str
    name: str
    days: float
    known_from: KnownFrom
    bottles: int
    days_without_record: float
    legs: tuple[LegDays, ...]
    about: str

    @property
    def is_measured(self) -> bool:
        """Whether enough bottles have gone it."""
        return self.known_from is KnownFrom.MEASURED

    @property
    def title(self) -> str:
        """The lane as it is listed."""
        return f"{self.site}, {self.name}" if self.name else f"{self.site}, no laboratory yet"


@dataclass(frozen=True, slots=True, kw_only=True)
class ChanceColumns:
    """Everything the chance of each box follows from; all columns shape (n,).

    Attributes:
        rows: the boxes as the register has them, with the register's own intervals.
        rules: the interval rules in force that day.
        interval_hours: hours of the interval in force, NaN where it has none.
        interval_days: days of the interval in force, NaN where it has none.
        per_day: running hours a day.
        is_pace_assumed: whether too few readings tell the pace, and that of its kind stands in.
        shows_hours: hours before the failure from which a sample shows a fault.
        sensitivity: chance that one sample in that time shows it.
        lane: index into ``lanes``.
        left_out: values of ``LeftOut``.
    """

    today: date
    rows: Sequence[BoxRow]
    rules: tuple[IntervalRule, ...]
    interval_hours: Hours
    interval_days: Hours
    per_day: Hours
    is_pace_assumed: NDArray[np.bool_]
    shows_hours: Hours
    sensitivity: Hours
    lane: NDArray[np.int32]
    lanes: tuple[Lane, ...]
    left_out: NDArray[np.int8]

    def __len__(self) -> int:
        return len(self.rows)

    @property
    def lanes_used(self) -> tuple[Lane, ...]:
        """The lanes that bottles of these boxes go."""
        return tuple(self.lanes[at] for at in np.unique(self.lane).tolist())

    @property
    def unmeasured(self) -> tuple[Lane, ...]:
        """Those of the lanes used whose days are not measured."""
        return tuple(lane for lane in self.lanes_used if not lane.is_measured)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What is asked: "what if?". Left as it is, nothing changes.

    ``interval_share`` shortens or lengthens hours and days alike; ``interval_hours`` sets the hours
    on the meter, and days stay. ``answer_days`` sets the days from drawing to answer of every
    lane; ``days_sooner`` takes some off.
    """

    interval_share: float = 1.0
    interval_hours: float | None = None
    answer_days: float | None = None
    days_sooner: float = 0.0

    def __post_init__(self) -> None:
        if not 0 < self.interval_share <= _MOST_SHARE:
            raise UsageError(f"{self.interval_share:g} times the interval. Give 0.01 to 100.")
        if self.interval_hours is not None and not 0 < self.interval_hours <= _MOST_HOURS:
            raise UsageError(f"An interval of {self.interval_hours:g} h. Give hours above 0.")
        for days in (self.answer_days or 0.0, self.days_sooner):
            if not 0 <= days <= _LONGEST_DAYS:
                raise UsageError(f"{days:g} days to the answer. Give 0 to 365 days.")

    @property
    def is_as_now(self) -> bool:
        """Whether nothing else is asked than what holds."""
        return self == AS_NOW


AS_NOW: Final = Wish()


@dataclass(frozen=True, slots=True, kw_only=True)
class Chances:
    """The chance of each box and what it takes; shape (n,), NaN for a box that is left out.

    ``interval_hours``: running hours between samples; ``answer_hours``: running hours from drawing
    to answer; ``bottles``: samples a year.
    """

    chance: Hours
    interval_hours: Hours
    answer_hours: Hours
    bottles: Hours


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupFigures:
    """The chances of a group; ``None`` where none of its boxes has one.

    ``low_tenth``: the chance that nine of ten boxes have at least. ``low_boxes``: boxes with less
    than ``LOW_CHANCE``.
    """

    mean: float | None
    low_tenth: float | None
    low_boxes: int
    bottles: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupLine:
    """One group as it is and as asked: ``boxes`` with a chance, ``left_out`` without.

    ``answer_days``: the median of its boxes' days to the answer; ``known_from``: what they rest on
    in one word. ``then`` is ``None`` where nothing else was asked. ``about``: what the days rest
    on, lane by lane.
    """

    group: str
    boxes: int
    left_out: int
    answer_days: float | None
    known_from: str
    now: GroupFigures
    then: GroupFigures | None
    about: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Faster post against shorter intervals: mean chances and bottles a year; ``None`` if empty.

    ``bottles_sooner``: bottles a year at which shorter intervals alone would give as much as the
    faster post; ``None`` where no interval short enough was found.
    """

    days_sooner: float
    now: float | None
    sooner: float | None
    halved: float | None
    bottles_now: float
    bottles_sooner: float | None
    bottles_halved: float

    @property
    def sentence(self) -> str:
        """Both ways beside each other, in one line."""
        if self.now is None or self.sooner is None or self.halved is None:
            return ""
        days = "1 day" if self.days_sooner == 1 else f"{self.days_sooner:g} days"
        more = round(self.bottles_halved - self.bottles_now)
        now, sooner = percent_text(self.now), percent_text(self.sooner)
        told = f"Now {now}. Answers {days} sooner: {sooner}, no more bottles"
        saved = None if self.bottles_sooner is None else self.bottles_sooner - self.bottles_now
        if saved is not None and round(saved) > 0:
            told += f" (shorter intervals would take {saved:,.0f} more a year for that)"
        return (
            f"{told}. Half the interval: {percent_text(self.halved)}, {more:,} more bottles a year."
        )
