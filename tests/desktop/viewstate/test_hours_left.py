"""Hours left in words: a band with days, no limit in sight, or not enough to say."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from fluiddesk.desktop.viewstate.hours_left import (
    Band,
    base_number_line,
    clock_rows,
    due_mark,
    no_clock_lines,
    score_lines,
    strip_words,
)
from fluiddesk.services.compartment_history.forecast_facts import ForecastScore, HoursLeft
from fluiddesk.services.compartment_history.sentences import chance_text
from tests.desktop.makers_history import TODAY, make_history
from tests.desktop.makers_wear import (
    make_full_history,
    make_hours_left,
    no_limit_in_sight,
    not_enough,
)


def test_that_the_strip_tells_band_limit_days_and_chance() -> None:
    words = strip_words(make_full_history(), today=TODAY)
    assert words.answer == "118 to 386 h"
    assert words.limits[0] == "Act, Iron 90 mg/kg"
    assert words.limits[-1] == "Act, Iron 90"
    assert words.dates[1] == TODAY + timedelta(days=23)
    assert words.chance == "14 %"
    assert "2026-12-13" in words.spoken


def test_that_no_limit_in_sight_is_an_answer_with_its_reason() -> None:
    history = replace(make_full_history(), hours_left=no_limit_in_sight())
    words = strip_words(history, today=TODAY)
    assert words.answer == "No limit in sight"
    assert words.why == "No analyte rises for certain."
    assert words.band is None


def test_that_not_enough_to_say_tells_what_is_missing() -> None:
    history = replace(make_full_history(), hours_left=not_enough())
    words = strip_words(history, today=TODAY)
    assert words.answer == "Not enough to say"
    assert words.why.startswith("One believed sample since the change.")
    assert "Missing: a second sample of this fill" in words.why


def test_that_a_box_past_its_last_limit_has_none_left() -> None:
    gone = replace(make_hours_left(), p10=0.0, p50=0.0, p90=0.0, why="Past Urgent already.")
    words = strip_words(replace(make_full_history(), hours_left=gone), today=TODAY)
    assert words.answer == "None left"


def test_that_an_open_end_is_told_as_more_than() -> None:
    assert Band(low=190.0, middle=420.0, high=None).words == "more than 190 h"


def test_that_the_axis_holds_the_band_and_the_next_sample() -> None:
    words = strip_words(make_full_history(), today=TODAY)
    assert words.due is not None
    assert words.span > 386
    assert words.due.hours == 132.0


def test_that_a_sample_due_by_the_calendar_stands_at_its_days_hours() -> None:
    history = make_full_history()
    due = replace(history.due, by_hours=False, due_on=TODAY + timedelta(days=10), window=None)
    mark = due_mark(replace(history, due=due), today=TODAY)
    assert mark is not None
    assert mark.hours == pytest.approx(95.0)


def test_that_a_box_that_owes_no_sample_has_no_mark() -> None:
    assert due_mark(make_history(samples=0), today=TODAY) is None


def test_that_analytes_with_a_band_have_a_row_and_the_others_say_why_together() -> None:
    left = make_hours_left()
    rows = clock_rows(left)
    assert [row.title for row in rows] == ["Iron", "Silicon"]
    assert rows[0].figures == ("118", "214", "386")
    assert rows[1].figures[2] == "\u2013"
    copper = next(one for one in left.clocks if one.analyte.code == "copper")
    tin = replace(copper, analyte=replace(copper.analyte, name="Tin"))
    lines = no_clock_lines(replace(left, clocks=(*left.clocks, tin)))
    assert lines[0] == "No limit in sight: its rate may as well be zero: Copper, Tin."
    assert lines[1].endswith("two are needed: Fuel dilution.")


def test_that_the_base_number_clock_is_held_against_a_straight_line() -> None:
    line = base_number_line(make_full_history())
    assert "477 h to 4" in line
    assert "straight line would say 425 h" in line
    assert base_number_line(make_history()) == ""


def test_that_a_fluid_carried_by_top_ups_is_told_so() -> None:
    history = make_full_history()
    number = history.hours_left.base_number
    assert number is not None
    carried = replace(number, hours_left=float("inf"), ends_on=None)
    left = replace(history.hours_left, base_number=carried)
    assert "does not reach 4" in base_number_line(replace(history, hours_left=left))


def test_that_past_forecasts_are_told_with_their_counts() -> None:
    lines = score_lines(make_hours_left().score)
    assert "81 %" in lines[0]
    assert "46 marked" in lines[1]
    assert "14 h earlier" in lines[2]
    assert "No forecast" in score_lines(None)[0]
    assert score_lines(ForecastScore(scope="iron of engines", sentence="None yet.")) == (
        "None yet.",
    )


@pytest.mark.parametrize(
    ("chance", "text"),
    [(None, ""), (0.0, "less than 1 %"), (0.5, "50 %"), (0.999, "more than 99 %")],
)
def test_that_a_chance_has_no_false_precision(chance: float | None, text: str) -> None:
    assert chance_text(chance) == text


def test_that_a_box_without_anything_said_is_not_enough() -> None:
    words = strip_words(replace(make_history(), hours_left=HoursLeft()), today=date(2026, 11, 20))
    assert words.answer == "Not enough to say"


def test_that_a_band_with_its_middle_close_by_is_held_whole() -> None:
    near = replace(make_hours_left(), p10=0.0, p50=11.0, p90=517.0)
    words = strip_words(replace(make_full_history(), hours_left=near), today=TODAY)
    assert words.span > 517
    far = replace(make_hours_left(), p10=10.0, p50=100.0, p90=9000.0)
    words = strip_words(replace(make_full_history(), hours_left=far), today=TODAY)
    assert words.span < 2000
