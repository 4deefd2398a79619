"""What the limits in force say of samples; one sample is a column of length one.

``assess`` judges samples by themselves; ``assess_history`` whole boxes, so that what earlier
samples raised stands until it is cleared, and may take other limits for other days.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.limits.alone import Alone, Part, Rows
from fluiddesk.domain.limits.bands import NOT_JUDGED, Bands
from fluiddesk.domain.limits.combining import (
    NO_COMPANIONS,
    Columns,
    Companions,
    Key,
    Pattern,
    Why,
    columns_of,
    combine,
)
from fluiddesk.domain.limits.context import FloatColumn
from fluiddesk.domain.limits.figures import Figures
from fluiddesk.domain.limits.hysteresis import NO_LIMIT, Timeline, standing
from fluiddesk.domain.limits.limit_set import LimitKind
from fluiddesk.domain.limits.limit_table import LimitTable
from fluiddesk.domain.samples import SampleColumns
from fluiddesk.domain.severity import Severity, Trust, worst


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """The verdicts on n samples by k limits.

    Attributes:
        severity: shape (n,), the worst band; ``NO_VERDICT`` where no limit could be judged.
        own: shape (n, k), the band each limit alone puts each sample in; -1 where it cannot be
            judged: no number, no new-fluid reference, nothing to compare with, a rejected sample,
            or a censored value whose bound leaves the answer open ("<50" against a limit of 20);
            ``NO_LIMIT`` where the box had no such limit that day.
        bands: shape (n, k), the band it stands in after combining; -1 where nothing can be said.
        why: shape (n, k), bits of ``Why``: how ``bands`` came from ``own``.
        load: shape (n,), the highest share of the way to the Act bound, or to the first bound of
            a limit without one (1 = on it, at most 100); 0 where no limit could be judged, and,
            where boxes were judged, for all but the last two believed samples of each.
        digest: shape (n,), fingerprint of the severity and of the limits that fired with their
            bands; equal digests, equal verdicts. The values themselves are no part of it.
        columns: what the k columns look at.
        parts: the limits, by which samples they hold for.
        rows: where the samples stand in ``figures``.
        figures: what was compared.
        patterns: the patterns that were looked for.
    """

    severity: NDArray[np.int8]
    own: Bands
    bands: Bands
    why: NDArray[np.uint8]
    load: FloatColumn
    digest: NDArray[np.uint64]
    columns: Columns
    parts: tuple[Part, ...]
    rows: slice
    figures: Figures
    patterns: tuple[Pattern, ...]

    def places(self, table: LimitTable) -> list[int]:
        """The column of each limit of a table."""
        at = {key: index for index, key in enumerate(self.columns.keys)}
        return [at[limit.key] for limit in table.limits]

    def compared_by(self, part: Part, limit: int, samples: Rows) -> FloatColumn:
        """The figures that one limit of a part compared of some samples."""
        rows, one = samples + self.rows.start, part.table.limits[limit]
        values: FloatColumn = (
            self.figures.level(one.analyte, rows)
            if one.kind in (LimitKind.LEVEL, LimitKind.PERCENTILE)
            else self.figures.of(one).values[rows]
        )
        return np.round(values, int(part.table.places[limit]))

    @property
    def compared(self) -> FloatColumn:
        """Shape (n, k), the figure that was compared; worked out anew each time."""
        found = np.full(self.own.shape, np.nan)
        for part in self.parts:
            rows = np.arange(len(self.severity))[part.at]
            for limit, place in enumerate(self.places(part.table)):
                found[rows, place] = self.compared_by(part, limit, rows)
        return found


def assess(columns: SampleColumns, table: LimitTable, *, references: FloatColumn) -> Judged:
    """Judge samples by themselves against the limits that hold for their boxes.

    Kinds that need other samples (rates, ratios, steps) are not judged, and nothing stands over
    from earlier samples: ``assess_history`` does both.

    Args:
        columns: n samples of boxes that share ``table``.
        table: k limits against the same m analyte columns.
        references: shape (r, m), new-fluid values by reference number; NaN where unknown. Row
            numbers are what ``columns.reference`` holds.
    """
    figures = Figures(columns, references=references, analytes=table.analytes)
    everything = slice(0, len(columns))
    return _judged(figures, everything, (Part(at=everything, table=table),), stands_over=False)


def assess_history(
    figures: Figures,
    rows: slice,
    parts: Sequence[Part],
    *,
    companions: Companions = NO_COMPANIONS,
    compartment_kind: str = "",
) -> Judged:
    """Judge a run of whole boxes; what earlier samples raised stands until it is cleared.

    Args:
        figures: of the group the run belongs to.
        rows: the run: boxes with the same limits, samples of one box together and in order.
        parts: the limits by day; together they cover the samples that had a limit set.
        companions: analytes that corroborate each other.
        compartment_kind: of the boxes.
    """
    return _judged(
        figures,
        rows,
        tuple(parts),
        stands_over=True,
        patterns=companions.of(compartment_kind),
        companions=companions,
    )


def _judged(
    figures: Figures,
    rows: slice,
    parts: tuple[Part, ...],
    *,
    stands_over: bool,
    patterns: tuple[Pattern, ...] = (),
    companions: Companions = NO_COMPANIONS,
) -> Judged:
    keys = tuple(dict.fromkeys(limit.key for part in parts for limit in part.table.limits))
    columns = columns_of(keys, analytes=figures.analytes, companions=companions)
    loads = _last_two(figures.columns, rows) if stands_over else None
    alone = Alone(figures, rows, keys, may_stand_over=stands_over, loads=loads)
    for part in parts:
        alone.judge(part, is_only=len(parts) == 1)
    trust = figures.columns.trust[rows]
    rejected = trust == Trust.REJECTED
    alone.own[rejected] = np.where(alone.own[rejected] == NO_LIMIT, NO_LIMIT, NOT_JUDGED)
    bands, why = _combined(
        alone, columns, rejected=rejected, stands_over=stands_over, patterns=patterns
    )
    severity = worst(bands)
    return Judged(
        severity=severity,
        own=alone.own,
        bands=bands,
        why=why,
        load=np.where(rejected, 0.0, alone.load),
        digest=_digest(severity, bands, why, parts, keys),
        columns=columns,
        parts=parts,
        rows=rows,
        figures=figures,
        patterns=patterns,
    )


def _last_two(columns: SampleColumns, rows: slice) -> Rows:
    """The last two believed samples of each box of a run: what tells whether it rises or falls."""
    kept = np.flatnonzero(columns.trust[rows] != Trust.REJECTED)
    box = columns.compartment[rows][kept]
    last = np.flatnonzero(np.diff(box, append=-1) != 0)
    before = last[(last > 0)] - 1
    before = before[box[before] == box[before + 1]]
    rows_told: Rows = kept[np.concatenate([last, before])]
    return rows_told


def _combined(
    alone: Alone,
    columns: Columns,
    *,
    rejected: NDArray[np.bool_],
    stands_over: bool,
    patterns: tuple[Pattern, ...],
) -> tuple[Bands, NDArray[np.uint8]]:
    figures, rows = alone.figures, alone.rows
    suspect = figures.columns.trust[rows] == Trust.SUSPECT
    why = alone.why
    fresh = alone.own
    if suspect.any():
        fresh = fresh.copy(order="K")
        own = fresh[suspect]
        fresh[suspect] = np.where(~columns.is_unsafe_fluid & (own != NO_LIMIT), NOT_JUDGED, own)
    fresh, raised = combine(
        fresh,
        columns=columns,
        patterns=patterns,
        companions_needed=figures.settings.companions_needed,
    )
    why |= raised
    bands = _standing(alone, fresh, columns, why) if stands_over else np.maximum(fresh, NOT_JUDGED)
    if suspect.any():
        doubted = np.minimum(alone.own[suspect], np.int8(Severity.WATCH))
        capped = (alone.own[suspect] > Severity.WATCH) & (bands[suspect] <= Severity.WATCH)
        why[suspect] |= np.where(capped, Why.CAPPED, 0).astype(np.uint8)
        bands[suspect] = np.maximum(bands[suspect], doubted)
    bands[rejected] = NOT_JUDGED
    return bands, why


def _standing(alone: Alone, fresh: Bands, columns: Columns, why: NDArray[np.uint8]) -> Bands:
    """The bands that stand after each sample; marks in ``why`` what stands over from earlier."""
    figures, rows = alone.figures, alone.rows
    samples, context = figures.columns, figures.context
    usual = np.nan_to_num(context.interval_hours[rows], nan=0.0)
    with np.errstate(invalid="ignore"):
        long_enough = samples.fluid_hours[rows] >= figures.settings.repair_share * usual
    timeline = Timeline(
        box=samples.compartment[rows],
        taken_on=samples.taken_on[rows],
        fill=samples.fill[rows],
        repaired_on=context.repaired_on[rows],
        long_enough=long_enough,
        counts=samples.trust[rows] == Trust.GOOD,
        is_rejected=samples.trust[rows] == Trust.REJECTED,
    )
    found = standing(
        fresh,
        np.maximum(alone.keep, fresh),
        timeline=timeline,
        always_counts=columns.is_unsafe_fluid,
        fluid_clears=columns.fluid_clears,
    )
    at, column = found.row, found.column
    masked = (found.raised_in != timeline.fill[at]) & ~columns.fluid_clears[column]
    # What raised a band that stands over counted in an earlier sample, not in this one.
    why[at, column] &= ~np.uint8(Why.RAISED | Why.AGREED)
    why[at, column] |= np.where(masked, np.uint8(Why.MASKED), np.uint8(Why.HELD))
    return found.held


_MIXER: Final = np.uint64(0x9E3779B97F4A7C15)
_TOLD_APART: Final = ~np.uint8(Why.LACKS)
"""Reasons that follow from the band and the limit need no fingerprint of their own."""


def _digest(
    severity: NDArray[np.int8],
    bands: Bands,
    why: NDArray[np.uint8],
    parts: tuple[Part, ...],
    keys: tuple[Key, ...],
) -> NDArray[np.uint64]:
    mixed = np.zeros(len(severity), dtype=np.uint64)
    at = {key: index for index, key in enumerate(keys)}
    for part in parts:
        inside = np.arange(len(severity))[part.at]
        for limit, weights in zip(part.table.limits, part.table.weight, strict=True):
            place = at[limit.key]
            fired = inside[bands[:, place][part.at] > Severity.NORMAL]
            told = (why[fired, place] & _TOLD_APART).astype(np.uint64)
            # A column of one, because numpy lets a column wrap around and warns of a number.
            turned = weights[1:2] * _MIXER | np.uint64(1)
            mixed[fired] += weights[bands[fired, place]] + told * turned
    return mixed * np.uint64(8) + (severity.astype(np.int64) + 2).astype(np.uint64)


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
