"""What happened to the boxes of one family: what the book says, and what nobody wrote."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.fleet import EventKind

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

EVENT_KINDS = tuple(EventKind)
"""The kinds in the order of the numbers kept in columns."""
_CHANGE = EVENT_KINDS.index(EventKind.FLUID_CHANGE)
_TOP_UP = EVENT_KINDS.index(EventKind.TOP_UP)
_FIT = EVENT_KINDS.index(EventKind.COMPONENT_FIT)
_REPAIR = EVENT_KINDS.index(EventKind.REPAIR)


@dataclass(kw_only=True)
class _Columns:
    parts: list[tuple[IntArray, IntArray, IntArray, FloatArray, FloatArray, IntArray]] = field(
        default_factory=list
    )


class Diary:
    """Recorded events as columns, and beside them the truth that was not recorded."""

    def __init__(self, boxes: IntArray) -> None:
        self._boxes = boxes
        self._recorded = _Columns()
        self.repaired: list[tuple[int, int, float, int]] = []
        """Compartment, day, machine hours, mode."""
        self.forgotten: list[tuple[str, int, int]] = []
        """Kind of event, compartment, day."""
        self.mix_ups: list[tuple[int, int, int]] = []
        """Compartment, day, place of the other fluid."""

    def changes(
        self, where: IntArray, day: IntArray, hours: FloatArray, litres: FloatArray, fluid: IntArray
    ) -> None:
        """Write full fluid changes."""
        self._write(_CHANGE, where, day, hours, litres, fluid)

    def top_ups(
        self, where: IntArray, day: IntArray, hours: FloatArray, litres: FloatArray, fluid: IntArray
    ) -> None:
        """Write fluid added without a change."""
        self._write(_TOP_UP, where, day, hours, litres, fluid)

    def repairs(
        self,
        where: IntArray,
        day: IntArray,
        hours: FloatArray,
        mode: IntArray,
        new: NDArray[np.bool_],
    ) -> None:
        """Write repairs; where ``new`` the component was exchanged."""
        nothing = np.full(len(where), np.nan)
        kinds = np.where(new, _FIT, _REPAIR)
        self._recorded.parts.append(
            (self._boxes[where], kinds, day, hours, nothing, np.full(len(where), -1))
        )
        rows = zip(
            self._boxes[where].tolist(), day.tolist(), hours.tolist(), mode.tolist(), strict=True
        )
        self.repaired.extend(rows)

    def forget(self, kind: str, where: IntArray, day: IntArray) -> None:
        """Keep as truth what nobody wrote into the book."""
        boxes = self._boxes[where].tolist()
        self.forgotten.extend((kind, box, on) for box, on in zip(boxes, day.tolist(), strict=True))

    def mixed(self, where: IntArray, day: IntArray, other: IntArray) -> None:
        """Keep as truth that some of another fluid went in."""
        rows = zip(self._boxes[where].tolist(), day.tolist(), other.tolist(), strict=True)
        self.mix_ups.extend(rows)

    def columns(self) -> tuple[IntArray, IntArray, IntArray, FloatArray, FloatArray, IntArray]:
        """Compartment, kind, day, machine hours, litres, fluid of all recorded events."""
        box, kind, day, hours, litres, fluid = (
            np.concatenate(part) for part in zip(*self._recorded.parts, strict=True)
        )
        return box, kind, day, hours, litres, fluid

    def _write(
        self,
        kind: int,
        where: IntArray,
        day: IntArray,
        hours: FloatArray,
        litres: FloatArray,
        fluid: IntArray,
    ) -> None:
        kinds = np.full(len(where), kind)
        # Copies: the caller goes on working in its arrays.
        told = (day.copy(), hours.copy(), litres.copy(), fluid.copy())
        self._recorded.parts.append((self._boxes[where], kinds, *told))
