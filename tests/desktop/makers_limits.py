"""Made-up limit sets, previews and derivations, and calls that answer in place of the services."""

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from typing import Any

import numpy as np

from fluiddesk.desktop.viewstate.limit_calls import KnownBox, PageFacts
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.limits.interval_rule import IntervalRule
from fluiddesk.domain.limits.limit_set import Limit, LimitSet, LimitSetState, Scope
from fluiddesk.domain.severity import Severity
from fluiddesk.services.catalogue import load_catalogue
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.limit_rules.derive_readiness import GroupReadiness
from fluiddesk.services.limit_rules.editing import edited
from fluiddesk.services.limit_rules.facts import (
    Activated,
    BoxLimits,
    Budget,
    ChangeKind,
    Checked,
    Derived,
    DerivedBound,
    DerivedRow,
    DraftFacts,
    Edited,
    FindingScore,
    HeldLimit,
    Imported,
    LastYear,
    Latest,
    MonthAlarms,
    RowChange,
    RowEdit,
    RuleProblem,
    SetFacts,
    Spread,
    WhatIfMove,
)
from fluiddesk.services.limit_rules.reach import Reach
from fluiddesk.services.reassess.fleet import Moved
from fluiddesk.services.workplace import Workplace
from tests.desktop.makers_results import make_limit

CATALOGUE = load_catalogue()
TODAY = date(2026, 11, 20)
PLACE = Workplace(store=None, catalogue=CATALOGUE, who="Kim Reliability")  # type: ignore[arg-type]
N, W, A, U = Severity.NORMAL, Severity.WATCH, Severity.ACT, Severity.URGENT

INTERVALS = (
    IntervalRule(
        scope=Scope(compartment_kind="engine"),
        interval_hours=250.0,
        interval_days=90,
        source="common practice, no source",
        set_by="starter set",
    ),
    IntervalRule(
        scope=Scope(compartment_kind="hydraulic"),
        interval_hours=500.0,
        interval_days=180,
        source="common practice, no source",
        set_by="starter set",
    ),
    IntervalRule(
        scope=Scope(machine_kind="excavator", compartment_kind="engine"),
        interval_hours=125.0,
        interval_days=None,
        window_share=0.15,
        convention="grid",
        source="dusty quarry",
        set_by="Kim Reliability",
    ),
)
BOXES = (
    KnownBox(
        compartment=CompartmentId(b"\x01" * 16),
        machine="EX-105",
        name="Engine",
        kind="engine",
        machine_kind="excavator",
        model="36 t",
    ),
    KnownBox(
        compartment=CompartmentId(b"\x02" * 16),
        machine="EX-105",
        name="Hydraulic system",
        kind="hydraulic",
        machine_kind="excavator",
        model="36 t",
    ),
)


def starter_set(**changed: Any) -> LimitSet:
    facts: dict[str, Any] = {
        "number": 1,
        "name": "Starter limits",
        "state": LimitSetState.IN_FORCE,
        "valid_from": date(2026, 1, 1),
        "valid_until": None,
        "author": "starter set",
        "note": "Compare them with the machines' manuals.",
        "limits": CATALOGUE.starter_limits,
        "intervals": INTERVALS,
    }
    return LimitSet(**{**facts, **changed})


def small_set(**changed: Any) -> LimitSet:
    """Three limits of engines, iron first, and one of every excavator's engine."""
    limits = (
        make_limit(),
        make_limit(analyte="copper", watch=25.0, act=50.0, urgent=100.0),
        make_limit(analyte="viscosity_100c", direction="down", watch=12.0, act=11.0, urgent=10.0),
        make_limit(
            scope=Scope(machine_kind="excavator", compartment_kind="engine"),
            watch=40.0,
            act=70.0,
            urgent=110.0,
            source="own history",
            set_by="Kim Reliability",
        ),
    )
    return starter_set(**{"limits": limits, **changed})


def draft_of(base: LimitSet, **changed: Any) -> LimitSet:
    facts: dict[str, Any] = {
        "number": base.number + 1,
        "name": "Autumn review",
        "state": LimitSetState.DRAFT,
        "author": "Kim Reliability",
        "note": "",
        "based_on": base.number,
    }
    return replace(base, **{**facts, **changed})


def facts_of(one: LimitSet, *, version: int = 1) -> SetFacts:
    return SetFacts(
        number=one.number,
        name=one.name,
        state=one.state,
        valid_from=one.valid_from,
        valid_until=one.valid_until,
        author=one.author,
        note=one.note,
        based_on=one.based_on,
        limits=len(one.limits),
        intervals=len(one.intervals),
        version=version,
        holds_today=one.state is LimitSetState.IN_FORCE,
        is_discarded=False,
    )


def page_facts(one: LimitSet, *others: LimitSet, version: int = 1) -> PageFacts:
    sets = sorted((one, *others), key=lambda each: -each.number)
    return PageFacts(
        sets=tuple(facts_of(each) for each in sets),
        opened=DraftFacts(limit_set=one, version=version, changes=()),
        base=next((each for each in others if each.number == one.based_on), None),
    )


def make_move(machine: str, box: str, before: Severity, after: Severity, why: str) -> WhatIfMove:
    return WhatIfMove(
        compartment_id=CompartmentId(machine.encode().ljust(16, b"\0")),
        site="North pit",
        machine=machine,
        compartment=box,
        sampled_on=date(2026, 11, 2),
        before=before,
        after=after,
        why=why,
    )


def make_latest(*moves: WhatIfMove) -> Latest:
    shown = moves or (
        make_move("EX-105", "Engine", N, W, "Iron 52, Watch 50"),
        make_move("RT-301", "Engine", W, A, "Iron 93, Act 90"),
        make_move("AT-604", "Final drive, left", A, U, "Iron 1020, Urgent 1000"),
        make_move("WL-207", "Engine", W, N, "Copper 24, Watch 30"),
        make_move("DZ-403", "Hydraulic system", N, W, "Silicon +8, Watch +7"),
        make_move("GR-701", "Tandem, right", N, W, "Iron 310, Watch 300"),
    )
    return Latest(
        before={U: 3, A: 9, W: 31, N: 142, Severity.NO_VERDICT: 6},
        after={U: 4, A: 10, W: 32, N: 139, Severity.NO_VERDICT: 6},
        moves=shown,
        seconds=0.2,
    )


def make_year() -> LastYear:
    counts = ((6, 8), (5, 7), (9, 11), (4, 4), (7, 9), (8, 8), (3, 5), (6, 7), (5, 9), (9, 12))
    months = tuple(
        MonthAlarms(
            month=date(2025 + (11 + place) // 12, (11 + place) % 12 + 1, 1),
            samples=110,
            before=before,
            after=after,
        )
        for place, (before, after) in enumerate((*counts, (7, 8), (6, 8)))
    )
    budget = {"healthy": 1012, "flagged": 32, "computed": 0.034, "per_month": 2.7}
    return LastYear(
        since=date(2025, 11, 21),
        until=TODAY,
        samples=1320,
        months=months,
        findings_before=FindingScore(caught=7, missed=2, false_alarms=4),
        findings_after=FindingScore(caught=8, missed=1, false_alarms=5),
        budget_before=Budget(measured=0.0212, low=0.0141, high=0.032, **budget),
        budget_after=Budget(measured=0.0316, low=0.0225, high=0.0443, **budget),
        seconds=0.9,
    )


def make_spread(*, most: float = 180.0) -> Spread:
    edges = np.linspace(0.0, most, 41)
    middles = (edges[:-1] + edges[1:]) / 2
    counts = np.round(400 * np.exp(-middles / (most / 6))).astype(np.int64)
    return Spread(
        unit="mg/kg",
        samples=int(counts.sum()),
        machines=31,
        below=12,
        edges=edges,
        counts=counts,
        percentiles={50.0: most / 9, 90.0: most / 2.6, 98.0: most / 1.6, 99.5: most / 1.2},
    )


def make_derived(*, limit: Limit | None = None) -> Derived:
    ready = limit or make_limit(watch=48.0, act=77.0, urgent=121.0, source="own history", set_by="")
    rows = [
        _derived("iron", ready, samples=1204, machines=31),
        _derived("copper", replace(ready, analyte="copper", watch=19.0), samples=1204, machines=31),
        _derived("silver", None, samples=12, machines=4),
    ]
    return Derived(
        rows=tuple(rows),
        since=date(2024, 1, 8),
        until=TODAY,
        seconds=1.2,
        excluded={"suspect": 14, "with a known fault": 22},
    )


def make_groups() -> tuple[GroupReadiness, ...]:
    return tuple(
        GroupReadiness(
            scope=Scope(compartment_kind=kind, model=model),
            boxes=boxes,
            samples=samples,
            machines=boxes,
            why=why,
        )
        for kind, model, boxes, samples, why in (
            ("engine", "", 31, 1204, ""),
            ("engine", "K-40", 4, 160, "4 of at least 10 machines"),
            ("hydraulic", "", 28, 640, ""),
        )
    )


def _derived(analyte: str, limit: Limit | None, *, samples: int, machines: int) -> DerivedRow:
    values = (None, None, None) if limit is None else limit.bounds()
    bounds = [
        DerivedBound(
            percent=percent,
            value=value,
            own=value,
            low=None if value is None else value * 0.93,
            high=None if value is None else value * 1.08,
            parent=None,
            why="" if value is not None else f"{samples} samples, 30 are needed",
        )
        for percent, value in zip((98.0, 99.5, 99.9), values, strict=True)
    ]
    return DerivedRow(
        scope=Scope(compartment_kind="engine"),
        analyte=analyte,
        analyte_name=CATALOGUE.analytes[analyte].name,
        unit="mg/kg",
        direction="up",
        samples=samples,
        machines=machines,
        below=3,
        since=date(2024, 1, 8),
        until=TODAY,
        method="censored percentile",
        watch=bounds[0],
        act=bounds[1],
        urgent=bounds[2],
        own_share=samples / (samples + 30),
        parent_scope="Every engine",
        present=make_limit(analyte=analyte),
        present_flags=41,
        derived_flags=26,
        present_flags_with_finding=5,
        derived_flags_with_finding=5,
        shape_note="Skewed to the right",
        outlier_note="",
        excluded_note="",
        limit=limit,
    )


class RuleCallsDouble:
    """Answers in place of the services; sets are kept in memory, and what is asked is noted."""

    def __init__(self, *sets: LimitSet, place: Workplace = PLACE) -> None:
        self.place = place
        self.sets = {one.number: one for one in sets}
        self.versions = dict.fromkeys(self.sets, 1)
        self.asked: list[tuple[Any, ...]] = []
        self.problems: tuple[RuleProblem, ...] = ()
        self.refusal: Exception | None = None

    def page(self, number: int | None, *, today: date) -> PageFacts:
        held = [one for one in self.sets.values() if one.state is LimitSetState.IN_FORCE]
        shown = self.sets.get(number or -1) or next(iter(held), None)
        if shown is None:
            return PageFacts(sets=(), opened=None)
        others = [one for one in self.sets.values() if one is not shown]
        return page_facts(shown, *others, version=self.versions[shown.number])

    def draft_from(self, number: int, *, name: str, note: str, moment: datetime) -> DraftFacts:
        self.asked.append(("draft", number, name))
        made = draft_of(self.sets[number], number=max(self.sets) + 1, name=name, note=note)
        self.sets[made.number], self.versions[made.number] = made, 1
        return DraftFacts(limit_set=made, version=1, changes=())

    def save(
        self, number: int, edits: Sequence[RowEdit], *, version: int, moment: datetime
    ) -> Edited:
        self.asked.append(("save", number, len(edits)))
        if self.refusal is not None:
            raise self.refusal
        assert version == self.versions[number]
        self.sets[number], undo = edited(self.sets[number], edits)
        self.versions[number] += 1
        draft = DraftFacts(limit_set=self.sets[number], version=self.versions[number], changes=())
        return Edited(draft=draft, undo=undo)

    def discard(self, number: int, *, version: int, moment: datetime) -> Changes:
        self.asked.append(("discard", number))
        del self.sets[number]
        return Changes(subjects=frozenset({Subject.LIMITS}))

    def compare(self, first: int, second: int) -> tuple[RowChange, ...]:
        self.asked.append(("compare", first, second))
        return (
            RowChange(
                kind=ChangeKind.CHANGED,
                place=0,
                before=make_limit(),
                after=make_limit(watch=50.0),
                told="Iron: Watch 60 becomes 50",
            ),
        )

    def check(self, number: int, *, today: date) -> Checked:
        self.asked.append(("check", number))
        return Checked(number=number, name=self.sets[number].name, problems=self.problems)

    def activate(self, number: int, *, valid_from: date, note: str, **_: Any) -> Activated:
        self.asked.append(("activate", number, valid_from, note))
        if self.refusal is not None:
            raise self.refusal
        for other, one in self.sets.items():
            if one.state is LimitSetState.IN_FORCE:
                self.sets[other] = replace(one, state=LimitSetState.RETIRED, valid_until=valid_from)
        self.sets[number] = replace(
            self.sets[number], state=LimitSetState.IN_FORCE, valid_from=valid_from, note=note
        )
        moved = Moved(
            site="North pit",
            machine="EX-105",
            compartment="Engine",
            compartment_id=CompartmentId(b"\x01" * 16),
            before=N,
            after=W,
            headline="Iron 52 mg/kg, beyond Watch 50",
        )
        return Activated(
            number=number, valid_from=valid_from, retired=(1,), samples=1320, changed=31,
            moved=(moved,),
        )  # fmt: skip

    def hold_earlier(self, number: int, *, valid_from: date, note: str, **_: Any) -> Activated:
        self.asked.append(("earlier", number, valid_from, note))
        copy = replace(self.sets[number], number=max(self.sets) + 1, valid_from=valid_from)
        self.sets[number] = replace(
            self.sets[number], state=LimitSetState.RETIRED, valid_until=self.sets[number].valid_from
        )
        self.sets[copy.number], self.versions[copy.number] = copy, 1
        return Activated(
            number=copy.number, valid_from=valid_from, retired=(number,), samples=300, changed=0,
            moved=(),
        )  # fmt: skip

    def reach(self, fleet: Any, days: Sequence[date]) -> tuple[Reach, ...]:
        return tuple(Reach(day=day, samples=12 * n, boxes=7 * n) for n, day in enumerate(days))

    def box_limits(self, compartment: CompartmentId, *, day: date) -> BoxLimits:
        narrow, wide = small_set().limits[3], small_set().limits[0]
        held = HeldLimit(
            limit=narrow, overrode=(wide,), since=date(2026, 1, 1), set_number=1,
            set_name="Starter limits", unit="mg/kg", analyte="Iron",
        )  # fmt: skip
        return BoxLimits(
            site="North pit", machine="EX-105", compartment="Engine", day=day, set_number=1,
            set_name="Starter limits", held=(held,), interval=INTERVALS[2],
            interval_overrode=(INTERVALS[0],),
        )  # fmt: skip

    def open_fleet(self, *, today: date, progress: Any) -> Any:
        self.asked.append(("fleet",))
        return object()

    def latest(self, fleet: Any, draft: LimitSet, *, progress: Any) -> Latest:
        self.asked.append(("latest", draft))
        return make_latest()

    def year(self, fleet: Any, draft: LimitSet, *, progress: Any) -> LastYear:
        self.asked.append(("year", draft))
        return make_year()

    def chance(self, columns: Any, draft: LimitSet, *, today: date) -> tuple[Any, str]:
        held = next(one for one in self.sets.values() if one.state is LimitSetState.IN_FORCE)
        is_same = draft.intervals == held.intervals
        return object(), "" if is_same else "Chance to catch a fault: Engine 62 % \u2192 48 %."

    def spread(self, fleet: Any, limit: Limit) -> Spread:
        known = [bound for bound in limit.bounds() if bound is not None]
        return make_spread(most=1.2 * max(map(math.fabs, known), default=1.0))

    def derive(self, fleet: Any, **group: Any) -> Derived:
        self.asked.append(("derive", group["compartment_kind"]))
        return make_derived()

    def groups_ready(self, fleet: Any) -> tuple[GroupReadiness, ...]:
        self.asked.append(("groups",))
        return make_groups()

    def derive_groups(self, fleet: Any, scopes: Sequence[Scope], **_: Any) -> Derived:
        self.asked.append(("derive groups", *(one.text for one in scopes)))
        return make_derived()

    def export(self, number: int, path: Path) -> None:
        self.asked.append(("export", number, path))

    def import_file(self, path: Path, *, today: date, moment: datetime) -> Imported:
        self.asked.append(("import", path))
        if self.refusal is not None:
            raise self.refusal
        made = draft_of(small_set(), number=max(self.sets, default=0) + 1, name=path.stem)
        self.sets[made.number], self.versions[made.number] = made, 1
        return Imported(number=made.number, name=made.name, limits=4, intervals=3)

    def boxes(self, *, today: date) -> tuple[KnownBox, ...]:
        return BOXES
