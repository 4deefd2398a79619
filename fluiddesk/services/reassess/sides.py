"""The same box on the other side of the machine, and its sample nearest in time."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.limits.context import FloatColumn, SideLevels
from fluiddesk.domain.samples import SampleColumns, Sign
from fluiddesk.domain.severity import Trust
from fluiddesk.services.reassess.boxes import BoxFacts

NEAR_DAYS: Final = 7
"""The other side's sample lies at most so many days away (common practice, no source)."""

LIKE_HOURS: Final = 0.75
"""The fewer fluid hours of the two are at least this share of the more: metal adds up in a fill
(common practice, no source)."""

_SPAN: Final = np.int64(1_000_000)
_OPPOSITE: Final = {"left": "right", "right": "left"}


def other_side(position: str) -> str:
    """The position on the other side; empty for a box that has none.

    >>> other_side("front_left"), other_side("centre")
    ('front_right', '')
    """
    parts = position.split("_")
    turned = [_OPPOSITE.get(part, part) for part in parts]
    return "_".join(turned) if turned != parts else ""


def sides_of(boxes: Sequence[BoxFacts]) -> NDArray[np.int32]:
    """For each box the place of the one on the other side of the same machine; -1 for none."""
    turned_of = {position: other_side(position) for position in {box.position for box in boxes}}
    place = {(box.machine_id, box.kind, box.position): at for at, box in enumerate(boxes)}
    return np.array(
        [
            place.get((box.machine_id, box.kind, turned), -1)
            if (turned := turned_of[box.position])
            else -1
            for box in boxes
        ],
        dtype=np.int32,
    )


class Sides:
    """Finds the other side's sample beside each sample of any group.

    Args:
        groups: all samples.
        other: for each box the one on the other side; -1 for none.
    """

    def __init__(self, groups: Sequence[SampleColumns], other: NDArray[np.int32]) -> None:
        self._groups = groups
        self._other = other
        self._index: tuple[NDArray[np.int64], NDArray[np.int32], NDArray[np.int64]] | None = None

    def of_group(self, place: int) -> SideLevels:
        """The other side's levels beside each sample of one group, worked out when asked for."""
        kept: list[tuple[NDArray[np.int32], NDArray[np.int64]]] = []
        found: dict[int, tuple[FloatColumn, NDArray[np.uint8]]] = {}

        def levels(number: int) -> tuple[FloatColumn, NDArray[np.uint8]]:
            if number not in found:
                if not kept:
                    kept.append(self._beside(self._groups[place]))
                found[number] = self._levels(*kept[0], number)
            return found[number]

        return levels

    def _keys(self) -> tuple[NDArray[np.int64], NDArray[np.int32], NDArray[np.int64]]:
        """Box and day of every trusted sample of a box with another side, rising; group and row."""
        if self._index is None:
            keys, groups, rows = [], [], []
            for place, group in enumerate(self._groups):
                has = (group.trust == Trust.GOOD) & (self._other[group.compartment] >= 0)
                row = np.flatnonzero(has)
                box = group.compartment[row].astype(np.int64)
                keys.append(box * _SPAN + group.taken_on[row])
                groups.append(np.full(len(row), place, dtype=np.int32))
                rows.append(row.astype(np.int64))
            key = np.concatenate(keys) if keys else np.zeros(0, dtype=np.int64)
            order = np.argsort(key, kind="stable")
            self._index = (
                key[order],
                np.concatenate(groups)[order] if groups else np.zeros(0, dtype=np.int32),
                np.concatenate(rows)[order] if rows else np.zeros(0, dtype=np.int64),
            )
        return self._index

    def _beside(self, group: SampleColumns) -> tuple[NDArray[np.int32], NDArray[np.int64]]:
        """Group and row of the other side's nearest trusted sample; -1 where none compares.

        It was drawn within a week, at like fluid hours.
        """
        found = np.full(len(group), -1, dtype=np.int32)
        rows = np.zeros(len(group), dtype=np.int64)
        keys, of_group, of_row = self._keys()
        other = self._other[group.compartment].astype(np.int64)
        asked = np.flatnonzero(other >= 0)
        if not len(keys) or not len(asked):
            return found, rows
        wanted = other[asked] * _SPAN + group.taken_on[asked]
        right = np.searchsorted(keys, wanted)
        best = np.full(len(asked), -1, dtype=np.int64)
        away = np.full(len(asked), NEAR_DAYS + 1, dtype=np.int64)
        for candidate in (right - 1, right):
            inside = (candidate >= 0) & (candidate < len(keys))
            at = np.clip(candidate, 0, len(keys) - 1)
            distance = np.abs(keys[at] - wanted)
            nearer = inside & (distance < away)
            best[nearer], away[nearer] = at[nearer], distance[nearer]
        near = best >= 0
        hours = np.full(len(asked), np.nan)
        for place, one in enumerate(self._groups):
            own = np.flatnonzero(near & (of_group[best] == place))
            hours[own] = one.fluid_hours[of_row[best[own]]]
        run = group.fluid_hours[asked]
        with np.errstate(invalid="ignore"):
            near &= np.minimum(run, hours) >= LIKE_HOURS * np.maximum(run, hours)
        found[asked[near]], rows[asked[near]] = of_group[best[near]], of_row[best[near]]
        return found, rows

    def _levels(
        self, of_group: NDArray[np.int32], of_row: NDArray[np.int64], number: int
    ) -> tuple[FloatColumn, NDArray[np.uint8]]:
        values = np.full(len(of_group), np.nan)
        signs = np.full(len(of_group), Sign.NOT_TESTED, dtype=np.uint8)
        for place, group in enumerate(self._groups):
            if number in group.analytes:
                rows = np.flatnonzero(of_group == place)
                column = group.analytes.index(number)
                values[rows] = group.values[of_row[rows], column]
                signs[rows] = group.signs[of_row[rows], column]
        return values, signs
