"""The chance to catch a fault as lines of tables: by group, and box by box."""

import math
from dataclasses import dataclass
from enum import IntEnum, StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.desktop.viewstate.row_order import (
    Ranks,
    ordered,
    ranks_of_numbers,
    ranks_of_texts,
)
from fluiddesk.domain.errors import UsageError
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.units import percent_text
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.catch_chances.asking import (
    chances,
    group_line,
    group_lines,
    group_names,
    whole_sentence,
)
from fluiddesk.services.catch_chances.facts import (
    AS_NOW,
    ChanceColumns,
    Chances,
    GroupBy,
    GroupLine,
    LeftOut,
    Wish,
)

FIGURES_FROM: Final = (
    "How long and how surely a fault shows stands in starting figures by kind of box: common "
    "practice, no source."
)
_ALL: Final = "All"
_NONE: Final = "-"


class IntervalWish(StrEnum):
    """Which other interval is asked about."""

    AS_NOW = "as_now"
    HALF = "half"
    TWO_THIRDS = "two_thirds"
    HALF_MORE = "half_more"
    TWICE = "twice"
    HOURS = "hours"

    @property
    def words(self) -> str:
        """How it is offered."""
        return _INTERVALS[self][0]


_INTERVALS: Final = {
    IntervalWish.AS_NOW: ("as now", 1.0),
    IntervalWish.HALF: ("half as long", 0.5),
    IntervalWish.TWO_THIRDS: ("two thirds as long", 2 / 3),
    IntervalWish.HALF_MORE: ("half as long again", 1.5),
    IntervalWish.TWICE: ("twice as long", 2.0),
    IntervalWish.HOURS: ("this many hours", 1.0),
}


class AnswerWish(StrEnum):
    """Which other time to the answer is asked about."""

    AS_NOW = "as_now"
    SOONER = "sooner"
    DAYS = "days"

    @property
    def words(self) -> str:
        """How it is offered."""
        return _ANSWERS[self]


_ANSWERS: Final = {
    AnswerWish.AS_NOW: "as now",
    AnswerWish.SOONER: "sooner by days",
    AnswerWish.DAYS: "after this many days",
}


def wish_of(interval: IntervalWish, hours: str, answer: AnswerWish, days: str) -> Wish:
    """What the choices and figures typed ask for; a figure still empty asks for nothing.

    Raises:
        UsageError: a figure is none, or cannot be.
    """
    told = _number(hours, "hours") if interval is IntervalWish.HOURS else None
    figure = _number(days, "days") if answer is not AnswerWish.AS_NOW else None
    return Wish(
        interval_share=_INTERVALS[interval][1],
        interval_hours=told,
        answer_days=figure if answer is AnswerWish.DAYS else None,
        days_sooner=(figure or 0.0) if answer is AnswerWish.SOONER else 0.0,
    )


def _number(text: str, what: str) -> float | None:
    if not text.strip():
        return None
    try:
        return float(text)
    except ValueError as wrong:
        raise UsageError(f'"{text.strip()}" is no number of {what}.') from wrong


class BoxColumn(IntEnum):
    """The columns of the boxes."""

    BOX = 0
    MACHINE = 1
    SITE = 2
    INTERVAL = 3
    SET_BY = 4
    PACE = 5
    ANSWER = 6
    SHOWS = 7
    SURELY = 8
    CHANCE = 9
    THEN = 10
    BOTTLES = 11
    BOTTLES_THEN = 12


_PERCENTS: Final = (BoxColumn.SURELY, BoxColumn.CHANCE, BoxColumn.THEN)
_PLACES: Final = {BoxColumn.PACE: 1, BoxColumn.BOTTLES: 1, BoxColumn.BOTTLES_THEN: 1}


@dataclass(frozen=True, slots=True, kw_only=True)
class ChanceShown:
    """The groups as they are and, where something else is asked, as they would be.

    ``lines``: all boxes together, then each group, lowest chance first. ``names``: the group of
    each box.
    """

    columns: ChanceColumns
    by: GroupBy
    wish: Wish
    now: Chances
    then: Chances | None
    names: NDArray[np.str_]
    lines: tuple[GroupLine, ...]

    @property
    def sentence(self) -> str:
        """The fleet in one line, with what is asked beside it."""
        told, then = whole_sentence(self.columns, self.now), self.lines[0].then
        if then is None or then.mean is None:
            return told
        return (
            f"{told} As asked: {percent_text(then.mean)} with {then.bottles:,.0f} bottles a year."
        )

    def chosen(self, group: str) -> NDArray[np.bool_]:
        """The boxes of a group; "" for all."""
        if not group:
            return np.ones(len(self.columns), dtype=bool)
        mine: NDArray[np.bool_] = self.names == group
        return mine

    def notes(self, group: str) -> tuple[str, ...]:
        """What the days to the answer of a group rest on; for all, the lanes not measured."""
        if not group:
            return tuple(f"{lane.title}: {lane.about}" for lane in self.columns.unmeasured)
        return next((one.about for one in self.lines[1:] if one.group == group), ())


def chance_shown(
    columns: ChanceColumns,
    catalogue: Catalogue,
    by: GroupBy,
    wish: Wish = AS_NOW,
    *,
    before: ChanceShown | None = None,
) -> ChanceShown:
    """The groups of a fleet, from its columns in memory.

    Args:
        columns: the boxes.
        catalogue: names of the kinds.
        by: what boxes are told together by.
        wish: what is asked.
        before: what was shown before; of the same boxes in the same groups, only what is asked is
            worked out anew.
    """
    if before is not None and before.columns is columns and before.by is by:
        names, now = before.names, before.now
    else:
        names = np.array(group_names(columns, catalogue, by), dtype=np.str_)
        now = chances(columns)
    then = None if wish.is_as_now else chances(columns, wish)
    everything = np.ones(len(columns), dtype=bool)
    whole = group_line(columns, everything, _ALL, now=now, then=then)
    lines = group_lines(columns, names, now=now, then=then)
    return ChanceShown(
        columns=columns, by=by, wish=wish, now=now, then=then, names=names, lines=(whole, *lines)
    )


def group_cells(line: GroupLine) -> tuple[str, ...]:
    """One group as cells."""
    now, then = line.now, line.then
    return (
        line.group,
        f"{line.boxes:,}",
        _NONE if line.answer_days is None else f"{line.answer_days:.3g}",
        line.known_from,
        _percent(now.mean),
        _percent(now.low_tenth),
        f"{now.low_boxes:,}",
        f"{now.bottles:,.0f}",
        "" if then is None else _percent(then.mean),
        "" if then is None else f"{then.low_boxes:,}",
        "" if then is None else f"{then.bottles:,.0f}",
    )


def _percent(share: float | None) -> str:
    return _NONE if share is None or math.isnan(share) else f"{share * 100:.0f}"


class ChanceBoxes:
    """The boxes of a group, lowest chance first or by a column; told as far as they are seen."""

    def __init__(
        self,
        shown: ChanceShown,
        catalogue: Catalogue,
        *,
        group: str = "",
        sort: tuple[int, bool] | None = None,
    ) -> None:
        self._shown, self._catalogue = shown, catalogue
        self._group = group
        self._numbers = _numbers_of(shown)
        kept = shown.chosen(group)
        if sort is None:
            self._order = ordered(kept, self._ranks(BoxColumn.CHANCE), descending=False)
        else:
            self._order = ordered(kept, self._ranks(BoxColumn(sort[0])), descending=sort[1])

    def __len__(self) -> int:
        return len(self._order)

    def sorted_by(self, sort: tuple[int, bool] | None) -> "ChanceBoxes":
        """The same boxes in another order."""
        return ChanceBoxes(self._shown, self._catalogue, group=self._group, sort=sort)

    def box(self, row: int) -> CompartmentId | None:
        """The box in a row."""
        if not 0 <= row < len(self._order):
            return None
        return CompartmentId(self._shown.columns.rows[int(self._order[row])].compartment_id)

    def cell(self, row: int, column: int) -> str:
        """What one cell says."""
        return self._cell(int(self._order[row]), BoxColumn(column))

    def tip(self, row: int, column: int) -> str:
        """Why a box has no chance, else what its days rest on, else the cell."""
        at, columns = int(self._order[row]), self._shown.columns
        left_out = LeftOut(int(columns.left_out[at]))
        if left_out:
            return f"No chance is told: {left_out.words}."
        if column == BoxColumn.ANSWER:
            lane = columns.lanes[int(columns.lane[at])]
            return f"{lane.title}: {lane.about}"
        if column == BoxColumn.PACE and columns.is_pace_assumed[at]:
            return "Too few meter readings: as the machines of its kind run."
        return self.cell(row, column)

    def _cell(self, at: int, column: BoxColumn) -> str:
        if column not in self._numbers:
            return self._text(at, column)
        value = float(self._numbers[column][at])
        if column in _PERCENTS:
            return _percent(value)
        return _figure(value, _PLACES.get(column, 0))

    def _text(self, at: int, column: BoxColumn) -> str:
        row = self._shown.columns.rows[at]
        match column:
            case BoxColumn.BOX:
                return self._catalogue.box_name(row.kind, row.position)
            case BoxColumn.MACHINE:
                return row.machine
            case BoxColumn.SITE:
                return row.site
            case BoxColumn.SET_BY:
                return self._set_by(at)
            case _:
                return ""

    def _set_by(self, at: int) -> str:
        columns = self._shown.columns
        if columns.left_out[at]:
            return LeftOut(int(columns.left_out[at])).words
        days = float(columns.interval_days[at])
        is_meter = not days * float(columns.per_day[at]) < float(columns.interval_hours[at])
        has_hours = not math.isnan(float(columns.interval_hours[at]))
        return "meter" if has_hours and (math.isnan(days) or is_meter) else f"{days:.0f} days"

    def _ranks(self, column: BoxColumn) -> Ranks:
        if column in self._numbers:
            return _nan_last(self._numbers[column])
        places = range(len(self._shown.columns))
        return ranks_of_texts([self._text(at, column) for at in places])


def _numbers_of(shown: ChanceShown) -> dict[BoxColumn, NDArray[np.float64]]:
    """The columns of numbers; those of what is asked only where something is."""
    columns, now, then = shown.columns, shown.now, shown.then
    found = {
        BoxColumn.INTERVAL: now.interval_hours,
        BoxColumn.PACE: columns.per_day,
        BoxColumn.ANSWER: now.answer_hours,
        BoxColumn.SHOWS: columns.shows_hours,
        BoxColumn.SURELY: columns.sensitivity,
        BoxColumn.CHANCE: now.chance,
        BoxColumn.BOTTLES: now.bottles,
    }
    if then is not None:
        found |= {BoxColumn.THEN: then.chance, BoxColumn.BOTTLES_THEN: then.bottles}
    return found


def _nan_last(numbers: NDArray[np.float64]) -> Ranks:
    return ranks_of_numbers(np.where(np.isnan(numbers), np.inf, numbers).tolist())


def _figure(value: float, places: int) -> str:
    return _NONE if math.isnan(value) else f"{value:,.{places}f}"
