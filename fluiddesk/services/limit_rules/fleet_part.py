"""Some boxes of a fleet in memory as a fleet of their own."""

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.limits.context import FloatColumn, JudgingContext
from fluiddesk.services.reassess.fleet_columns import FleetColumns
from fluiddesk.services.reassess.judging import rows_of

_PLAIN: Final = (
    "history", "start_share", "hours", "kept", "brought", "per_made", "interval_hours",
    "fills_since_fit", "repaired_on", "grade", "tests",
)  # fmt: skip
"""Facts of a context that belong to a sample alone."""


def boxes_of(
    columns: FleetColumns, boxes: NDArray[np.bool_]
) -> tuple[FleetColumns, tuple[NDArray[np.intp], ...]]:
    """The samples of some boxes as a fleet of their own, and the rows they stood in."""
    number = (np.cumsum(boxes) - 1).astype(np.int32)
    groups, contexts, places = [], [], []
    for group, context in zip(columns.groups, columns.contexts, strict=True):
        chosen = boxes[group.compartment]
        rows = np.flatnonzero(chosen)
        places.append(rows)
        picked = rows_of(group, chosen)
        groups.append(replace(picked, compartment=number[picked.compartment]))
        contexts.append(_context_of(context, rows, size=len(group)))
    own = FleetColumns(
        boxes=tuple(columns.boxes[place] for place in np.flatnonzero(boxes).tolist()),
        groups=tuple(groups),
        contexts=tuple(contexts),
        rulebook=columns.rulebook,
        profile=columns.profile[boxes],
        kinds=columns.kinds,
        kept=tuple({} for _ in groups),
    )
    return own, tuple(places)


def _context_of(context: JudgingContext, rows: NDArray[np.intp], *, size: int) -> JudgingContext:
    """The context of some rows: whole boxes, so that what they point at comes with them."""
    place = np.full(size + 1, -1, dtype=np.intp)
    place[rows] = np.arange(len(rows))

    def side(number: int) -> tuple[FloatColumn, NDArray[np.uint8]]:
        values, signs = context.side(number)
        return values[rows], signs[rows]

    return replace(
        context,
        **{name: getattr(context, name)[rows] for name in _PLAIN},
        # -1 stands for "none" and points at the last place, which holds -1.
        previous=place[context.previous[rows]],
        start=place[context.start[rows]],
        side=side,
    )
