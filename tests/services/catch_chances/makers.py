"""Boxes and lanes with figures by hand."""

from collections.abc import Sequence
from datetime import date
from typing import Any

import numpy as np

from fluiddesk.domain.limits.interval_rule import IntervalRule
from fluiddesk.domain.limits.limit_set import Scope
from fluiddesk.services.catch_chances.facts import ChanceColumns, KnownFrom, Lane
from fluiddesk.services.catch_chances.read import under_other_rules
from fluiddesk.services.fleet_condition import BoxRow

DAY = date(2026, 6, 30)


def make_row(number: int = 1, **changes: Any) -> BoxRow:
    given: dict[str, Any] = dict.fromkeys(BoxRow._fields)
    given |= {
        "site_id": 1,
        "site": "Quarry",
        "machine_id": b"m%015d" % number,
        "machine": f"EX-{number}",
        "machine_kind": "excavator",
        "model": "",
        "machine_state": "working",
        "compartment_id": b"c%015d" % number,
        "kind": "engine",
        "position": "",
        "interval_hours": 250.0,
        "interval_days": None,
        "hours_per_day": 20.0,
        "criticality": 1,
        "fluid_code": "",
    }
    return BoxRow(**(given | changes))


def make_lane(**changes: Any) -> Lane:
    given: dict[str, Any] = {
        "site": "Quarry",
        "laboratory": "lab",
        "name": "Lab",
        "days": 5.0,
        "known_from": KnownFrom.MEASURED,
        "bottles": 40,
        "days_without_record": 7.0,
        "legs": (),
        "about": "measured by hand",
    }
    return Lane(**(given | changes))


def make_columns(
    rows: Sequence[BoxRow] = (make_row(),),
    *,
    shows: float | Sequence[float] = 200.0,
    sensitivity: float = 1.0,
    lanes: tuple[Lane, ...] = (make_lane(),),
    lane: Sequence[int] = (),
    rules: tuple[IntervalRule, ...] = (),
) -> ChanceColumns:
    many = len(rows)
    blank = ChanceColumns(
        today=DAY,
        rows=rows,
        rules=(),
        interval_hours=np.zeros(many),
        interval_days=np.zeros(many),
        per_day=np.array([row.hours_per_day for row in rows], dtype=np.float64),
        is_pace_assumed=np.zeros(many, dtype=bool),
        shows_hours=np.broadcast_to(np.array(shows, dtype=np.float64), (many,)).copy(),
        sensitivity=np.full(many, sensitivity),
        lane=np.array(lane or [0] * many, dtype=np.int32),
        lanes=lanes,
        left_out=np.array([row.machine_state != "working" for row in rows], dtype=np.int8),
    )
    return under_other_rules(blank, rules)


def make_rule(kind: str = "", hours: float | None = 125.0, days: int | None = None) -> IntervalRule:
    return IntervalRule(
        scope=Scope(compartment_kind=kind),
        interval_hours=hours,
        interval_days=days,
        source="manual",
        set_by="Kim",
    )
