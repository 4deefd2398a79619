"""The curves of one box: values, verdict of each value, limits and what matters most now."""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.analytes import Analyte
from fluiddesk.domain.limits.assessment import Judged, assess, load_of, reference_matrix
from fluiddesk.domain.limits.limit_set import Limit, LimitKind
from fluiddesk.domain.limits.limit_table import LimitTable, limit_table
from fluiddesk.domain.samples import SampleColumns, Sign
from fluiddesk.domain.severity import Severity
from fluiddesk.services.compartment_history.facts import AnalyteSeries, LimitBand, worst_first
from fluiddesk.services.limit_rules import bound_text


def analyte_series(
    columns: SampleColumns,
    limits: Sequence[Limit],
    *,
    analytes: Mapping[str, Analyte],
    references: Mapping[int, Mapping[int, float]],
    printed: Mapping[tuple[bytes, int], str],
) -> tuple[AnalyteSeries, ...]:
    """The curves of one box, the ones that matter now first.

    Args:
        columns: its samples.
        limits: the limits in force for it.
        analytes: the catalogue by code.
        references: new-fluid values by reference number and analyte number.
        printed: what the laboratory printed, by sample identifier and analyte number.
    """
    table = limit_table(limits, analytes=analytes, numbers=columns.analytes)
    matrix = reference_matrix(references, numbers=columns.analytes)
    judged = assess(columns, table, references=matrix)
    by_number = {analyte.number: analyte for analyte in analytes.values()}
    samples = [row.tobytes() for row in columns.sample_id]
    found = []
    for column, number in enumerate(columns.analytes):
        if number not in by_number or (columns.signs[:, column] == Sign.NOT_TESTED).all():
            continue
        own = np.flatnonzero(table.column == column)
        new = _reference(columns, matrix, column)
        found.append(
            AnalyteSeries(
                analyte=by_number[number],
                values=columns.values[:, column],
                signs=columns.signs[:, column],
                severity=_worst_of(judged.bands[:, own]),
                printed=tuple(printed.get((sample, number), "") for sample in samples),
                bands=tuple(_band(table.limits[index], by_number[number], new) for index in own),
                reference=new,
                weight=_weight(columns.signs[:, column], judged, table, own),
            )
        )
    return worst_first(found)


def _worst_of(bands: NDArray[np.int8]) -> NDArray[np.int8]:
    if not bands.shape[1]:
        return np.full(len(bands), Severity.NO_VERDICT, dtype=np.int8)
    worst: NDArray[np.int8] = bands.max(axis=1)
    return worst


def _reference(columns: SampleColumns, matrix: NDArray[np.float64], column: int) -> float | None:
    known = np.flatnonzero(columns.reference >= 0)
    if not len(known):
        return None
    value = float(matrix[int(columns.reference[known[-1]]), column])
    return None if np.isnan(value) else value


def _weight(
    signs: NDArray[np.uint8], judged: Judged, table: LimitTable, own: NDArray[np.intp]
) -> float:
    """The last tested sample's band first, then how near it came to the Act bound."""
    tested = np.flatnonzero(signs != Sign.NOT_TESTED)
    if not len(tested) or not len(own):
        return -1.0
    last = int(tested[-1])
    shares = [
        load_of(
            judged.compared[last : last + 1, index],
            table.bounds[index],
            falling=table.limits[index].direction == "down",
        )[0]
        for index in own
        if judged.bands[last, index] >= 0
    ]
    return 1000.0 * float(judged.bands[last, own].max()) + min(max(shares, default=0.0), 99.0)


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
    """A bound on the analyte's own scale; ``None`` where it needs an unknown new-fluid value."""
    if bound is None or limit.kind is LimitKind.LEVEL:
        return bound
    if new is None:
        return None
    return new + bound if limit.kind is LimitKind.CHANGE else new * (1 + bound / 100)
