"""Packed histories after a change of readings, keeping the verdicts that still hold."""

from collections.abc import Collection
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.samples import SampleColumns, Sign
from fluiddesk.storage import Desk, pack, unpack


def refresh_blocks(desk: Desk, compartments: Collection[CompartmentId]) -> None:
    """Build the packed histories of some boxes anew from their readings.

    A sample whose readings, trust and reference are as before keeps its verdict, so that only
    samples that changed are assessed again.
    """
    blobs = dict(desk.blocks.pairs(compartments))
    before = desk.blocks.some(compartments)
    fresh = desk.blocks.rebuild(sorted(compartments))
    desk.blocks.write(
        {
            key: with_known_verdicts(columns, before[key]) if key in before else columns
            for key, columns in fresh.items()
            if not (key in blobs and _says_the_same(columns, blobs[key]))
        }
    )


def _says_the_same(fresh: SampleColumns, blob: bytes) -> bool:
    """Whether a packed history holds these very samples already, whatever their verdicts."""
    kept = unpack(blob, 0)
    return len(kept) == len(fresh) and blob == pack(
        replace(fresh, severity=kept.severity, digest=kept.digest)
    )


def with_known_verdicts(fresh: SampleColumns, before: SampleColumns) -> SampleColumns:
    """``fresh``, with severity and digest of the samples that stand unchanged in ``before``."""
    place = {row.tobytes(): index for index, row in enumerate(before.sample_id)}
    at = np.array([place.get(row.tobytes(), -1) for row in fresh.sample_id], dtype=np.intp)
    known = np.flatnonzero(at >= 0)
    if not len(known):
        return fresh
    numbers = sorted({*fresh.analytes, *before.analytes})
    same = np.ones(len(known), dtype=bool)
    for new, old in zip(_on(fresh, numbers, known), _on(before, numbers, at[known]), strict=True):
        same &= ((new == old) | (np.isnan(new) & np.isnan(old))).all(axis=1)
    for name in ("trust", "reference", "taken_on", "fill"):
        same &= getattr(fresh, name)[known] == getattr(before, name)[at[known]]
    kept = known[same]
    severity, digest = fresh.severity.copy(), fresh.digest.copy()
    severity[kept], digest[kept] = before.severity[at[kept]], before.digest[at[kept]]
    return replace(fresh, severity=severity, digest=digest)


def _on(
    columns: SampleColumns, numbers: list[int], rows: NDArray[np.intp]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Values and signs of some rows, laid out on a common set of analytes."""
    values = np.full((len(rows), len(numbers)), np.nan)
    signs = np.full((len(rows), len(numbers)), float(Sign.NOT_TESTED))
    at = [numbers.index(number) for number in columns.analytes]
    values[:, at] = columns.values[rows]
    signs[:, at] = columns.signs[rows]
    return values, signs
