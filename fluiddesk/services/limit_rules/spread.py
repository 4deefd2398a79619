"""How the fleet's figures lie for one limit: what is drawn behind its bands."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.limits.limit_set import Limit
from fluiddesk.domain.limits.settings import settings_of
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.severity import Trust
from fluiddesk.services.limit_rules.facts import Spread
from fluiddesk.services.limit_rules.shown import unit_of
from fluiddesk.services.limit_rules.what_if_fleet import WhatIfFleet
from fluiddesk.services.reassess.judging import Judge

SHOWN: Final = (50.0, 90.0, 98.0, 99.5)
"""Percentages that the ruler marks."""

_CUT: Final = 0.5
"""Percent of the figures that the drawing may leave out at each end, unless a bound lies there."""


def spread(fleet: WhatIfFleet, limit: Limit, *, bins: int = 40) -> Spread:
    """The figures that a limit compares, of the last year's believed samples of its scope.

    "Less than" results count at their limit, so that low percentiles are upper bounds.
    """
    covers = np.array([limit.scope.covers(box.box) for box in fleet.columns.boxes], dtype=bool)
    judge = Judge(fleet.rulebook(fleet.held), ())
    settings = settings_of(fleet.held.settings)
    found, below, machines = [], 0, set[bytes]()
    for place, group in enumerate(fleet.columns.groups):
        rows = fleet.year[place] & (group.trust == Trust.GOOD) & covers[group.compartment]
        if not rows.any():
            continue
        kept = fleet.columns.kept[place]
        if settings not in kept:
            kept[settings] = judge.figures(group, fleet.columns.contexts[place], settings)
        figure = kept[settings].of(limit)
        known = rows & np.isfinite(figure.values)
        found.append(figure.values[known])
        below += int((figure.signs[known] == Sign.BELOW).sum())
        boxes = np.unique(group.compartment[known]).tolist()
        machines |= {fleet.columns.boxes[box].machine_id for box in boxes}
    values = np.concatenate(found) if found else np.empty(0)
    unit = fleet.catalogue.analytes[limit.analyte].unit
    counts, edges = _histogram(values, limit, bins)
    return Spread(
        unit=unit_of(limit, unit),
        samples=len(values),
        machines=len(machines),
        below=below,
        edges=edges,
        counts=counts,
        percentiles=_percentiles(values),
    )


def _percentiles(values: NDArray[np.float64]) -> dict[float, float]:
    if not len(values):
        return {}
    found = np.percentile(values, SHOWN, method="hazen")
    return dict(zip(SHOWN, found.tolist(), strict=True))


def _histogram(
    values: NDArray[np.float64], limit: Limit, bins: int
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Counts and edges, wide enough for nearly all figures and for every bound."""
    if not len(values):
        return np.empty(0, dtype=np.int64), np.empty(0)
    bounds = [bound for bound in limit.bounds() if bound is not None]
    low, high = np.percentile(values, [_CUT, 100 - _CUT]).tolist()
    low, high = min([low, *bounds]), max([high, *bounds])
    if high <= low:
        low, high = low - 0.5, high + 0.5
    counts, edges = np.histogram(np.clip(values, low, high), bins=bins, range=(low, high))
    return counts.astype(np.int64), edges
