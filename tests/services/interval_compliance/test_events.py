"""Due events of made-up boxes, each outcome worked out by hand.

Window a tenth of the interval before and after (US Army TB 43-0211); late up to half an interval,
missed after that (common practice, no source).
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import TypedDict

import pytest

from fluiddesk.domain.identity import CompartmentId, SampleId
from fluiddesk.domain.samples import Sample, SampleOrigin, SampleReason, SampleState
from fluiddesk.domain.sampling.outcome import Outcome
from fluiddesk.domain.severity import Trust
from fluiddesk.services.interval_compliance.events import event_columns
from fluiddesk.services.interval_compliance.facts import EventLine, GroupBy
from fluiddesk.services.interval_compliance.tables import compliance_table, event_lines
from fluiddesk.storage import RecordKey, RecordKind
from tests.fleets import LAST_DAY, NOW, Fleet
from tests.intervals import interval_rule, put_in_force

START = LAST_DAY - timedelta(days=470)


class Period(TypedDict):
    first_day: date
    last_day: date


EVER = Period(first_day=date(2000, 1, 1), last_day=date(2100, 1, 1))


def calendar_box(fleet: Fleet, days: Sequence[int], **states: SampleState) -> CompartmentId:
    """A box sampled every 90 days by the calendar, with samples so many days after the start."""
    near = fleet.boxes("engine")[0]
    with fleet.place.store.transaction(who="planner", moment=NOW) as desk:
        old = desk.fleet.compartment(near.compartment_id)
        key = CompartmentId(desk.new_id())
        new = replace(old, id=key, position="test", interval_hours=None, interval_days=90)
        desk.fleet.add_compartment(new)
        desk.sampling.add_samples(
            Sample(
                site=old.site,
                id=SampleId(desk.new_id()),
                compartment=key,
                bottle_code="",
                reason=SampleReason.ROUTINE,
                state=states.get(f"at_{day}", SampleState.REPORTED),
                taken_on=START + timedelta(days=day),
            )
            for day in days
        )
    return key


def lines_of(fleet: Fleet, box: CompartmentId) -> list[EventLine]:
    events = event_columns(fleet.place, today=LAST_DAY)
    return list(event_lines(events, **EVER, compartment=box))


def told(lines: Sequence[EventLine]) -> list[tuple[int, Outcome]]:
    return [((one.due_on - START).days, one.outcome) for one in lines]


def test_that_each_due_event_of_a_box_has_the_outcome_worked_out_by_hand(
    either_fleet: Fleet,
) -> None:
    box = calendar_box(either_fleet, [0, 88, 200, 378])
    assert told(lines_of(either_fleet, box)) == [
        (90, Outcome.ON_TIME),  # 88 lies in 81 to 99
        (178, Outcome.LATE),  # 200: 22 days late, half an interval is 45
        (290, Outcome.MISSED),  # nothing until the next due point
        (380, Outcome.ON_TIME),
        (468, Outcome.OPEN),  # today is day 470
    ]


def test_that_on_a_grid_an_early_sample_is_extra_and_moves_nothing(fleet: Fleet) -> None:
    box = calendar_box(fleet, [0, 60, 88, 181])
    rolling = told(lines_of(fleet, box))
    assert rolling[0] == (90, Outcome.EARLY)
    put_in_force(fleet.place, interval_rule(box, days=90, convention="grid"), since=START)
    lines = lines_of(fleet, box)
    assert told(lines)[:2] == [(90, Outcome.ON_TIME), (180, Outcome.ON_TIME)]
    assert {one.interval for one in lines} == {"90 days, fixed grid"}


def test_that_a_lost_bottle_was_taken_but_gives_no_verdict(fleet: Fleet) -> None:
    box = calendar_box(fleet, [0, 90, 180], at_90=SampleState.LOST)
    assert told(lines_of(fleet, box))[:2] == [(90, Outcome.UNUSABLE), (180, Outcome.ON_TIME)]


def test_that_a_machine_that_stood_the_whole_window_owed_nothing(fleet: Fleet) -> None:
    box = calendar_box(fleet, [0, 270])
    with fleet.place.store.transaction(who="planner", moment=NOW) as desk:
        owner = desk.fleet.compartment(box)
        for state, day in (("down", 75), ("working", 110)):
            desk.register.add(
                RecordKey(RecordKind.STATE, owner.site, desk.new_id()),
                {
                    "machine_id": owner.machine,
                    "state": state,
                    "since": START + timedelta(days=day),
                    "note": "",
                },
                name="state",
            )
    assert told(lines_of(fleet, box))[:3] == [
        (90, Outcome.EXCUSED),
        (180, Outcome.MISSED),
        (270, Outcome.ON_TIME),
    ]


def test_that_a_note_excuses_or_explains_the_event_next_to_it(fleet: Fleet) -> None:
    box = calendar_box(fleet, [0, 270])
    with fleet.place.store.transaction(who="planner", moment=NOW) as desk:
        site = desk.fleet.compartment(box).site
        for kind, reason, day in (("excused", "no_access", 92), ("missed", "forgotten", 179)):
            desk.register.add(
                RecordKey(RecordKind.DUE_NOTE, site, desk.new_id()),
                {
                    "compartment_id": box,
                    "due_on": START + timedelta(days=day),
                    "kind": kind,
                    "reason": reason,
                    "note": "",
                },
                name="due",
            )
    lines = lines_of(fleet, box)
    assert told(lines)[:2] == [(90, Outcome.EXCUSED), (180, Outcome.MISSED)]
    assert [one.reason for one in lines[:2]] == ["no access", "forgotten"]


@pytest.mark.parametrize(
    "change",
    [
        {"reason": SampleReason.RESAMPLE},
        {"origin": SampleOrigin.PAST},
        {"origin": SampleOrigin.WALK_UP},
        {"state": SampleState.VOID},
    ],
)
def test_that_only_routine_samples_of_the_plan_count(
    fleet: Fleet, change: dict[str, object]
) -> None:
    box = calendar_box(fleet, [0, 90, 180])
    with fleet.place.store.transaction(who="planner", moment=NOW) as desk:
        second = desk.sampling.samples_of(box)[1]
        desk.sampling.update_samples([replace(second, **change)])  # type: ignore[arg-type]
        if "origin" in change:
            name = change["origin"].value  # type: ignore[attr-defined]
            desk.session.connection.exec_driver_sql(
                f"UPDATE sample SET origin = '{name}' WHERE hex(id) = '{second.id.hex().upper()}'"  # noqa: S608
            )
    first = told(lines_of(fleet, box))[0]
    # A bottle that counts for nothing moves nothing; what was drawn for another reason answers
    # nothing, but the next is counted from it, as in the due list.
    is_void = change.get("state") is SampleState.VOID
    assert first == ((90, Outcome.MISSED) if is_void else (180, Outcome.ON_TIME))


def test_that_a_rejected_sample_was_taken_but_is_not_usable(fleet: Fleet) -> None:
    box = calendar_box(fleet, [0, 90])
    with fleet.place.store.transaction(who="planner", moment=NOW) as desk:
        second = desk.sampling.samples_of(box)[1]
        desk.sampling.update_samples([replace(second, trust=Trust.REJECTED)])
    assert told(lines_of(fleet, box))[0] == (90, Outcome.UNUSABLE)


@pytest.mark.parametrize("by", list(GroupBy))
def test_that_the_groups_of_any_kind_sum_to_the_whole(fleet: Fleet, by: GroupBy) -> None:
    events = event_columns(fleet.place, today=LAST_DAY)
    table = compliance_table(events, fleet.place.catalogue, by=by, **EVER)
    assert table.total.due > 0
    for name in ("due", "excused", "early", "on_time", "late", "missed", "still_open", "usable"):
        assert sum(getattr(one.measures, name) for one in table.lines) == getattr(table.total, name)
    assert sum(one.measures.early_samples.of for one in table.lines) == (
        table.total.early_samples.of
    )


def test_that_every_due_event_is_one_line_with_one_outcome(fleet: Fleet) -> None:
    events = event_columns(fleet.place, today=LAST_DAY)
    lines = event_lines(events, **EVER)
    assert len(lines) == len(events)
    table = compliance_table(events, fleet.place.catalogue, by=GroupBy.SITE, **EVER)
    whole = table.total
    counted = (
        whole.excused + whole.early + whole.on_time + whole.late + whole.missed + whole.still_open
    )
    assert counted == whole.due == len(lines)
    assert len({(one.compartment_id, one.due_on, one.due_hours) for one in lines}) == len(lines)


def test_that_a_fleet_without_samples_has_no_events(fleet: Fleet) -> None:
    with fleet.place.store.transaction(who="planner", moment=NOW) as desk:
        desk.session.connection.exec_driver_sql("UPDATE sample SET reason = 'special'")
    events = event_columns(fleet.place, today=LAST_DAY)
    assert len(events) == 0
    table = compliance_table(events, fleet.place.catalogue, by=GroupBy.MONTH, **EVER)
    assert table.lines == ()
    assert "no sample was owed" in table.sentence
