"""The fills of many boxes found in their samples, and the rate of every analyte in each fill.

A fill is told by its number; its rate is that from its change to its last believed sample, by the
mass balance (``mass_balance.py``), with its first-order band (``rate_band.py``). What the old
fluid left behind is worked out from the last sample of the fill before; for the first fill on
record it is taken to be what this one ended with, and known to half of that.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.analytes import Analyte
from fluiddesk.domain.samples import SampleColumns, Sign
from fluiddesk.domain.severity import Trust
from fluiddesk.domain.wear.fill import Fill, Spread, known_to, worth
from fluiddesk.domain.wear.inputs import FloatArray

IntArray = NDArray[np.intp]
BoolArray = NDArray[np.bool_]

FEWEST_HOURS: Final = 25.0
"""A sample drawn sooner after the change tells nothing of the rate (common practice, no source)."""
RESIDUE_SD: Final = 0.04
"""How well the share of old fluid left by a change is known (common practice, no source)."""
LOSS_SD: Final = 0.20
"""How well litres lost and made up are known, as a share of them (common practice, no source)."""
_COVERAGE: Final = 2.77
"""A 95 % limit on the difference of two results is 1.96 sqrt 2 standard deviations of one."""
_UNKNOWN_PRECISION: Final = 0.10
"""Error of a value whose method has no precision on record, as a share of it (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxTraits:
    """What of each box the mass balance asks for; b boxes.

    ``loss_l_per_h``: litres lost and made up per hour, 0 where none are recorded.
    """

    volume_l: FloatArray
    density_kg_l: FloatArray
    residue_share: FloatArray
    loss_l_per_h: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class FillColumns:
    """Fills side by side, k of them, those of one box together and in order; m analytes.

    Attributes:
        box: index of the box.
        number: the fill's number.
        first: row of its first believed sample.
        last: row of its last believed sample that is old enough.
        hours: hours on the fluid at that sample; NaN where unknown or too few.
        is_first: whether it is the box's first fill on record.
        end: (k, m) level at that sample: the number, half the bound of a value below detection;
            NaN where there is none.
        is_bound: (k, m) whether it was below detection.
        before: (k, m) level at the last sample of the fill before.
        fresh: (k, m) level in the new fluid, NaN where not on record.
    """

    box: IntArray
    number: NDArray[np.int32]
    first: IntArray
    last: IntArray
    hours: FloatArray
    is_first: BoolArray
    end: FloatArray
    is_bound: BoolArray
    before: FloatArray
    fresh: FloatArray

    def __len__(self) -> int:
        return len(self.box)


@dataclass(frozen=True, slots=True, kw_only=True)
class RateColumns:
    """The rate of each analyte in each fill, mg/kg per hour (k, m); NaN where none can be told."""

    rate: FloatArray
    sd: FloatArray
    is_bound: BoolArray


def levels_of(columns: SampleColumns) -> tuple[FloatArray, BoolArray]:
    """Values as levels to calculate with: (n, m), and which stand for "below detection".

    A value below detection counts as half its bound, with an error that covers all below it; a
    value above a bound, or none, as NaN.
    """
    below = columns.signs == Sign.BELOW
    plain = columns.signs == Sign.PLAIN
    level = np.where(plain, columns.values, np.where(below, 0.5 * columns.values, np.nan))
    return np.asarray(level), np.asarray(below)


def level_sd(
    level: FloatArray, is_bound: BoolArray, analytes: Sequence[Analyte | None]
) -> FloatArray:
    """The error of each level as a standard deviation, above 0, shape (k, m).

    The method's reproducibility / 2.77 and the rounding of the printed figure; for a value below
    detection the spread of an even chance over everything below.

    Args:
        level: as ``levels_of`` gives them.
        is_bound: likewise.
        analytes: one a column; ``None`` for one that the catalogue lacks.
    """
    sd = np.empty_like(level)
    for column, analyte in enumerate(analytes):
        own = level[:, column]
        if analyte is None or analyte.reproducibility is None:
            error = _UNKNOWN_PRECISION * np.abs(own)
        else:
            error = analyte.reproducibility.at(own) / _COVERAGE
        last_place = 10.0 ** -(analyte.decimals if analyte else 0)
        sd[:, column] = np.hypot(error, last_place / np.sqrt(12.0))
    return np.where(is_bound, np.abs(level) / np.sqrt(3.0) + 1e-9, sd)


def fills_of(columns: SampleColumns, fresh: FloatArray) -> FillColumns:
    """The fills with a believed sample.

    Args:
        columns: samples, those of one box together and in the order taken.
        fresh: (n, m), the new fluid's level that held at each sample.
    """
    believed = np.flatnonzero(columns.trust != Trust.REJECTED)
    box, number = columns.compartment[believed], columns.fill[believed]
    level, is_bound = levels_of(columns)
    if not len(believed):
        none = np.zeros(0, dtype=np.intp)
        empty = np.zeros((0, level.shape[1]))
        return FillColumns(
            box=none, number=np.zeros(0, dtype=np.int32), first=none, last=none,
            hours=np.zeros(0), is_first=np.zeros(0, dtype=bool), end=empty,
            is_bound=empty.astype(bool), before=empty, fresh=empty,
        )  # fmt: skip
    turns = (np.diff(box, prepend=box[0] - 1) != 0) | (np.diff(number, prepend=number[0] - 1) != 0)
    begins = np.flatnonzero(turns)
    ends = np.append(begins[1:], len(believed)) - 1
    first, last = believed[begins], believed[ends]
    is_first = np.diff(box[begins], prepend=-1) != 0
    before = np.full((len(first), level.shape[1]), np.nan)
    before[1:] = level[last[:-1]]
    before[is_first] = np.nan
    hours = columns.fluid_hours[last]
    return FillColumns(
        box=box[begins].astype(np.intp),
        number=number[begins],
        first=first,
        last=last,
        hours=np.where(hours >= FEWEST_HOURS, hours, np.nan),
        is_first=is_first,
        end=level[last],
        is_bound=is_bound[last],
        before=before,
        fresh=fresh[last],
    )


def rates_of(
    fills: FillColumns,
    boxes: BoxTraits,
    analytes: Sequence[Analyte | None],
    *,
    loss_l_per_h: FloatArray | None = None,
) -> RateColumns:
    """The rate of every analyte in every fill, with even losses.

    An analyte whose new fluid is not on record is taken to start at nothing where it is a wear
    metal; others have no rate then.

    Args:
        fills: the fills.
        boxes: the traits of their boxes.
        analytes: one a column.
        loss_l_per_h: of each fill, where known; the box's own otherwise.
    """
    start, start_sd = starts_of(fills, boxes, analytes)
    end_sd = level_sd(fills.end, fills.is_bound, analytes)
    usable = np.isfinite(start) & np.isfinite(fills.end) & np.isfinite(fills.hours)[:, None]
    row, column = np.nonzero(usable)
    box = fills.box[row]
    loss = boxes.loss_l_per_h[box] if loss_l_per_h is None else loss_l_per_h[row]
    fresh = known_fresh(fills.fresh, analytes)
    # The start is handed over as it is, as between two samples of one fill: its own error is known.
    found = worth(
        Fill(
            end=np.abs(fills.end[row, column]),
            before=np.abs(start[row, column]),
            residue_share=np.ones(len(row)),
            hours=fills.hours[row],
            volume_l=boxes.volume_l[box],
            density_kg_l=boxes.density_kg_l[box],
            fresh=np.abs(np.nan_to_num(fresh[row, column])),
            loss_l_per_h=loss,
        )
    )
    known = known_to(
        Spread(
            end=end_sd[row, column],
            before=start_sd[row, column],
            loss_relative=LOSS_SD,
        )
    )
    parts = (
        found.per_end * known.end,
        found.per_before * known.before,
        found.per_loss * known.loss_relative,
    )
    rate, sd = np.full(start.shape, np.nan), np.full(start.shape, np.nan)
    rate[row, column] = found.rate
    sd[row, column] = np.sqrt(sum(part**2 for part in parts))
    return RateColumns(rate=rate, sd=sd, is_bound=fills.is_bound & usable)


def known_fresh(fresh: FloatArray, analytes: Sequence[Analyte | None]) -> FloatArray:
    """New-fluid levels, a wear metal that is not on record taken as absent."""
    absent = np.array([one is not None and one.family == "wear" for one in analytes], dtype=bool)
    return np.where(np.isnan(fresh) & absent[None, :], 0.0, fresh)


def starts_of(
    fills: FillColumns, boxes: BoxTraits, analytes: Sequence[Analyte | None]
) -> tuple[FloatArray, FloatArray]:
    """The level just after the change of each fill, and its error: (k, m) each.

    NaN where the new fluid is not on record and the analyte is no wear metal.
    """
    fresh = known_fresh(fills.fresh, analytes)
    # The first fill on record: taken as what this one ended with, known to half of the difference.
    guessed = np.isnan(fills.before)
    before = np.where(guessed, fills.end, fills.before)
    share = boxes.residue_share[fills.box][:, None]
    start = share * before + (1.0 - share) * fresh
    error = level_sd(before, np.zeros(before.shape, dtype=bool), analytes)
    error = np.where(guessed, 0.5 * np.abs(before - fresh), error)
    spread = np.hypot(share * error, RESIDUE_SD * np.abs(before - fresh))
    return start, np.where(share > 0, np.maximum(spread, 1e-6), 1e-6)
