"""Bottles that are presumed lost: gone for longer than 95 of 100 of their lane are."""

import tomllib
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from math import ceil
from typing import Any, Final

import numpy as np

from fluiddesk.assets import resource
from fluiddesk.storage import Desk

DAY_S: Final = 86_400.0
_LOST_PERCENTILE: Final = 0.95
_LOOK_BACK: Final = timedelta(days=365)


@dataclass(frozen=True, slots=True, kw_only=True)
class PresumedLost:
    """A box's newest bottle, drawn on a day, that is presumed lost since another."""

    code: str
    drawn_on: date
    since: date

    @property
    def words(self) -> str:
        """What is to be done about it."""
        return f"bottle {self.code} presumed lost: take again"


@cache
def leg_figures() -> Mapping[str, Any]:
    """Targets and alarms by leg, with the least number of bottles for a lane of its own."""
    return tomllib.loads(resource("programme", "custody.toml").read_text(encoding="utf-8"))


def usual_way_days() -> float:
    """Days from shipping to the report where too few bottles have gone a lane: both alarms."""
    legs = leg_figures()["leg"]
    return float(legs["shipped_received"]["alarm"]) + float(legs["received_reported"]["alarm"])


def day_number(at: datetime | date | str) -> float:
    """Days since 1970 of a moment, or of the noon of a day."""
    if isinstance(at, str):
        at = datetime.fromisoformat(at)
    if not isinstance(at, datetime):
        at = datetime.combine(at, time(12), UTC)
    if at.tzinfo is None:
        at = datetime.combine(at.date(), time(12), UTC)
    return at.timestamp() / DAY_S


def lane_limits(desk: Desk, *, today: date) -> dict[str, float]:
    """By laboratory, the days from shipping to the report that 95 of 100 bottles keep to.

    Over the bottles that were shipped in the last year; lanes with too few are left out.
    """
    took: dict[str, list[float]] = defaultdict(list)
    for laboratory, shipped_at, issued_on in desk.programme.ways(today - _LOOK_BACK):
        took[laboratory].append(day_number(issued_on) - day_number(shipped_at))
    least = int(leg_figures()["least_for_own_lane"])
    return {
        lane: float(np.quantile(days, _LOST_PERCENTILE))
        for lane, days in took.items()
        if len(days) >= least
    }


def presumed_lost(
    desk: Desk, *, today: date, compartment: bytes | None = None
) -> dict[bytes, PresumedLost]:
    """By box (or of one), its newest bottle on the way, where that is presumed lost."""
    away = desk.programme.away(compartment)
    if not away:
        return {}
    limits = lane_limits(desk, today=today)
    newest = _newest(away)
    now = day_number(today)
    found = {}
    for box, (code, drawn_on, shipped_at, laboratory) in newest.items():
        begins = day_number(shipped_at if shipped_at is not None else drawn_on)
        limit = limits.get(laboratory, usual_way_days())
        if now - begins > limit:
            since = date(1970, 1, 1) + timedelta(days=ceil(begins + limit))
            day = drawn_on if isinstance(drawn_on, date) else date.fromisoformat(drawn_on)
            found[box] = PresumedLost(code=code, drawn_on=day, since=min(since, today))
    return found


def _newest(away: Sequence[tuple[Any, ...]]) -> dict[bytes, tuple[Any, ...]]:
    """The bottle that was drawn last of each box."""
    newest: dict[bytes, tuple[Any, ...]] = {}
    for box, *rest in away:
        if box not in newest or str(newest[box][1]) < str(rest[1]):
            newest[box] = tuple(rest)
    return newest
