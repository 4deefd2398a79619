"""The curves of one box: values, verdict of each value, limits and what matters most now."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.analytes import Analyte
from fluiddesk.domain.limits.assessment import Judged, assess, reference_matrix
from fluiddesk.domain.limits.bands import load_of
from fluiddesk.domain.limits.limit_set import Limit, LimitKind
from fluiddesk.domain.limits.limit_table import LimitTable, limit_table
from fluiddesk.domain.samples import SampleColumns, Sign
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.compartment_history.facts import (
    AnalyteSeries,
    LimitBand,
    LimitSpan,
    ReasonFacts,
    worst_first,
)
from fluiddesk.services.compartment_history.story import fresh_at
from fluiddesk.services.limit_rules import bound_text
from fluiddesk.services.reassess.judging import rows_of

LARGE_CHANGE: Final = 0.30
"""Share by which a value must move to be told where the method's reproducibility is not known
(common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldLimits:
    """The limits that held for a box over a run of its samples, first and last included."""

    first: int
    last: int
    limit_set: str
    limits: Sequence[Limit]


def analyte_series(
    columns: SampleColumns,
    held: Sequence[HeldLimits],
    *,
    analytes: Mapping[str, Analyte],
    references: Mapping[int, Mapping[int, float]],
    printed: Mapping[tuple[bytes, int], str],
) -> tuple[AnalyteSeries, ...]:
    """The curves of one box, the ones that matter now first.

    Args:
        columns: its samples.
        held: the limits in force for it, over the whole run of its samples without a gap.
        analytes: the catalogue by code.
        references: new-fluid values by reference number and analyte number.
        printed: what the laboratory printed, by sample identifier and analyte number.
    """
    matrix = reference_matrix(references, numbers=columns.analytes)
    fresh = fresh_at(columns, matrix)
    parts = [_judged(columns, one, analytes, matrix) for one in held]
    by_number = {analyte.number: analyte for analyte in analytes.values()}
    samples = [row.tobytes() for row in columns.sample_id]
    change, is_large = _changes(columns, [by_number.get(one) for one in columns.analytes])
    found = []
    for column, number in enumerate(columns.analytes):
        if number not in by_number or (columns.signs[:, column] == Sign.NOT_TESTED).all():
            continue
        spans = tuple(
            _span(part, column, by_number[number], _known(fresh[: part.held.last + 1, column]))
            for part in parts
        )
        found.append(
            AnalyteSeries(
                analyte=by_number[number],
                values=columns.values[:, column],
                signs=columns.signs[:, column],
                severity=_severity(len(columns), parts, column),
                printed=tuple(printed.get((sample, number), "") for sample in samples),
                bands=spans[-1].bands if spans else (),
                reference=_known(fresh[:, column]),
                weight=_weight(columns.signs[:, column], parts[-1], column) if parts else -1.0,
                spans=spans,
                references=fresh[:, column],
                changes=change[:, column],
                is_large_change=is_large[:, column],
            )
        )
    return worst_first(found)


def with_reasons(
    series: Sequence[AnalyteSeries], reasons: Sequence[ReasonFacts]
) -> tuple[AnalyteSeries, ...]:
    """The curves with what fired on the last sample by limits that a single value cannot break.

    Rates, ratios and steps are judged with the whole history; their verdict is kept with the
    sample. The curves that matter now come first.
    """
    fired: dict[str, Severity] = {}
    for reason in reasons:
        rule = reason.rule
        fired[rule.analyte] = max(rule.severity, fired.get(rule.analyte, Severity.NO_VERDICT))
    return worst_first([_raised(one, fired.get(one.analyte.code)) for one in series])


def _raised(series: AnalyteSeries, fired: Severity | None) -> AnalyteSeries:
    if fired is None or not len(series.severity) or series.severity[-1] >= fired:
        return series
    severity = series.severity.copy()
    severity[-1] = fired
    return replace(series, severity=severity, weight=max(series.weight, 1000.0 * fired))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """One run of samples judged by the limits that held; ``own`` of each column."""

    held: HeldLimits
    judged: Judged
    compared: NDArray[np.float64]
    table: LimitTable

    def own(self, column: int) -> NDArray[np.intp]:
        return np.flatnonzero(self.table.column == column)


def _judged(
    columns: SampleColumns,
    held: HeldLimits,
    analytes: Mapping[str, Analyte],
    matrix: NDArray[np.float64],
) -> _Part:
    table = limit_table(held.limits, analytes=analytes, numbers=columns.analytes)
    rows = rows_of(columns, slice(held.first, held.last + 1))
    judged = assess(rows, table, references=matrix)
    # The figures are worked out anew each time they are asked for: once is enough for all curves.
    return _Part(held=held, judged=judged, compared=judged.compared, table=table)


def _severity(size: int, parts: Sequence[_Part], column: int) -> NDArray[np.int8]:
    worst = np.full(size, Severity.NO_VERDICT, dtype=np.int8)
    for part in parts:
        bands = part.judged.bands[:, part.own(column)]
        worst[part.held.first : part.held.last + 1] = _worst_of(bands)
    return worst


def _span(part: _Part, column: int, analyte: Analyte, new: float | None) -> LimitSpan:
    return LimitSpan(
        first=part.held.first,
        last=part.held.last,
        limit_set=part.held.limit_set,
        bands=tuple(_band(part.table.limits[one], analyte, new) for one in part.own(column)),
    )


def _known(fresh: NDArray[np.float64]) -> float | None:
    """The newest new-fluid value that is known."""
    told = fresh[np.isfinite(fresh)]
    return float(told[-1]) if len(told) else None


def _changes(
    columns: SampleColumns, analytes: Sequence[Analyte | None]
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """The change since the believed sample before, and whether the method explains it: (n, m)."""
    has = (columns.signs <= Sign.ABOVE) & (columns.trust != Trust.REJECTED)[:, None]
    row = np.where(has, np.arange(len(columns))[:, None], -1)
    before = np.maximum.accumulate(np.vstack([np.full((1, row.shape[1]), -1), row[:-1]]), axis=0)
    number = columns.signs <= Sign.ABOVE
    values = np.where(number, columns.values, np.nan)
    last = np.take_along_axis(values, np.maximum(before, 0), axis=0)
    change = np.where(number & (before >= 0), values - last, np.nan)
    size = np.fmax(np.abs(values), np.abs(last))
    least = np.empty_like(size)
    for column, analyte in enumerate(analytes):
        precision = analyte.reproducibility if analyte is not None else None
        least[:, column] = (
            precision.at(size[:, column]) if precision else LARGE_CHANGE * size[:, column]
        )
    with np.errstate(invalid="ignore"):
        large = np.abs(change) > least
    return change, np.asarray(large)


def _worst_of(bands: NDArray[np.int8]) -> NDArray[np.int8]:
    if not bands.shape[1]:
        return np.full(len(bands), Severity.NO_VERDICT, dtype=np.int8)
    worst: NDArray[np.int8] = bands.max(axis=1)
    return worst


def _weight(signs: NDArray[np.uint8], part: _Part, column: int) -> float:
    """The last tested sample's band first, then how near it came to the Act bound."""
    own = part.own(column)
    tested = np.flatnonzero(signs != Sign.NOT_TESTED)
    last = int(tested[-1]) - part.held.first if len(tested) else -1
    if last < 0 or not len(own):
        return -1.0
    shares = [
        load_of(
            part.compared[last : last + 1, index],
            part.table.bounds[index],
            falling=part.table.limits[index].direction == "down",
        )[0]
        for index in own
        if part.judged.bands[last, index] >= 0
    ]
    return 1000.0 * float(part.judged.bands[last, own].max()) + min(max(shares, default=0.0), 99.0)


def _band(limit: Limit, analyte: Analyte, new: float | None) -> LimitBand:
    bounds = [_absolute(bound, limit, new) for bound in limit.bounds()]
    told = " / ".join(bound_text(bound, limit) or "-" for bound in limit.bounds())
    kinds = {
        LimitKind.LEVEL: analyte.unit,
        LimitKind.CHANGE: f"{analyte.unit} from new",
        LimitKind.CHANGE_PERCENT: "% from new",
    }
    return LimitBand(
        direction=limit.direction,
        watch=bounds[0],
        act=bounds[1],
        urgent=bounds[2],
        kind=limit.kind,
        text=f"Watch / Act / Urgent {told} {kinds.get(limit.kind, '')}".strip(),
        source=limit.source,
        set_by=limit.set_by,
    )


def _absolute(bound: float | None, limit: Limit, new: float | None) -> float | None:
    """A bound on the analyte's own scale; ``None`` where it has no place there, or none known."""
    if bound is None or limit.kind in (LimitKind.LEVEL, LimitKind.PERCENTILE):
        return bound
    if new is None or limit.kind not in (LimitKind.CHANGE, LimitKind.CHANGE_PERCENT):
        return None
    return new + bound if limit.kind is LimitKind.CHANGE else new * (1 + bound / 100)
