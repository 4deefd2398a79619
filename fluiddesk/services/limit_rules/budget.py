"""How many healthy samples limits flag: measured on the fleet's year, and put together by limit."""

from collections import defaultdict

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.limits.alarm_budget import mean_share_flagged, measured_share
from fluiddesk.domain.limits.limit_set import Limit, LimitSet
from fluiddesk.domain.severity import Severity
from fluiddesk.domain.statistics.entry import NotEnough
from fluiddesk.services.limit_rules.facts import Budget, RowEffect
from fluiddesk.services.limit_rules.replay import Replay
from fluiddesk.services.limit_rules.what_if_fleet import WhatIfFleet

_MONTHS = 12
_JUDGED, _WATCH, _ACT, _URGENT, _HEALTHY, _FLAGGED = range(6)

Tally = dict[Limit, NDArray[np.int64]]


def tally(fleet: WhatIfFleet, told: Replay) -> Tally:
    """For each limit: samples judged, in each band, healthy ones judged, healthy ones flagged."""
    found: Tally = defaultdict(lambda: np.zeros(6, dtype=np.int64))
    for part in told.parts:
        healthy = fleet.healthy[part.group][part.rows]
        judged = part.own >= Severity.NORMAL
        flagged = part.own >= Severity.WATCH
        counts = (
            judged.sum(axis=0),
            *((part.own == band).sum(axis=0) for band in (1, 2, 3)),
            judged[healthy].sum(axis=0),
            flagged[healthy].sum(axis=0),
        )
        for limit, own in zip(part.limits, np.array(counts).T, strict=True):
            found[limit] += own
    return dict(found)


def budget_of(fleet: WhatIfFleet, told: Replay) -> Budget:
    """The share of healthy samples that a set flags, measured and computed."""
    healthy = flagged = 0
    for severity, rows in zip(told.severity, fleet.healthy, strict=True):
        judged = rows & (severity >= Severity.NORMAL)
        healthy += int(judged.sum())
        flagged += int((severity[judged] >= Severity.WATCH).sum())
    share = measured_share(flagged, healthy)
    known = None if isinstance(share, NotEnough) else share
    return Budget(
        healthy=healthy,
        flagged=flagged,
        measured=known.share if known else None,
        low=known.low if known else None,
        high=known.high if known else None,
        computed=_computed(fleet, told),
        per_month=flagged / _MONTHS if known else None,
    )


def _computed(fleet: WhatIfFleet, told: Replay) -> float | None:
    """Each limit's own flag rate put together as if limits were independent, over the samples."""
    rates = {
        limit: counts[_FLAGGED] / counts[_HEALTHY]
        for limit, counts in tally(fleet, told).items()
        if counts[_HEALTHY]
    }
    total, weight = 0.0, 0
    for part in told.parts:
        healthy = fleet.healthy[part.group][part.rows]
        judged = part.own[healthy] >= Severity.NORMAL
        judged = judged[judged.any(axis=1)]
        own = np.array([rates.get(limit, 0.0) for limit in part.limits])
        share = mean_share_flagged(own, judged=judged)
        if not isinstance(share, NotEnough):
            total, weight = total + share * len(judged), weight + len(judged)
    return total / weight if weight else None


def row_effects_of(fleet: WhatIfFleet, told: Replay, draft: LimitSet) -> tuple[RowEffect, ...]:
    """What each limit of a draft does to the year's samples; those that judged none left out."""
    found = tally(fleet, told)
    return tuple(
        RowEffect(
            place=place,
            judged=int(counts[_JUDGED]),
            watch=int(counts[_WATCH]),
            act=int(counts[_ACT]),
            urgent=int(counts[_URGENT]),
            healthy_flagged=int(counts[_FLAGGED]),
            healthy=int(counts[_HEALTHY]),
        )
        for place, limit in enumerate(draft.limits)
        if (counts := found.get(limit)) is not None and counts[_JUDGED]
    )
