"""The past is judged by the interval that held then, however it was changed since."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.sampling.outcome import Outcome
from fluiddesk.services.due_counting.intervals_held import Held, held_columns, interval_changes
from fluiddesk.services.fleet_condition import fleet_condition
from fluiddesk.services.interval_compliance.facts import EventLine
from fluiddesk.services.register.boxes import save_compartment
from fluiddesk.services.register.history import undo_last_change
from fluiddesk.services.register_files.take_in import import_register_files
from fluiddesk.storage import RecordKind
from tests.intervals import interval_rule, put_in_force
from tests.services.interval_compliance.test_fixed_grid import draw, lines_of
from tests.services.register.desk import MOMENT, START, Register

NOW = START + timedelta(400)


def own_days(register: Register, days: int | None, *, on: date) -> None:
    """Give the engine an interval in days by its form."""
    save_compartment(
        register.place,
        replace(register.box(), interval_hours=None, interval_days=days),
        today=on,
        moment=datetime(on.year, on.month, on.day, 9, tzinfo=UTC),
    )


def told(lines: list[EventLine]) -> list[tuple[int, Outcome, str]]:
    return [((one.due_on - START).days, one.outcome, one.interval) for one in lines]


def changes(register: Register) -> list[tuple[object, ...]]:
    with register.place.store.reading() as desk:
        rows = desk.register.all(RecordKind.INTERVAL_CHANGE)
    return [
        ((row["valid_from"] - START).days, row["old_days"], row["new_days"], row["why"],
         row["approved_by"])
        for row in rows
    ]  # fmt: skip


MISSED_THEN = [
    (90, Outcome.MISSED, "90 days"),
    (180, Outcome.ON_TIME, "90 days"),
]


def sampled(register: Register) -> CompartmentId:
    """An engine on 90 days, sampled on days 0, 180 and 365: one event was missed."""
    own_days(register, 90, on=START - timedelta(200))
    return draw(register, 0, 180, 365)


def test_that_lengthening_an_interval_by_form_leaves_what_was_missed(register: Register) -> None:
    box = sampled(register)
    own_days(register, 180, on=START + timedelta(200))
    assert told(lines_of(register, box, NOW)) == [
        *MISSED_THEN,
        (360, Outcome.ON_TIME, "180 days"),
        (545, Outcome.OPEN, "180 days"),
    ]
    assert changes(register)[-1] == (200, 90, 180, "", "Kim")


def test_that_without_a_known_change_the_present_interval_holds_for_all_time(
    register: Register,
) -> None:
    box = sampled(register)
    with register.place.store.transaction(who="Kim", moment=MOMENT) as desk:
        owner = desk.fleet.compartment(box)
        desk.fleet.edit_compartment(replace(owner, interval_days=180), version=None)
        desk.session.connection.exec_driver_sql("DELETE FROM interval_change")
    assert told(lines_of(register, box, NOW))[0] == (180, Outcome.ON_TIME, "180 days")


def test_that_a_change_by_file_holds_from_the_day_of_its_import(
    register: Register, tmp_path: Path
) -> None:
    box = sampled(register)
    file = tmp_path / "compartments.csv"
    file.write_text("site,machine,compartment,interval_days\nNorth pit,EX-01,engine,180\n")
    day = START + timedelta(200)
    moment = datetime(day.year, day.month, day.day, 9, tzinfo=UTC)
    import_register_files(register.place, [file], today=day, moment=moment)
    assert changes(register)[-1] == (200, 90, 180, "", "Kim")
    assert told(lines_of(register, box, NOW))[:3] == [
        *MISSED_THEN, (360, Outcome.ON_TIME, "180 days"),
    ]  # fmt: skip
    # A file that changes something else notes nothing.
    before = changes(register)
    file.write_text("site,machine,compartment,capacity_l\nNorth pit,EX-01,engine,41\n")
    import_register_files(register.place, [file], today=day, moment=moment)
    assert changes(register) == before


def test_that_a_change_taken_back_is_noted_and_taken_back_in_the_past_too(
    register: Register,
) -> None:
    box = sampled(register)
    whole = told(lines_of(register, box, NOW))
    day = START + timedelta(200)
    own_days(register, 180, on=day)
    undo_last_change(
        register.place, "compartment", box, site=register.site, today=day, moment=MOMENT
    )
    assert changes(register)[-1] == (200, 180, 90, "a change was taken back", "Kim")
    assert told(lines_of(register, box, NOW)) == whole
    assert register.check() == []


def test_that_a_change_taken_back_later_held_in_between(register: Register) -> None:
    box = sampled(register)
    own_days(register, 180, on=START + timedelta(200))
    undo_last_change(
        register.place, "compartment", box, site=register.site,
        today=START + timedelta(370), moment=MOMENT,
    )  # fmt: skip
    lines = told(lines_of(register, box, NOW))
    assert lines == [
        *MISSED_THEN, (360, Outcome.ON_TIME, "180 days"), (455, Outcome.OPEN, "90 days"),
    ]  # fmt: skip


def test_that_the_rules_of_a_set_hold_from_its_day(register: Register) -> None:
    box = sampled(register)
    put_in_force(
        register.place,
        interval_rule(days=180, convention="grid", share=0.05),
        since=START + timedelta(200),
    )
    assert told(lines_of(register, box, NOW)) == [
        *MISSED_THEN,
        (360, Outcome.ON_TIME, "180 days, fixed grid"),
        (540, Outcome.OPEN, "180 days, fixed grid"),
    ]
    assert lines_of(register, box, NOW)[-1].window == (
        START + timedelta(531), START + timedelta(549),
    )  # fmt: skip


def test_that_an_interval_taken_away_ends_what_is_owed(register: Register) -> None:
    box = sampled(register)
    own_days(register, None, on=START + timedelta(200))
    assert told(lines_of(register, box, NOW)) == MISSED_THEN


@pytest.mark.parametrize("by_form", [True, False])
def test_that_rules_go_before_the_register_and_changes_to_come_do_not_count(
    register: Register,
    by_form: bool,  # noqa: FBT001
) -> None:
    sampled(register)
    if by_form:
        own_days(register, 30, on=START + timedelta(100))
        own_days(register, 45, on=NOW + timedelta(1))
    put_in_force(register.place, interval_rule(hours=50.0), since=START + timedelta(150))
    put_in_force(register.place, interval_rule(days=7), since=NOW + timedelta(1))
    row = next(
        one for one in fleet_condition(register.place, today=NOW).registered if one.kind == "engine"
    )
    with register.place.store.reading() as desk:
        held = held_columns([row], desk.intervals.sets(), interval_changes(desk), today=NOW)
    own = [Held(None, 90), Held(None, 30)] if by_form else [Held(None, 90)]
    since = [
        0,
        START.toordinal() - 200,
        *([START.toordinal() + 100] if by_form else []),
        START.toordinal() + 150,
    ]
    assert held.since.tolist() == since
    assert [held.words(place + 1) for place in range(len(own) + 1)] == [
        *(f"{one.days} days" for one in own), "50 h",
    ]  # fmt: skip
