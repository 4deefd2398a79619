"""Limit sets and findings in the store: every field comes back, on either database."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from fluiddesk.domain.errors import NotFoundError, StaleEditError
from fluiddesk.domain.limits.interval_rule import IntervalRule
from fluiddesk.domain.limits.limit_set import LimitKind, LimitSetState, Scope
from fluiddesk.storage import NO_SITE, DeskStore, FindingLine
from tests.makers import make_limit, make_set
from tests.stores import CLERK, LATER, MOMENT, SITE, fill

EVERY_KIND = tuple(
    replace(
        make_limit(kind=kind, direction="up"), companion="copper", least_change=2.5,
        note="looked at", derivation='{"n":30}', group="wear", act_needs=2, urgent_needs=3,
        boundary="beyond",
        scope=Scope(
            machine_kind="excavator", model="A", compartment_kind="engine", compartment="0a" * 16,
            fluid_class="engine_oil",
        ),
    )
    for kind in LimitKind
)  # fmt: skip
OFF = replace(
    make_limit(bounds=(None, None, None)), is_off=True, off_until=date(2026, 9, 30), note="run-in"
)
RULES = (
    IntervalRule(
        scope=Scope(machine_kind="excavator", model="A", compartment_kind="engine",
                    compartment="0a" * 16),
        interval_hours=250.0, interval_days=None, source="manual", set_by="Kim", window_share=0.2,
        convention="grid", note="grid of the site",
    ),
    IntervalRule(scope=Scope(), interval_hours=None, interval_days=90, source="x", set_by="Kim"),
)  # fmt: skip
FULL = make_set(
    (*EVERY_KIND, OFF), number=7, state=LimitSetState.DRAFT, intervals=RULES,
    settings={"clears_at": 0.8, "run_in": [2.0, 1.5]}, based_on=3, note="all of it",
)  # fmt: skip


def test_that_every_field_of_a_set_comes_back(store: DeskStore):
    with store.transaction(who=CLERK, moment=MOMENT) as desk:
        desk.limits.save(FULL)
        assert desk.limits.one(7) == FULL
    with store.reading() as desk:
        assert desk.limits.one(7) == FULL
        assert desk.limits.versions() == {7: 1}


def test_that_a_draft_saved_anew_drops_its_former_rows(store: DeskStore):
    with store.transaction(who=CLERK, moment=MOMENT) as desk:
        desk.limits.save(FULL)
        less = replace(FULL, limits=FULL.limits[:1], intervals=(), settings={})
        desk.limits.save(less, version=1)
    with store.reading() as desk:
        assert desk.limits.one(7) == less
        assert desk.limits.version(7) == 2


def test_that_when_a_set_holds_can_be_written_and_its_rows_stay(store: DeskStore):
    held = replace(
        FULL, state=LimitSetState.RETIRED, valid_until=FULL.valid_from + timedelta(days=9),
        note="overtaken",
    )  # fmt: skip
    with store.transaction(who=CLERK, moment=MOMENT) as desk:
        desk.limits.save(FULL)
        desk.limits.set_held(held, version=1)
        with pytest.raises(StaleEditError, match="limit set 7 was changed by Kim"):
            desk.limits.set_held(held, version=1)
        [newest, *_] = desk.audit.newest(NO_SITE)
        assert newest.what == "limit set 7"
        assert '"note":"overtaken"' in str(newest.new)
    with store.reading() as desk:
        assert desk.limits.one(7) == held


def test_that_a_set_that_is_not_there_is_told(store: DeskStore):
    with store.reading() as desk, pytest.raises(NotFoundError, match="There is no limit set 9"):
        desk.limits.one(9)


def test_that_what_was_taken_back_is_not_kept_for_the_next_reader(store: DeskStore):
    with store.transaction(who=CLERK, moment=MOMENT) as desk:
        desk.limits.save(FULL)
    with store.reading() as desk:
        assert len(desk.limits.one(7).limits) == len(FULL.limits)
    changed = replace(FULL, limits=FULL.limits[:2])

    def fail() -> None:
        with store.transaction(who=CLERK, moment=LATER) as desk:
            desk.limits.save(changed, version=1)
            assert desk.limits.one(7) == changed
            raise RuntimeError("taken back")

    with pytest.raises(RuntimeError, match="taken back"):
        fail()
    with store.reading() as desk:
        assert desk.limits.one(7) == FULL


def test_that_findings_come_with_the_box_and_the_sample_of_their_action(store: DeskStore):
    filled = fill(store)
    sample = filled.samples[0]
    days = (date(2026, 2, 2), date(2026, 1, 1))
    with store.transaction(who=CLERK, moment=MOMENT) as desk:
        for day, about in zip(days, (sample.id, None), strict=True):
            action = desk.new_id()
            desk.load(
                "action", ("site_id", "id", "compartment_id", "sample_id", "kind", "status"),
                [(SITE, action, filled.compartment.id, about, "inspect", "done")],
            )  # fmt: skip
            desk.load(
                "finding", ("site_id", "id", "action_id", "result", "found_on"),
                [(SITE, desk.new_id(), action, "fault_confirmed", day)],
            )  # fmt: skip
    with store.reading() as desk:
        assert desk.findings.lines() == [
            FindingLine(filled.compartment.id, None, "fault_confirmed", days[1]),
            FindingLine(filled.compartment.id, sample.id, "fault_confirmed", days[0]),
        ]
