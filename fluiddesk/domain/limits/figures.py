"""The figure each kind of limit compares, for every sample of a group at once."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.analytes import Analyte, AnalyteFamily
from fluiddesk.domain.limits.context import FloatColumn, JudgingContext, no_context
from fluiddesk.domain.limits.limit_set import Limit, LimitKind
from fluiddesk.domain.limits.own_history import Path, Smoothing, Step, own_median, own_step
from fluiddesk.domain.limits.ratios import quotient, ratio_signs
from fluiddesk.domain.limits.settings import USUAL, JudgingSettings
from fluiddesk.domain.samples import SampleColumns, Sign
from fluiddesk.domain.severity import Trust

Signs = NDArray[np.uint8]
Rows = NDArray[np.intp]

EVERY_ROW: Final = slice(None)

TO_DEVIATION: Final = 2.77
"""The 95 % limit on the difference of two results over one result's standard deviation."""

_LEAST_LEVEL: Final = 0.5
"""Half the smallest step of a metal in mg/kg: keeps the logarithm of nothing finite."""

_MADE: Final = (AnalyteFamily.WEAR, AnalyteFamily.CONTAMINATION)
"""Families whose level adds up in a fill, so that the mass balance says what to expect."""

_GRADE_COLUMNS: Final = {"viscosity_40c": (0, 1), "viscosity_100c": (2, 3)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """What one limit compares of each sample; shape (n,).

    Attributes:
        values: the figure, NaN where there is none.
        signs: what is certain of it: plain, "at most" (``Sign.BELOW``) or "at least" (``ABOVE``).
        most: where "at least" stands, the most the figure can be; ``None``: no upper end is known.
    """

    values: FloatColumn
    signs: Signs
    most: FloatColumn | None = None


class Figures:
    """Computes and keeps the figures of one group of samples; nothing depends on bounds.

    Args:
        columns: the samples; those of one box stand together, in the order taken.
        references: shape (r, m), new-fluid values by reference number, NaN where unknown.
        analytes: the catalogue, by code.
        context: what came before and beside each sample; without it only kinds that need no
            other sample are judged.
        settings: numbers of the rules.
    """

    def __init__(
        self,
        columns: SampleColumns,
        *,
        references: FloatColumn,
        analytes: Mapping[str, Analyte],
        context: JudgingContext | None = None,
        settings: JudgingSettings = USUAL,
    ) -> None:
        self.columns = columns
        self.references = references
        self.analytes = analytes
        self.context = context or no_context(columns)
        self.settings = settings
        self._place = {number: index for index, number in enumerate(columns.analytes)}
        self._kept: dict[tuple[object, ...], Figure] = {}
        self._steps: dict[str, Step] = {}
        self._ratios: dict[tuple[str, str], FloatColumn] = {}
        self._levels: dict[int, FloatColumn] = {}
        self._signs: dict[int, Signs] = {}

    def of(self, limit: Limit) -> Figure:
        """The figure that a limit compares."""
        side = limit.direction if limit.kind is LimitKind.OFF_GRADE else ""
        key = (limit.kind, limit.analyte, limit.companion, side, limit.least_change)
        if limit.kind in (LimitKind.LEVEL, LimitKind.PERCENTILE):
            return Figure(values=self.level(limit.analyte), signs=self.signs(limit.analyte))
        if key not in self._kept:
            self._kept[key] = _BY_KIND[limit.kind](self, limit)
        return self._kept[key]

    def column(self, code: str) -> int:
        """The column of an analyte; -1 where the group was never tested for it."""
        return self._place.get(self.analytes[code].number, -1) if code in self.analytes else -1

    def level(self, code: str, rows: Rows | None = None) -> FloatColumn:
        """The values of an analyte, side by side in memory; of some samples, or of all."""
        column = self.column(code)
        if column < 0:
            return np.full(len(self.columns) if rows is None else len(rows), np.nan)
        if rows is not None:
            some: FloatColumn = self.columns.values[rows, column]
            return some
        if column not in self._levels:
            self._levels[column] = np.ascontiguousarray(self.columns.values[:, column])
        return self._levels[column]

    def signs(self, code: str, rows: Rows | None = None) -> Signs:
        """The signs of an analyte, likewise."""
        column = self.column(code)
        if column < 0:
            size = len(self.columns) if rows is None else len(rows)
            return np.full(size, Sign.NOT_TESTED, dtype=np.uint8)
        if rows is not None:
            some: Signs = self.columns.signs[rows, column]
            return some
        if column not in self._signs:
            self._signs[column] = np.ascontiguousarray(self.columns.signs[:, column])
        return self._signs[column]

    def new_fluid(self, code: str, rows: Rows | slice = EVERY_ROW) -> FloatColumn:
        """The new fluid's value beside each sample, or beside some."""
        column, number = self.column(code), self.columns.reference[rows]
        if column < 0 or not len(self.references):
            return np.full(len(number), np.nan)
        known = number >= 0
        return np.where(known, self.references[np.where(known, number, 0), column], np.nan)

    def reproducibility(self, code: str, level: FloatColumn) -> FloatColumn:
        """The difference of two results that means something; NaN where the method's is unknown."""
        analyte = self.analytes[code]
        precision = analyte.reproducibility or analyte.repeatability
        return np.full_like(level, np.nan) if precision is None else precision.at(level)

    def step(self, code: str) -> Step:
        """How each sample lies to what its own history leads one to expect."""
        if code not in self._steps:
            self._steps[code] = self._step(code)
        return self._steps[code]

    def own_change(self, limit: Limit) -> FloatColumn:
        """Absolute change from what the box's own samples say, for a statistical limit."""
        level = self.level(limit.analyte)
        if limit.kind is LimitKind.OWN_STEP:
            return np.abs(level - self.step(limit.analyte).expected)
        previous = self.context.previous
        before = np.where(previous >= 0, level[np.maximum(previous, 0)], np.nan)
        return np.abs(level - before)

    def exceeds_method(self, limit: Limit) -> NDArray[np.bool_]:
        """Whether a statistical exceedance is also more than the method can tell apart (R)."""
        change = self.own_change(limit)
        least = self.reproducibility(limit.analyte, self.level(limit.analyte))
        with np.errstate(invalid="ignore"):
            return change > least

    def balance(self, code: str) -> Path:
        """The level at each sample as a line in the metal made per hour."""
        context, level = self.context, self.level(code)
        fresh = self.new_fluid(code)
        if self.analytes[code].family is AnalyteFamily.WEAR:
            # New oil carries next to no wear metal: where its analysis lacks one, it counts as 0.
            fresh = np.where(np.isnan(fresh), 0.0, fresh)
        start = np.where(context.start >= 0, level[np.maximum(context.start, 0)], np.nan)
        # Nothing is left of the old fluid where the share is 0: its level then does not matter.
        start = np.where(context.start_share == 0, 0.0, start)
        begun = context.start_share * start + (1.0 - context.start_share) * fresh
        return Path(base=context.kept * begun + context.brought * fresh, slope=context.per_made)

    def inputs(self, limit: Limit, rows: Rows) -> dict[str, FloatColumn]:
        """Further numbers of a comparison beside the value, by name; what a hand check needs."""
        told = _INPUTS.get(limit.kind)
        return told(self, limit, rows) if told else {}

    def own_ratio(self, limit: Limit) -> FloatColumn:
        """The box's own median of the ratio to its companion, of up to eight earlier samples."""
        key = (limit.analyte, limit.companion)
        if key not in self._ratios:
            plain, certain = _plain_ratio(self, limit)
            self._ratios[key] = own_median(
                np.where(certain == Sign.PLAIN, plain, np.nan),
                previous=self.context.previous,
                least_earlier=self.settings.least_earlier,
            )
        return self._ratios[key]

    def is_young(self) -> NDArray[np.bool_]:
        """Fills too young for a rate."""
        settings, context = self.settings, self.context
        age = np.fmax(self.columns.fluid_hours, context.hours)
        least = settings.least_fluid_share * np.nan_to_num(context.interval_hours)
        with np.errstate(invalid="ignore"):
            return ~(age >= np.maximum(settings.least_fluid_hours, least))

    def _step(self, code: str) -> Step:
        analyte, level = self.analytes[code], self.level(code)
        made = analyte.family in _MADE and analyte.unit == "mg/kg"
        plain = Path(base=np.zeros_like(level), slope=np.ones_like(level))
        offset = (analyte.detection_limit or 2 * _LEAST_LEVEL) / 2.0 if made else None
        with np.errstate(divide="ignore", invalid="ignore"):
            measured = self.reproducibility(code, level) / TO_DEVIATION
            rounding = 10.0**-analyte.decimals / np.sqrt(12.0)
            measured = np.hypot(np.nan_to_num(measured), rounding)
            if offset is not None:
                measured = measured / (np.maximum(level, 0.0) + offset)
        return own_step(
            level,
            path=self.balance(code) if made else plain,
            history=self.context.history,
            counts=self.columns.trust == Trust.GOOD,
            measured_to=measured,
            smoothing=Smoothing(
                offset=offset,
                weight=self.settings.smoothing,
                clip=self.settings.clip,
                least_earlier=self.settings.least_earlier,
            ),
        )


def _change(figures: Figures, limit: Limit) -> Figure:
    values = figures.level(limit.analyte) - figures.new_fluid(limit.analyte)
    return Figure(values=values, signs=figures.signs(limit.analyte))


def _change_percent(figures: Figures, limit: Limit) -> Figure:
    values, new = figures.level(limit.analyte), figures.new_fluid(limit.analyte)
    share = np.divide(
        (values - new) * 100.0, new, out=np.full_like(values, np.nan), where=np.abs(new) > 0
    )
    return Figure(values=share, signs=figures.signs(limit.analyte))


def _rate(figures: Figures, limit: Limit) -> Figure:
    """What the box made per 100 h; a start below detection leaves a range of it."""
    code, context = limit.analyte, figures.context
    level, signs = figures.level(code), figures.signs(code)
    path = figures.balance(code)
    with np.errstate(divide="ignore", invalid="ignore"):
        rate = 100.0 * (level - path.base) / path.slope
        start = np.where(context.start >= 0, level[np.maximum(context.start, 0)], 0.0)
        nothing_left = path.base - context.kept * context.start_share * start
        most = 100.0 * (level - nothing_left) / path.slope
    rate = np.where(figures.is_young(), np.nan, rate)
    begun = context.start >= 0
    started = np.where(begun, signs[np.maximum(context.start, 0)], Sign.PLAIN).astype(np.uint8)
    at_least = (started == Sign.BELOW) & (signs != Sign.BELOW)
    at_most = (signs == Sign.BELOW) | (started == Sign.ABOVE)
    told = np.where(at_least, Sign.ABOVE, np.where(at_most, Sign.BELOW, signs)).astype(np.uint8)
    # Both below detection: at most what a clean start would come to.
    rate = np.where((started == Sign.BELOW) & (signs == Sign.BELOW), most, rate)
    open_ended = signs == Sign.ABOVE
    return Figure(values=rate, signs=told, most=np.where(at_least & ~open_ended, most, np.inf))


def _told_apart(
    figures: Figures, code: str, ratio: FloatColumn, expected: FloatColumn
) -> FloatColumn:
    """The ratio where its value differs from the expected one by more than the method's R, else 1.

    2 mg/kg over 1 mg/kg is twice as much on paper and nothing on the instrument.
    """
    level = figures.level(code)
    least = figures.reproducibility(code, np.fmax(level, expected))
    with np.errstate(invalid="ignore"):
        same = np.abs(level - expected) <= least
    return np.where(same & ~np.isnan(ratio), 1.0, ratio)


def _left_right(figures: Figures, limit: Limit) -> Figure:
    code = limit.analyte
    beside, signs = figures.context.side(figures.analytes[code].number)
    ratio = quotient(figures.level(code), beside)
    certain = ratio_signs(figures.signs(code), signs)
    ratio = np.where(certain == Sign.NOT_TESTED, np.nan, ratio)
    return Figure(values=_told_apart(figures, code, ratio, beside), signs=certain)


def _plain_ratio(figures: Figures, limit: Limit) -> tuple[FloatColumn, Signs]:
    code, other = limit.analyte, limit.companion
    plain = quotient(figures.level(code), figures.level(other))
    certain = ratio_signs(figures.signs(code), figures.signs(other))
    return np.where(certain == Sign.NOT_TESTED, np.nan, plain), certain


def _companion(figures: Figures, limit: Limit) -> Figure:
    plain, certain = _plain_ratio(figures, limit)
    usual = figures.own_ratio(limit)
    expected = usual * figures.level(limit.companion)
    ratio = quotient(plain, usual)
    return Figure(values=_told_apart(figures, limit.analyte, ratio, expected), signs=certain)


def _as_it_stands(figures: Figures, limit: Limit) -> Figure:
    ratio, certain = _plain_ratio(figures, limit)
    return Figure(values=ratio, signs=certain)


def _own_step(figures: Figures, limit: Limit) -> Figure:
    code = limit.analyte
    step, level = figures.step(code), figures.level(code)
    least = figures.reproducibility(code, np.fmax(level, step.expected))
    if limit.least_change is not None:
        least = np.full_like(level, limit.least_change)
    with np.errstate(invalid="ignore"):
        too_small = np.abs(level - step.expected) < least
    spreads = np.where(too_small & ~np.isnan(step.spreads), 0.0, step.spreads)
    return Figure(values=spreads, signs=figures.signs(code))


def _off_grade(figures: Figures, limit: Limit) -> Figure:
    """Percent past the edge of the grade: above the upper one positive, below the lower negative.

    Inside the grade the figure is 0.
    """
    level, edge = figures.level(limit.analyte), _grade_edge(figures, limit)
    known = np.isfinite(edge) & (edge > 0)
    past = np.divide((level - edge) * 100.0, edge, out=np.full_like(level, np.nan), where=known)
    inside = past < 0 if limit.direction == "up" else past > 0
    return Figure(values=np.where(inside, 0.0, past), signs=figures.signs(limit.analyte))


def _grade_edge(figures: Figures, limit: Limit, rows: Rows | slice = EVERY_ROW) -> FloatColumn:
    """The edge of the fluid's viscosity grade on the limit's side; NaN where none is known."""
    grade, edges = figures.context.grade[rows], figures.context.grade_edges
    columns = _GRADE_COLUMNS.get(limit.analyte)
    if columns is None or not len(edges):
        return np.full(len(grade), np.nan)
    own = edges[np.maximum(grade, 0), columns[1 if limit.direction == "up" else 0]]
    return np.where(grade >= 0, own, np.nan)


def _missing_test(figures: Figures, limit: Limit) -> Figure:
    context, number = figures.context, figures.analytes[limit.analyte].number
    lists = np.array([number in one for one in context.ordered], dtype=bool)
    known = context.tests >= 0
    wanted = np.zeros(len(known), dtype=bool)
    if len(lists):
        wanted = known & lists[np.maximum(context.tests, 0)]
    missing = figures.signs(limit.analyte) >= Sign.NOT_TESTED
    figure = np.where(known, (wanted & missing).astype(np.float64), np.nan)
    return Figure(values=figure, signs=np.zeros(len(figure), dtype=np.uint8))


_BY_KIND: Final[Mapping[LimitKind, Callable[[Figures, Limit], Figure]]] = {
    LimitKind.CHANGE: _change,
    LimitKind.CHANGE_PERCENT: _change_percent,
    LimitKind.RATE_PER_100H: _rate,
    LimitKind.LEFT_RIGHT_RATIO: _left_right,
    LimitKind.COMPANION_RATIO: _companion,
    LimitKind.PLAIN_RATIO: _as_it_stands,
    LimitKind.OWN_STEP: _own_step,
    LimitKind.OFF_GRADE: _off_grade,
    LimitKind.MISSING_TEST: _missing_test,
}


def _rate_inputs(figures: Figures, limit: Limit, rows: Rows) -> dict[str, FloatColumn]:
    context, level = figures.context, figures.level(limit.analyte)
    start = context.start[rows]
    return {
        "start": np.where(start >= 0, level[np.maximum(start, 0)], np.nan),
        "start_share": context.start_share[rows],
        "fresh": figures.new_fluid(limit.analyte, rows),
        "hours": context.hours[rows],
        "kept": context.kept[rows],
        "brought": context.brought[rows],
        "per_made": context.per_made[rows],
    }


def _step_inputs(figures: Figures, limit: Limit, rows: Rows) -> dict[str, FloatColumn]:
    step = figures.step(limit.analyte)
    return {
        "expected": step.expected[rows],
        "spread": step.spread[rows],
        "earlier": step.earlier[rows].astype(np.float64),
    }


_INPUTS: Final[Mapping[LimitKind, Callable[[Figures, Limit, Rows], dict[str, FloatColumn]]]] = {
    LimitKind.RATE_PER_100H: _rate_inputs,
    LimitKind.OWN_STEP: _step_inputs,
    LimitKind.LEFT_RIGHT_RATIO: lambda figures, limit, rows: {
        "other_side": figures.context.side(figures.analytes[limit.analyte].number)[0][rows]
    },
    LimitKind.COMPANION_RATIO: lambda figures, limit, rows: {
        "companion": figures.level(limit.companion)[rows],
        "own_ratio": figures.own_ratio(limit)[rows],
    },
    LimitKind.PLAIN_RATIO: lambda figures, limit, rows: {
        "companion": figures.level(limit.companion)[rows]
    },
    LimitKind.OFF_GRADE: lambda figures, limit, rows: {"edge": _grade_edge(figures, limit, rows)},
}
