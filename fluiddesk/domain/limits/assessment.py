"""What the limits in force say of a column of samples; one sample is a column of length one."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.analytes import AnalyteCode
from fluiddesk.domain.limits.limit_set import Limit, LimitKind
from fluiddesk.domain.limits.limit_table import LimitTable, bound_reached
from fluiddesk.domain.samples import SampleColumns, Sign
from fluiddesk.domain.severity import Severity, Trust, worst

_NOT_JUDGED = np.int8(Severity.NO_VERDICT)
_STEPS = (Severity.WATCH, Severity.ACT, Severity.URGENT)
_HIGHEST_LOAD: Final = 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """The verdicts on n samples by k limits.

    Attributes:
        severity: shape (n,), the worst band; ``NO_VERDICT`` where no limit could be judged.
        bands: shape (n, k), the band each limit puts each sample in; -1 where it cannot be judged:
            no number, no new-fluid reference, a rejected sample, or a censored value whose bound
            leaves the answer open ("<50" against a limit of 20).
        compared: shape (n, k), the figure that was compared: the value, or its change from new.
        load: shape (n,), the highest share of the way to the Act bound, or to the first bound of
            a limit without one (1 = on it, at most 100); 0 where no limit could be judged.
        digest: shape (n,), fingerprint of the severity and of the limits that fired with their
            bands; equal digests, equal verdicts. The values themselves are no part of it.
    """

    severity: NDArray[np.int8]
    bands: NDArray[np.int8]
    compared: NDArray[np.float64]
    load: NDArray[np.float64]
    digest: NDArray[np.uint64]


@dataclass(frozen=True, slots=True, kw_only=True)
class FiredRule:
    """One limit that fired on one sample, with every number needed to check it by hand.

    ``value`` is the reading, ``reference`` the new fluid's value where the limit looks at the
    change, ``compared`` the figure that was held against ``bound``; all in the analyte's unit, or
    percent.
    """

    analyte: AnalyteCode
    kind: LimitKind
    direction: str
    severity: Severity
    sign: Sign
    value: float
    reference: float | None
    compared: float
    bound: float
    scope: str
    source: str
    set_by: str

    @property
    def margin(self) -> float:
        """How far past the bound, in the unit of the comparison; never negative."""
        return abs(self.compared - self.bound)


def assess(columns: SampleColumns, table: LimitTable, *, references: NDArray[np.float64]) -> Judged:
    """Judge samples against the limits that hold for their boxes.

    Args:
        columns: n samples of boxes that share ``table``.
        table: k limits against the same m analyte columns.
        references: shape (r, m), new-fluid values by reference number; NaN where unknown. Row
            numbers are what ``columns.reference`` holds.
    """
    n, k = len(columns), len(table.limits)
    # One limit after the other goes down a column: columns lie together in memory.
    bands = np.full((k, n), _NOT_JUDGED, dtype=np.int8).T
    compared = np.full((k, n), np.nan).T
    columns = replace(
        columns,
        values=np.asfortranarray(columns.values),
        signs=np.asfortranarray(columns.signs),
    )
    load = np.zeros(n)
    believed = columns.trust != Trust.REJECTED
    for index, limit in enumerate(table.limits):
        column = int(table.column[index])
        figure = _figure(columns, limit, column=column, references=references)
        figure = np.round(figure, int(table.places[index]))
        compared[:, index] = figure
        bound = table.bounds[index]
        band = _band(figure, columns.signs[:, column], bounds=bound, limit=limit)
        band = np.where(believed, band, _NOT_JUDGED)
        bands[:, index] = band
        share = load_of(figure, bound, falling=limit.direction == "down")
        np.maximum(load, np.where(band != _NOT_JUDGED, share, 0.0), out=load)
    _cap_groups(bands, table)
    severity = worst(bands)
    return Judged(
        severity=severity,
        bands=bands,
        compared=compared,
        load=load,
        digest=_digest(severity, bands, table),
    )


def _figure(
    columns: SampleColumns, limit: Limit, *, column: int, references: NDArray[np.float64]
) -> NDArray[np.float64]:
    values = columns.values[:, column]
    if limit.kind is LimitKind.LEVEL:
        return values
    known = columns.reference >= 0
    if not len(references):
        return np.full_like(values, np.nan)
    new = np.where(known, references[np.where(known, columns.reference, 0), column], np.nan)
    if limit.kind is LimitKind.CHANGE:
        return values - new
    return np.divide(
        (values - new) * 100.0, new, out=np.full_like(values, np.nan), where=np.abs(new) > 0
    )


def _band(
    figure: NDArray[np.float64],
    signs: NDArray[np.uint8],
    *,
    bounds: NDArray[np.float64],
    limit: Limit,
) -> NDArray[np.int8]:
    """Bands of one limit. A censored value is held against a bound by what is certain of it."""
    turn = 1.0 if limit.direction == "up" else -1.0
    toward = turn * figure
    band = np.zeros(len(figure), dtype=np.int8)
    for step, bound in zip(_STEPS, (turn * bounds).tolist(), strict=True):
        # Bounds lie further and further out, so a later step overwrites; no bound reaches NaN.
        band[toward >= bound if limit.boundary == "at" else toward > bound] = step
    band[np.isnan(figure)] = _NOT_JUDGED
    censored = np.flatnonzero((signs == Sign.BELOW) | (signs == Sign.ABOVE))
    if len(censored):
        known = turn * bounds[~np.isnan(bounds)]
        points_on = signs[censored] == (Sign.ABOVE if limit.direction == "up" else Sign.BELOW)
        band[censored] = _censored_band(
            toward[censored], band[censored], points_on=points_on, known=known, bounds=turn * bounds
        )
    return band


def _censored_band(
    toward: NDArray[np.float64],
    band: NDArray[np.int8],
    *,
    points_on: NDArray[np.bool_],
    known: NDArray[np.float64],
    bounds: NDArray[np.float64],
) -> NDArray[np.int8]:
    """Bands of values known by a bound only, turned so that more is worse.

    ``points_on``: the true value lies further on than the bound printed ("above 100" for a limit
    upward). It is then certainly past a limit of 100, also where only values beyond the limit
    count; short of the first limit the answer is open. A value that lies further back than its
    bound can never be called past a limit, and is open where the bound lies beyond the first one.
    """
    reached = toward[:, None] >= bounds[None, :]
    least = np.where(reached, np.array(_STEPS, dtype=np.int8), np.int8(0)).max(axis=1)
    further_on = np.where(least > Severity.NORMAL, least, _NOT_JUDGED)
    further_back = np.where(toward > known[0], _NOT_JUDGED, np.int8(Severity.NORMAL))
    judged: NDArray[np.int8] = np.where(points_on, further_on, further_back).astype(np.int8)
    judged[band == _NOT_JUDGED] = _NOT_JUDGED
    return judged


def load_of(
    figure: NDArray[np.float64], bounds: NDArray[np.float64], *, falling: bool
) -> NDArray[np.float64]:
    """The share of the way to the Act bound (1 = on it), or to the first bound without one.

    Args:
        figure: the figures compared, shape (n,).
        bounds: Watch, Act, Urgent; NaN where missing.
        falling: whether low values are the harmful ones.

    Returns:
        Shape (n,), from 0 to 100; 0 where there is no number.
    """
    turn = -1.0 if falling else 1.0
    known = bounds[~np.isnan(bounds)]
    first = bounds[1] if not np.isnan(bounds[1]) else known[0]
    act = turn * float(first) + 0.0  # never -0.0
    toward = turn * figure
    with np.errstate(divide="ignore", invalid="ignore"):
        # Before a bound short of zero (glycol falling to 30 %, a freezing point rising to -30 C)
        # the value comes from afar, and is past everything once it reaches zero.
        share = toward / act if act >= 0 else np.where(toward < 0, act / toward, np.inf)
    share = np.clip(share, 0.0, _HIGHEST_LOAD)
    return np.where(np.isnan(figure), 0.0, np.where(np.isnan(share), 1.0, share))


def _cap_groups(bands: NDArray[np.int8], table: LimitTable) -> None:
    """Lower bands that need companions of their group in the same sample and lack them."""
    groups = {limit.group for limit in table.limits if limit.group}
    for group in groups:
        members = [index for index, limit in enumerate(table.limits) if limit.group == group]
        columns = [table.column[members] == one for one in np.unique(table.column[members])]
        for level, needed in ((Severity.URGENT, "urgent_needs"), (Severity.ACT, "act_needs")):
            reached = bands[:, members] >= level
            # Analytes count, not limits: one analyte past two of its limits is no company.
            together = np.sum([reached[:, own].any(axis=1) for own in columns], axis=0)
            for index in members:
                lacking = together < getattr(table.limits[index], needed)
                capped = np.minimum(bands[:, index], np.int8(level - 1))
                bands[:, index] = np.where(lacking, capped, bands[:, index])


def _digest(
    severity: NDArray[np.int8], bands: NDArray[np.int8], table: LimitTable
) -> NDArray[np.uint64]:
    mixed = np.zeros(len(severity), dtype=np.uint64)
    for index, weights in enumerate(table.weight):
        fired = np.flatnonzero(bands[:, index] > Severity.NORMAL)
        mixed[fired] += weights[bands[fired, index]]
    return mixed * np.uint64(8) + (severity.astype(np.int64) + 2).astype(np.uint64)


def fired_rules(
    columns: SampleColumns,
    judged: Judged,
    table: LimitTable,
    *,
    sample: int,
    references: NDArray[np.float64],
) -> tuple[FiredRule, ...]:
    """Every limit that fired on one sample, worst first, then furthest past its bound.

    Args:
        columns: the samples that were judged.
        judged: what ``assess`` said of them.
        table: the limits it used.
        sample: which row of ``columns``.
        references: as given to ``assess``.
    """
    rows = np.array([sample], dtype=np.intp)
    found = rules_by_sample(columns, judged, table, samples=rows, references=references)
    return found.get(sample, ())


def rules_by_sample(
    columns: SampleColumns,
    judged: Judged,
    table: LimitTable,
    *,
    samples: NDArray[np.intp],
    references: NDArray[np.float64],
) -> dict[int, tuple[FiredRule, ...]]:
    """The limits that fired on each of some samples, as ``fired_rules`` tells them for one.

    Samples on which nothing fired are left out.
    """
    place, index = np.nonzero(judged.bands[samples] > Severity.NORMAL)
    row = samples[place]
    column = table.column[index]
    number = columns.reference[row]
    looks_at_change = np.array(
        [limit.kind is not LimitKind.LEVEL for limit in table.limits], dtype=bool
    )[index]
    has_reference = looks_at_change & (number >= 0)
    reference = np.full(len(row), np.nan)
    if has_reference.any():
        reference[has_reference] = references[number[has_reference], column[has_reference]]
    told = (
        row, index, judged.bands[row, index], columns.signs[row, column],
        columns.values[row, column], reference, judged.compared[row, index],
    )  # fmt: skip
    found: dict[int, list[FiredRule]] = {}
    for one, which, band, sign, value, new, compared in zip(
        *(part.tolist() for part in told), strict=True
    ):
        limit, severity = table.limits[which], Severity(band)
        found.setdefault(one, []).append(
            FiredRule(
                analyte=limit.analyte,
                kind=limit.kind,
                direction=limit.direction,
                severity=severity,
                sign=Sign(sign),
                value=value,
                reference=None if math.isnan(new) else new,
                compared=compared,
                bound=bound_reached(limit, severity),
                scope=table.scopes[which],
                source=limit.source,
                set_by=limit.set_by,
            )
        )
    return {one: tuple(sorted(rules, key=_importance)) for one, rules in found.items()}


def _importance(rule: FiredRule) -> tuple[int, float]:
    size = abs(rule.bound) or 1.0
    return (-int(rule.severity), -rule.margin / size)


def reference_matrix(
    references: Mapping[int, Mapping[int, float]], *, numbers: tuple[int, ...]
) -> NDArray[np.float64]:
    """New-fluid values as a matrix: rows by reference number, columns by analyte.

    Args:
        references: by reference number, the values by analyte number.
        numbers: analyte numbers of the columns, shape (m,).

    Returns:
        Shape (highest reference number + 1, m), NaN where a value is not known.
    """
    size = max(references, default=-1) + 1
    matrix = np.full((size, len(numbers)), np.nan)
    for row, values in references.items():
        for column, number in enumerate(numbers):
            matrix[row, column] = values.get(number, np.nan)
    return matrix
