"""Chances as they are and as asked, by hand.

The table of (D - L) / T is a worked example of our own calculation; that faster post is worth as
much as shorter intervals is common practice, no source.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.errors import UsageError
from fluiddesk.services.catch_chances.asking import (
    chances,
    compared,
    figures,
    group_lines,
    group_names,
    lowest_first,
    whole_sentence,
)
from fluiddesk.services.catch_chances.facts import GroupBy, KnownFrom, LeftOut, Wish
from fluiddesk.services.fleet_condition import BoxRow
from tests.fleets import the_catalogue
from tests.services.catch_chances.makers import make_columns, make_lane, make_row


@pytest.mark.parametrize(
    ("shows", "every", "answer", "expected"),
    [
        (200, 250, 40, 0.64),
        (200, 250, 100, 0.40),
        (200, 250, 200, 0.0),
        (300, 250, 40, 1.0),
        (300, 250, 100, 0.80),
        (300, 250, 200, 0.40),
        (400, 500, 40, 0.72),
        (400, 500, 100, 0.60),
        (400, 500, 200, 0.40),
        (600, 500, 40, 1.0),
        (600, 500, 100, 1.0),
        (600, 500, 200, 0.80),
    ],
)
def test_that_a_box_has_the_chance_of_the_worked_table(
    shows: float, every: float, answer: float, expected: float
) -> None:
    """Own calculation; at 20 h a day, 100 h to the answer are 5 days."""
    columns = make_columns(
        (make_row(interval_hours=every),), shows=shows, lanes=(make_lane(days=answer / 20),)
    )
    found = chances(columns)
    assert found.chance[0] == pytest.approx(expected)
    assert found.answer_hours[0] == pytest.approx(answer)


def test_that_an_overlooked_sample_leaves_the_next_one() -> None:
    """D - L = 500 h holds two samples of T = 250 h: 1 - 0.3 x 0.3."""
    columns = make_columns(shows=600.0, sensitivity=0.7)
    assert chances(columns).chance[0] == pytest.approx(0.91)


def test_that_the_calendar_counts_where_it_runs_out_first() -> None:
    """60 days at 2 h a day are 120 h; the answer's 5 days are 10 h: (200 - 10) / 120 is sure."""
    row = make_row(interval_days=60, hours_per_day=2.0)
    found = chances(make_columns((row,), shows=70.0))
    assert found.interval_hours[0] == pytest.approx(120.0)
    assert found.chance[0] == pytest.approx(0.5)
    assert found.bottles[0] == pytest.approx(365.25 / 60)


def test_that_hours_asked_about_leave_the_calendar_where_it_is() -> None:
    row = make_row(interval_days=10)  # 200 h at 20 h a day
    found = chances(make_columns((row,)), Wish(interval_hours=400.0))
    assert found.interval_hours[0] == pytest.approx(200.0)
    shorter = chances(make_columns((row,)), Wish(interval_hours=100.0))
    assert shorter.interval_hours[0] == pytest.approx(100.0)


def test_that_a_share_of_the_interval_shortens_meter_and_calendar() -> None:
    rows = (make_row(), make_row(2, interval_hours=None, interval_days=10))
    found = chances(make_columns(rows), Wish(interval_share=0.5))
    assert found.interval_hours.tolist() == pytest.approx([125.0, 100.0])


def test_that_faster_post_never_takes_less_than_no_time() -> None:
    found = chances(make_columns(), Wish(days_sooner=9.0))
    assert found.answer_hours[0] == 0.0
    assert found.chance[0] == pytest.approx(200 / 250)


def test_that_days_asked_about_hold_on_every_lane() -> None:
    columns = make_columns(
        (make_row(), make_row(2)), lanes=(make_lane(), make_lane(days=9.0)), lane=(0, 1)
    )
    found = chances(columns, Wish(answer_days=2.0))
    assert found.answer_hours.tolist() == [40.0, 40.0]


@pytest.mark.parametrize(
    ("row", "why"),
    [
        (make_row(machine_state="standby"), LeftOut.EXCUSED),
        (make_row(hours_per_day=0.0), LeftOut.STANDS),
        (make_row(interval_hours=None), LeftOut.NO_INTERVAL),
    ],
)
def test_that_a_box_without_a_chance_says_why_and_counts_in_no_mean(
    row: BoxRow, why: LeftOut
) -> None:
    columns = make_columns((row, make_row(2)))
    found = chances(columns)
    assert columns.left_out.tolist() == [why, LeftOut.NOT]
    assert np.isnan(found.chance[0])
    assert LeftOut(why).words
    [line] = group_lines(columns, ["all", "all"], now=found)
    assert (line.boxes, line.left_out) == (1, 1)
    assert line.now.mean == pytest.approx(0.4)
    assert "1 left out" in whole_sentence(columns, found)


def test_that_a_group_tells_mean_lowest_tenth_and_boxes_below_half() -> None:
    """Chances 0.40, 0.64, 0.80: mean 0.6133, a tenth of the way 0.40 + 0.2 x 0.24 = 0.448."""
    lanes = (make_lane(), make_lane(days=2.0), make_lane(days=0.0))
    columns = make_columns([make_row(n) for n in range(3)], lanes=lanes, lane=(0, 1, 2))
    found = figures(chances(columns), np.ones(3, dtype=bool))
    assert found.mean == pytest.approx(1.84 / 3)
    assert found.low_tenth == pytest.approx(0.448)
    assert found.low_boxes == 1
    assert found.bottles == pytest.approx(3 * 20 * 365.25 / 250)


def test_that_groups_come_lowest_first_with_what_is_asked_beside_them() -> None:
    rows = (make_row(site="B"), make_row(2, site="A", interval_hours=500.0), make_row(3, site="C",
            interval_hours=None))  # fmt: skip
    columns = make_columns(rows)
    names = group_names(columns, the_catalogue(), GroupBy.SITE)
    now, then = chances(columns), chances(columns, Wish(days_sooner=3.0))
    lines = group_lines(columns, names, now=now, then=then)
    assert [one.group for one in lines] == ["A", "B", "C"]
    assert lines[1].now.mean == pytest.approx(0.4)
    assert lines[1].then is not None
    assert lines[1].then.mean == pytest.approx(0.64)
    assert lines[2].now.mean is None
    assert lowest_first(now, np.ones(3, dtype=bool)).tolist() == [1, 0, 2]


@pytest.mark.parametrize(
    ("by", "expected"),
    [
        (GroupBy.SITE, "Quarry"),
        (GroupBy.LANE, "Quarry, Lab"),
        (GroupBy.MACHINE_KIND, "Excavator"),
        (GroupBy.BOX_KIND, "Engine"),
    ],
)
def test_that_boxes_are_told_together_by_what_is_wanted(by: GroupBy, expected: str) -> None:
    assert group_names(make_columns(), the_catalogue(), by) == [expected]


def test_that_lanes_known_differently_are_mixed() -> None:
    lanes = (make_lane(), make_lane(known_from=KnownFrom.RECORD))
    columns = make_columns((make_row(), make_row(2)), lanes=lanes, lane=(0, 1))
    [line] = group_lines(columns, ["x", "x"], now=chances(columns))
    assert line.known_from == "mixed"
    assert len(line.about) == 2
    assert columns.unmeasured == (lanes[1],)


def test_that_faster_post_is_held_against_half_the_interval() -> None:
    """D = 200, T = 250, L = 100 at 20 h a day: 0.40 now, 0.64 three days sooner, 0.80 by half.

    0.64 by the interval alone asks for T = 156.25 h: 46.752 bottles a year against 29.22.
    """
    found = compared(make_columns())
    assert found.now == pytest.approx(0.4)
    assert found.sooner == pytest.approx(0.64)
    assert found.halved == pytest.approx(0.8)
    assert found.bottles_now == pytest.approx(29.22)
    assert found.bottles_halved == pytest.approx(58.44)
    assert found.bottles_sooner == pytest.approx(46.752, rel=1e-3)
    assert found.sentence == (
        "Now 40 %. Answers 3 days sooner: 64 %, no more bottles (shorter intervals would take 18 "
        "more a year for that). Half the interval: 80 %, 29 more bottles a year."
    )


def test_that_no_interval_makes_up_for_an_answer_that_comes_too_late() -> None:
    """L = 240 h of D = 200 h: no sample helps, three days off make (200 - 180) / 250."""
    found = compared(make_columns(lanes=(make_lane(days=12.0),)))
    assert (found.now, found.halved, found.bottles_sooner) == (0.0, 0.0, None)
    assert found.sooner == pytest.approx(0.08)
    assert "shorter intervals" not in found.sentence


def test_that_an_empty_fleet_has_nothing_to_tell() -> None:
    columns = make_columns(())
    assert compared(columns).sentence == ""
    assert group_lines(columns, [], now=chances(columns)) == ()
    assert whole_sentence(columns, chances(columns)).startswith("No box has an interval")


@pytest.mark.parametrize(
    "wrong",
    [
        {"interval_share": 0.0},
        {"interval_hours": 0.0},
        {"interval_hours": float("nan")},
        {"answer_days": -1.0},
        {"days_sooner": -1.0},
        {"days_sooner": 400.0},
    ],
)
def test_that_what_cannot_be_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(UsageError):
        Wish(**wrong)


@given(
    share=st.floats(0.05, 1.0),
    sooner=st.floats(0.0, 10.0),
    shows=st.floats(0.0, 1000.0),
    sees=st.floats(0.1, 1.0),
)
def test_that_shorter_intervals_and_sooner_answers_never_lower_the_chance(
    share: float, sooner: float, shows: float, sees: float
) -> None:
    columns = make_columns(shows=shows, sensitivity=sees)
    now = chances(columns).chance[0]
    for wish in (Wish(interval_share=share), Wish(days_sooner=sooner)):
        then = chances(columns, wish).chance[0]
        assert now - 1e-9 <= then <= 1.0
