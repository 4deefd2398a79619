"""What a change does to the chance, in one sentence."""

from dataclasses import replace

import pytest

from fluiddesk.services.catch_chances.asking import chances
from fluiddesk.services.catch_chances.facts import KnownFrom
from fluiddesk.services.catch_chances.read import chance_columns
from fluiddesk.services.catch_chances.telling import (
    draft_told,
    intervals_told,
    lab_record,
    lab_told,
)
from fluiddesk.services.register.desk_lists import save_laboratory
from fluiddesk.services.register.facts import LaboratoryFacts
from fluiddesk.storage import RecordKind
from tests.fleets import LAST_DAY, NOW, Fleet, the_catalogue
from tests.services.catch_chances.makers import make_columns, make_row, make_rule


def test_that_other_intervals_are_told_with_the_bottles_they_take() -> None:
    """D = 200 h, L = 100 h: T from 250 h to 125 h lifts 40 % to 80 %; 29 bottles become 58."""
    told = intervals_told(make_columns(), the_catalogue(), [make_rule("engine")])
    assert told == (
        "Chance to catch a fault: Engine of Quarry 40 % \N{RIGHTWARDS ARROW} 80 %. Bottles a year: "
        "29 \N{RIGHTWARDS ARROW} 58."
    )


def test_that_kinds_of_several_sites_are_told_without_a_site_most_boxes_first() -> None:
    rows = (make_row(), make_row(2, site="Pit"), make_row(3, kind="hydraulic"))
    told = intervals_told(make_columns(rows), the_catalogue(), [make_rule()])
    assert told.startswith("Chance to catch a fault: Engine 40 %")
    assert "; Hydraulic system of Quarry 40 %" in told


def test_that_no_more_than_three_kinds_are_named() -> None:
    kinds = ("engine", "hydraulic", "final_drive", "swing_drive", "transmission")
    rows = [make_row(n, kind=kind) for n, kind in enumerate(kinds)]
    told = intervals_told(make_columns(rows), the_catalogue(), [make_rule()])
    assert "; and 2 more kinds." in told
    four = intervals_told(make_columns(rows[:4]), the_catalogue(), [make_rule()])
    assert "; and one more kind." in four


def test_that_rules_that_change_no_interval_say_nothing() -> None:
    columns = make_columns(rules=(make_rule("engine"),))
    assert intervals_told(columns, the_catalogue(), columns.rules) == ""
    same = replace(make_rule("engine"), note="read again")
    assert intervals_told(columns, the_catalogue(), [same]) == ""
    assert intervals_told(columns, the_catalogue(), [*columns.rules, make_rule("hydraulic")]) == ""


def test_that_a_rule_taken_out_brings_back_the_registers_interval() -> None:
    told = intervals_told(make_columns(rules=(make_rule("engine"),)), the_catalogue(), ())
    assert "80 % \N{RIGHTWARDS ARROW} 40 %" in told


def test_that_an_interval_that_none_had_is_told_from_none() -> None:
    columns = make_columns((make_row(interval_hours=None),))
    told = intervals_told(columns, the_catalogue(), [make_rule("engine")])
    assert "Engine of Quarry none \N{RIGHTWARDS ARROW} 80 %" in told


def test_that_a_draft_like_what_holds_reads_no_fleet(fleet: Fleet) -> None:
    assert draft_told(fleet.place, None, (), today=LAST_DAY) == (None, "")
    columns, told = draft_told(fleet.place, None, (make_rule("engine"),), today=LAST_DAY)
    assert columns is not None
    assert told.startswith("Chance to catch a fault: Engine")
    again, told = draft_told(fleet.place, columns, (), today=LAST_DAY)
    assert again is columns
    assert told == ""


def only_lab(fleet: Fleet) -> str:
    columns = chance_columns(fleet.place, today=LAST_DAY)
    return columns.lanes_used[0].laboratory


def with_days(fleet: Fleet, code: str, days: int | None) -> None:
    before = lab_record(fleet.place, code)
    with fleet.place.store.reading() as desk:
        [row] = [one for one in desk.register.all(RecordKind.LABORATORY) if one["code"] == code]
    facts = LaboratoryFacts(
        code=code, name=before.name, lane_days=days, turnaround_days=4, version=row["version"]
    )
    save_laboratory(fleet.place, facts, today=LAST_DAY, moment=NOW)


def test_that_a_measured_lane_is_said_to_stand_whatever_the_record_says(fleet: Fleet) -> None:
    code = only_lab(fleet)
    before = lab_record(fleet.place, code)
    with_days(fleet, code, 20)
    told = lab_told(fleet.place, before=before, after=lab_record(fleet.place, code), today=LAST_DAY)
    assert told.startswith("The chance to catch a fault stays as it is: the days to ")
    assert "are measured" in told


def test_that_days_on_the_record_are_told_where_nothing_is_measured(
    fleet: Fleet, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fluiddesk.services.catch_chances.lanes.least_bottles", lambda: 10**9)
    code = only_lab(fleet)
    assert {one.known_from for one in chance_columns(fleet.place, today=LAST_DAY).lanes_used} == {
        KnownFrom.ASSUMED
    }
    before = lab_record(fleet.place, code)
    was = chances(chance_columns(fleet.place, today=LAST_DAY)).chance
    with_days(fleet, code, 30)
    after = lab_record(fleet.place, code)
    told = lab_told(fleet.place, before=before, after=after, today=LAST_DAY)
    assert told.startswith("Chance to catch a fault: ")
    assert "Bottles" not in told
    now = chances(chance_columns(fleet.place, today=LAST_DAY)).chance
    assert not (now > was + 1e-9).any()
    assert (now < was).any()
    back = lab_told(fleet.place, before=after, after=after, today=LAST_DAY)
    assert back == ""


def test_that_a_laboratory_nobody_sends_to_changes_nothing(fleet: Fleet) -> None:
    before = lab_record(fleet.place, "unheard")
    assert before.answer_days is None
    after = replace(before, lane_days=3)
    assert lab_told(fleet.place, before=before, after=after, today=LAST_DAY) == ""
