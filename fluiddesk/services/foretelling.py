"""What the histories in the store foretell of samples that are not yet reported."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.analytes import Analyte
from fluiddesk.domain.fleet import Compartment
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.samples import Sample, SampleColumns, Sign
from fluiddesk.domain.severity import Trust
from fluiddesk.domain.trust.expectation import MOST_PAST, Expectation, Past, expect, traits
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.storage import Desk, unpack_fleet

FloatArray = NDArray[np.float64]

_LIKE: Mapping[str, tuple[str, ...]] = {"transmission": ("transmission", "gear")}
"""Groups of boxes whose usual values may stand for those of another group."""
_PART = 400
"""Boxes asked for by name at once."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Foretold:
    """What is expected of some samples, row by row as asked, and what their boxes said last.

    ``before`` and ``before_signs`` (n, m) are the last believed report, NaN and not tested where
    there was none; ``before_on`` its day ordinal, 0 where there was none; ``fresh`` (n, m) the new
    fluid; ``residue_share`` (n,) what a change leaves behind; ``before_fill`` its fill, -1.
    """

    expected: Expectation
    before: FloatArray
    before_signs: NDArray[np.uint8]
    before_on: NDArray[np.int64]
    before_fill: NDArray[np.int64]
    fresh: FloatArray
    residue_share: FloatArray

    def row(self, row: int) -> Expectation:
        """What is expected of one sample, as a table of one row."""
        return self.rows(np.array([row], dtype=np.int64))

    def rows(self, chosen: NDArray[np.int64]) -> Expectation:
        """What is expected of some samples."""
        whole = self.expected
        return Expectation(
            traits=whole.traits,
            centre=whole.centre[chosen],
            spread=whole.spread[chosen],
            reports=whole.reports[chosen],
        )


def foretell(
    desk: Desk, catalogue: Catalogue, samples: Sequence[Sample], analytes: Sequence[Analyte]
) -> Foretold:
    """What the box of each sample foretells of it, from the believed reports drawn before it.

    A report of the sample itself, which a revision replaces, does not count.
    """
    boxes = _boxes(desk, sorted({one.compartment for one in samples}))
    pairs = dict(desk.blocks.pairs(list(boxes)))
    rows: dict[CompartmentId, list[int]] = {}
    for row, one in enumerate(samples):
        rows.setdefault(one.compartment, []).append(row)
    lanes = _Lanes.empty(len(samples), len(analytes))
    keys = [key for key in rows if key in pairs]
    for group in unpack_fleet([pairs[key] for key in keys]):
        lanes.fill_from(group, keys, rows, samples, [one.number for one in analytes])
    return _foretold(desk, catalogue, samples, analytes, (boxes, lanes))


def _boxes(desk: Desk, compartments: Sequence[CompartmentId]) -> dict[CompartmentId, Compartment]:
    if len(compartments) <= _PART:
        return {key: desk.fleet.compartment(key) for key in compartments}
    wanted = set(compartments)
    return {one.id: one for one in desk.fleet.compartments() if one.id in wanted}


@dataclass(slots=True, kw_only=True)
class _Lanes:
    """The last reports before each sample, newest last; see ``Past``."""

    values: FloatArray
    fluid_hours: FloatArray
    fill: NDArray[np.int64]
    before: FloatArray
    before_signs: NDArray[np.uint8]
    before_on: NDArray[np.int64]

    @classmethod
    def empty(cls, count: int, width: int) -> "_Lanes":
        return cls(
            values=np.full((count, MOST_PAST, width), np.nan),
            fluid_hours=np.full((count, MOST_PAST), np.nan),
            fill=np.full((count, MOST_PAST), -1, dtype=np.int64),
            before=np.full((count, width), np.nan),
            before_signs=np.full((count, width), Sign.NOT_TESTED, dtype=np.uint8),
            before_on=np.zeros(count, dtype=np.int64),
        )

    def fill_from(
        self,
        group: SampleColumns,
        keys: Sequence[CompartmentId],
        rows: Mapping[CompartmentId, list[int]],
        samples: Sequence[Sample],
        numbers: Sequence[int],
    ) -> None:
        """Take the reports of boxes that were tested for the same analytes."""
        shared = [
            (numbers.index(one), at) for at, one in enumerate(group.analytes) if one in numbers
        ]
        into = np.array([pair[0] for pair in shared], dtype=np.int64)
        out = np.array([pair[1] for pair in shared], dtype=np.int64)
        worked = np.where(group.signs <= Sign.ABOVE, group.values, np.nan)
        worked = np.where(group.signs == Sign.BELOW, 0.5 * worked, worked)[:, out]
        edges = np.flatnonzero(np.diff(group.compartment, prepend=-1, append=-1))
        for start, stop in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True):
            for row in rows[keys[int(group.compartment[start])]]:
                chosen = start + _before(group, slice(start, stop), samples[row])
                if not len(chosen):
                    continue
                places = np.arange(MOST_PAST - len(chosen), MOST_PAST)
                self.values[row, places[:, np.newaxis], into] = worked[chosen]
                self.fluid_hours[row, places] = group.fluid_hours[chosen]
                self.fill[row, places] = group.fill[chosen]
                self.before[row, into] = group.values[chosen[-1], out]
                self.before_signs[row, into] = group.signs[chosen[-1], out]
                self.before_on[row] = group.taken_on[chosen[-1]]


def _before(group: SampleColumns, box: slice, sample: Sample) -> NDArray[np.int64]:
    """Places in a box's reports of the last believed ones drawn before a sample."""
    own = np.frombuffer(sample.id, dtype=np.uint8)
    kept = (group.trust[box] != Trust.REJECTED) & (group.sample_id[box] != own).any(axis=1)
    if sample.taken_on is not None:
        kept &= group.taken_on[box] <= sample.taken_on.toordinal()
    return np.flatnonzero(kept)[-MOST_PAST:]


def _foretold(
    desk: Desk,
    catalogue: Catalogue,
    samples: Sequence[Sample],
    analytes: Sequence[Analyte],
    found: tuple[Mapping[CompartmentId, Compartment], _Lanes],
) -> Foretold:
    boxes, lanes = found
    fresh = _fresh(desk, [boxes[one.compartment].fluid for one in samples], samples, analytes)
    groups = [_groups(catalogue, boxes[one.compartment].kind) for one in samples]
    residue = np.array([boxes[one.compartment].residue_share for one in samples])
    past = Past(
        values=lanes.values,
        fluid_hours=lanes.fluid_hours,
        fill=lanes.fill,
        now_fluid_hours=np.array(
            [np.nan if one.fluid_hours is None else one.fluid_hours for one in samples]
        ),
        now_fill=np.array([one.fill_number for one in samples], dtype=np.int64),
        fresh=fresh,
        residue_share=residue,
        usual_low=_usual(analytes, groups, is_low=True),
        usual_high=_usual(analytes, groups, is_low=False),
    )
    return Foretold(
        expected=expect(past, traits(analytes)),
        before=lanes.before,
        before_signs=lanes.before_signs,
        before_on=lanes.before_on,
        before_fill=lanes.fill[:, -1],
        fresh=fresh,
        residue_share=residue,
    )


def _groups(catalogue: Catalogue, kind: str) -> tuple[str, ...]:
    known = catalogue.compartment_kinds.get(kind)
    return () if known is None else _LIKE.get(known.group, (known.group,))


def _usual(
    analytes: Sequence[Analyte], groups: Sequence[tuple[str, ...]], *, is_low: bool
) -> FloatArray:
    by_group = {}
    for names in set(groups):
        spans = [
            next((one.usual[name] for name in names if name in one.usual), None) for one in analytes
        ]
        by_group[names] = [
            np.nan if span is None else (span.low if is_low else span.high) for span in spans
        ]
    table = [by_group[names] for names in groups]
    return np.array(table, dtype=np.float64).reshape(len(groups), len(analytes))


def _fresh(
    desk: Desk, fluids: Sequence[str], samples: Sequence[Sample], analytes: Sequence[Analyte]
) -> FloatArray:
    """The newest reference of each box's fluid that was valid when its sample was drawn."""
    references = sorted(desk.fleet.references().values(), key=lambda one: one.valid_from)
    table = np.full((len(samples), len(analytes)), np.nan)
    for row, (fluid, sample) in enumerate(zip(fluids, samples, strict=True)):
        valid = [
            one.values
            for one in references
            if one.fluid_code == fluid
            and (sample.taken_on is None or one.valid_from <= sample.taken_on)
        ]
        if valid:
            table[row] = [valid[-1].get(one.code, np.nan) for one in analytes]
    return table
