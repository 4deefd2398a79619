"""Reads what the chance to catch a fault follows from, for every box of the fleet at once."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.fleet import MachineState
from fluiddesk.domain.limits.interval_rule import IntervalRule
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.catch_chances.facts import ChanceColumns, Hours, LeftOut
from fluiddesk.services.catch_chances.lanes import (
    Answers,
    LabRecord,
    answer_columns,
    lanes_of,
    since_day,
)
from fluiddesk.services.fault_figures import figures_of_kind
from fluiddesk.services.fleet_condition import BoxRow
from fluiddesk.services.intervals_in_force import interval_rules, under_rules
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import RecordKind

_STANDS: Final = 0.01
"""A machine that runs less than this many hours a day stands (rounding, not work)."""

_USUAL_PACE: Final = 8.0
"""Hours a day where not one machine of a kind tells its pace (common practice, no source)."""


def chance_columns(place: Workplace, *, today: date) -> ChanceColumns:
    """What the chances follow from: intervals in force, pace, days to the answer, figures by kind.

    Of an interval in hours and days whichever runs out first counts, at the pace the machine runs.
    Special intervals, which shorten what is due once, are left out: the chance is that of the
    programme. A machine whose pace too few readings tell runs as the median of its kind.
    """
    with place.store.reading() as desk:
        raw: list[tuple[Any, ...]] = desk.condition.rows()
        rules = interval_rules(desk, today)
        answers = answer_columns(desk.programme.answers(since_day(today)), today=today)
        records = {
            row["code"]: LabRecord(
                code=row["code"],
                name=row["name"],
                lane_days=row["lane_days"],
                turnaround_days=row["turnaround_days"],
            )
            for row in desk.register.all(RecordKind.LABORATORY)
            if not row["retired"]
        }
    rows = [BoxRow._make(row) for row in raw]
    lanes = lanes_of(answers, records, {int(row.site_id): row.site for row in rows})
    index = {key: at for at, key in enumerate(lanes)}
    used = lane_of_boxes(rows, answers, records)
    columns = _columns(place.catalogue, rows, today=today, rules=rules)
    lane = np.array([index[key] for key in used], dtype=np.int32)
    return replace(columns, lane=lane, lanes=tuple(lanes.values()))


def _columns(
    catalogue: Catalogue, rows: Sequence[BoxRow], *, today: date, rules: tuple[IntervalRule, ...]
) -> ChanceColumns:
    kinds = sorted({row.kind for row in rows})
    place = {kind: at for at, kind in enumerate(kinds)}
    of_kind = np.array([place[row.kind] for row in rows], dtype=np.intp)
    figures = [figures_of_kind(catalogue, kind) for kind in kinds]
    shows = np.array([one["shows_hours"] for one in figures], dtype=np.float64)
    sees = np.array([one["sensitivity"] for one in figures], dtype=np.float64)
    per_day, assumed = pace_of(rows)
    is_working = np.array([row.machine_state == MachineState.WORKING for row in rows], dtype=bool)
    columns = ChanceColumns(
        today=today,
        rows=rows,
        rules=rules,
        interval_hours=np.zeros(0),
        interval_days=np.zeros(0),
        per_day=per_day,
        is_pace_assumed=assumed,
        shows_hours=shows[of_kind] if len(rows) else np.zeros(0),
        sensitivity=sees[of_kind] if len(rows) else np.zeros(0),
        lane=np.zeros(len(rows), dtype=np.int32),
        lanes=(),
        left_out=np.where(is_working, LeftOut.NOT, LeftOut.EXCUSED).astype(np.int8),
    )
    return under_other_rules(columns, rules)


def under_other_rules(columns: ChanceColumns, rules: Sequence[IntervalRule]) -> ChanceColumns:
    """The same boxes, sampled by other interval rules; where none covers, by the register."""
    held, _ = under_rules(columns.rows, rules)
    hours = np.array([row.interval_hours for row in held], dtype=np.float64)
    days = np.array([row.interval_days for row in held], dtype=np.float64)
    excused = columns.left_out == LeftOut.EXCUSED
    stands = columns.per_day <= _STANDS
    out = np.select(
        [excused, stands, np.isnan(hours) & np.isnan(days)],
        [LeftOut.EXCUSED, LeftOut.STANDS, LeftOut.NO_INTERVAL],
        LeftOut.NOT,
    )
    return replace(
        columns,
        rules=tuple(rules),
        interval_hours=hours,
        interval_days=days,
        left_out=out.astype(np.int8),
    )


def pace_of(rows: Sequence[BoxRow]) -> tuple[Hours, NDArray[np.bool_]]:
    """Hours a day of each box's machine, and whether they are those of its kind."""
    told = np.array([row.hours_per_day for row in rows], dtype=np.float64)
    unknown = np.isnan(told)
    for kind in {rows[at].machine_kind for at in np.flatnonzero(unknown).tolist()}:
        same = np.array([row.machine_kind == kind for row in rows], dtype=bool)
        known = told[same & (told > _STANDS)]
        told[same & unknown] = float(np.median(known)) if len(known) else _USUAL_PACE
    return told, unknown


def lane_of_boxes(
    rows: Sequence[BoxRow], answers: Answers, records: dict[str, LabRecord]
) -> list[tuple[int, str]]:
    """Site and laboratory of each box: of its newest report, else what its site uses most."""
    order = np.argsort(answers.taken, kind="stable").tolist()
    labs = answers.laboratory.tolist()
    newest = {answers.compartment[at]: answers.codes[labs[at]] for at in order}
    by_site: dict[int, Counter[str]] = {}
    for row in rows:
        if (code := newest.get(row.compartment_id)) is not None:
            by_site.setdefault(int(row.site_id), Counter())[code] += 1
    everywhere = sum(by_site.values(), Counter[str]())
    only = next(iter(records)) if len(records) == 1 else ""
    usual = _most(everywhere) or only
    of_site = {site: _most(counts) for site, counts in by_site.items()}
    return [
        (
            int(row.site_id),
            newest.get(row.compartment_id) or of_site.get(int(row.site_id)) or usual,
        )
        for row in rows
    ]


def _most(counts: Counter[str]) -> str:
    return min(counts, key=lambda code: (-counts[code], code)) if counts else ""
