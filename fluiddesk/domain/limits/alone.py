"""The band each limit by itself puts each sample in, before anything is combined."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.limits.bands import NOT_JUDGED, Bands, band, load_of
from fluiddesk.domain.limits.combining import Key, Why, cap_groups
from fluiddesk.domain.limits.context import FloatColumn
from fluiddesk.domain.limits.figures import Figure, Figures
from fluiddesk.domain.limits.hysteresis import NO_LIMIT
from fluiddesk.domain.limits.limit_set import (
    RELATIVE_KINDS,
    STATISTICAL_KINDS,
    Limit,
    LimitKind,
)
from fluiddesk.domain.limits.limit_table import LimitTable
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.severity import Severity

Rows = NDArray[np.intp]
Factors = list[tuple[float, Rows]]
"""What bounds are multiplied by, and for which samples; all others by 1."""

_SHOWS_THE_WAY: Final = (LimitKind.LEVEL, LimitKind.CHANGE, LimitKind.CHANGE_PERCENT)
"""Kinds whose share of the way to the Act bound tells whether a box rises or falls."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """Some samples of a run and the limits that held on their days; ``at`` counts in the run."""

    at: Rows | slice
    table: LimitTable


class Alone:
    """Judges the samples of a run by each limit alone.

    ``own`` is the band, ``keep`` the band at the bounds for clearing and ``why`` what lowered a
    band; all of shape (n, k). ``load`` is the share of the way to Act, of the samples in ``loads``.

    Args:
        figures: of the group the run belongs to.
        rows: the run.
        keys: what the k columns look at.
        may_stand_over: whether ``keep`` is asked for.
        loads: whose share of the way to Act is asked for; of all samples where it is left out.
    """

    def __init__(
        self,
        figures: Figures,
        rows: slice,
        keys: tuple[Key, ...],
        *,
        may_stand_over: bool,
        loads: Rows | None = None,
    ) -> None:
        self.figures, self.rows, self.keys = figures, rows, keys
        n, k = rows.stop - rows.start, len(keys)
        # One limit after the other goes down a column: columns lie together in memory.
        self.own = np.full((k, n), NO_LIMIT, dtype=np.int8).T
        self.keep = np.full((k, n), NO_LIMIT, dtype=np.int8).T
        self.why = np.zeros((k, n), dtype=np.uint8).T
        self.load = np.zeros(n)
        self._may_stand_over = may_stand_over
        self._loads = loads
        # Column by column, a run at a time: a whole group's copy would take as much memory again.
        self._levels = np.asfortranarray(figures.columns.values[rows])
        self._signs = np.asfortranarray(figures.columns.signs[rows])
        self._at = {key: index for index, key in enumerate(keys)}
        self._factor = run_in_factors(figures, rows)

    def judge(self, part: Part, *, is_only: bool) -> None:
        """Judge the samples of one part by its limits; ``is_only``: the run has no other part."""
        table, at = part.table, part.at
        if not table.limits:
            return
        factors = self._factors(at)
        own = np.empty((len(table.limits), len(self.load[at])), dtype=np.int8).T
        for index, limit in enumerate(table.limits):
            place = self._at[limit.key]
            figure = self._figure(limit, at, int(table.places[index]))
            some = factors if table.runs_in[index] else []
            bands = at_bounds(figure, table.bounds[index], some, limit, boundary=limit.boundary)
            own[:, index] = bands
            self.keep[at, place] = bands
            # A limit that never fires has nothing to clear.
            if self._may_stand_over and (not is_only or bool((bands > Severity.NORMAL).any())):
                clears = at_bounds(figure, table.clears[index], some, limit, boundary="at")
                self.keep[at, place] = self._clearing(limit, at, bands, clears)
            if limit.kind in _SHOWS_THE_WAY:
                self._carry(part, index, figure, bands)
        self._take(part, own)

    def _carry(self, part: Part, index: int, figure: Figure, bands: Bands) -> None:
        """Keep the highest share of the way to the Act bound."""
        at, values = part.at, figure.values
        if self._loads is not None:
            inside = np.zeros(len(self.load), dtype=bool)
            inside[self._loads] = True
            some = np.flatnonzero(inside[at])
            at, values, bands = np.arange(len(inside))[at][some], values[some], bands[some]
        limit, table = part.table.limits[index], part.table
        share = load_of(values, table.bounds[index], falling=_falling(limit))
        share[bands == NOT_JUDGED] = 0.0
        self.load[at] = np.maximum(self.load[at], share)

    def _factors(self, at: Rows | slice) -> Factors:
        factor = self._factor[at]
        told = np.unique(factor).tolist()
        return [(one, np.flatnonzero(factor == one)) for one in told if one != 1.0]

    def _figure(self, limit: Limit, at: Rows | slice, places: int) -> Figure:
        if limit.kind in (LimitKind.LEVEL, LimitKind.PERCENTILE):
            column = self.figures.column(limit.analyte)
            if column >= 0:
                values = np.round(self._levels[:, column][at], places)
                return Figure(values=values, signs=self._signs[:, column][at])
        found = self.figures.of(limit)
        return Figure(
            values=np.round(found.values[self.rows][at], places),
            signs=found.signs[self.rows][at],
            most=None if found.most is None else found.most[self.rows][at],
        )

    def _clearing(self, limit: Limit, at: Rows | slice, bands: Bands, clears: Bands) -> Bands:
        """The band at the bounds for clearing, never lower than the band itself."""
        if limit.kind is LimitKind.MISSING_TEST:
            return bands
        # Whether it is short of the bound for clearing is open: then it clears nothing.
        is_open = (clears == NOT_JUDGED) & (bands != NOT_JUDGED)
        kept = np.where(is_open, np.int8(Severity.URGENT), clears)
        if limit.kind in RELATIVE_KINDS:
            # A result is there and only its yardstick lacks: nothing speaks for the alarm.
            signs = self.figures.signs(limit.analyte)[self.rows][at]
            tested = (bands == NOT_JUDGED) & (signs < Sign.NOT_TESTED)
            kept = np.where(tested, np.int8(Severity.NORMAL), kept)
        return np.maximum(kept, bands)

    def _take(self, part: Part, own: Bands) -> None:
        table, at = part.table, part.at
        lacks = cap_groups(own, table.limits, table.column)
        for index, limit in enumerate(table.limits):
            place = self._at[limit.key]
            if limit.kind in STATISTICAL_KINDS:
                self._stop_at_watch(part, index, own)
            self.own[at, place] = own[:, index]
            if limit.group:
                self.why[at, place] |= np.where(lacks[:, index], Why.LACKS, 0).astype(np.uint8)

    def _stop_at_watch(self, part: Part, index: int, own: Bands) -> None:
        """A statistical exceedance that the method cannot tell from no change stops at Watch."""
        limit = part.table.limits[index]
        past = own[:, index] > Severity.WATCH
        if not past.any():
            return
        stopped = past & ~self.figures.exceeds_method(limit)[self.rows][part.at]
        own[stopped, index] = Severity.WATCH
        place = self._at[limit.key]
        self.why[part.at, place] |= np.where(stopped, Why.STOPPED, 0).astype(np.uint8)


def run_in_factors(figures: Figures, rows: slice | Rows) -> FloatColumn:
    """What wear limits are multiplied by while a fitted component runs in; 1 afterwards."""
    run_in = np.array([*figures.settings.run_in, 1.0])
    fills = figures.context.fills_since_fit[rows].astype(np.intp)
    return run_in[np.where(fills < 0, len(run_in) - 1, np.minimum(fills, len(run_in) - 1))]


def at_bounds(
    figure: Figure, bounds: FloatColumn, factors: Factors, limit: Limit, *, boundary: str
) -> Bands:
    """The bands of a limit at some bounds; at wider ones for a component that runs in."""
    falling, counts_at = _falling(limit), boundary == "at"
    found = band(
        figure.values,
        figure.signs,
        bounds=bounds,
        falling=falling,
        counts_at=counts_at,
        most=figure.most,
    )
    for factor, rows in factors:
        found[rows] = band(
            figure.values[rows],
            figure.signs[rows],
            bounds=np.round(bounds * factor, 9),
            falling=falling,
            counts_at=counts_at,
            most=None if figure.most is None else figure.most[rows],
        )
    return found


def _falling(limit: Limit) -> bool:
    return limit.direction == "down"
