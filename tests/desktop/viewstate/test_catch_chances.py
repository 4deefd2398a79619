"""The chance to catch a fault as lines of tables."""

import pytest

from fluiddesk.desktop.viewstate.catch_chances import (
    AnswerWish,
    BoxColumn,
    ChanceBoxes,
    ChanceShown,
    IntervalWish,
    chance_shown,
    group_cells,
    wish_of,
)
from fluiddesk.domain.errors import UsageError
from fluiddesk.services.catch_chances.facts import AS_NOW, GroupBy, KnownFrom, Wish
from tests.fleets import the_catalogue
from tests.services.catch_chances.makers import make_columns, make_lane, make_row

ROWS = (
    make_row(9),
    make_row(10, interval_hours=500.0, interval_days=15, site="Pit"),
    make_row(11, interval_hours=None),
)


def shown(wish: Wish = AS_NOW, by: GroupBy = GroupBy.SITE) -> ChanceShown:
    return chance_shown(make_columns(ROWS), the_catalogue(), by, wish)


@pytest.mark.parametrize(
    ("interval", "answer", "expected"),
    [
        (IntervalWish.AS_NOW, AnswerWish.AS_NOW, AS_NOW),
        (IntervalWish.HALF, AnswerWish.AS_NOW, Wish(interval_share=0.5)),
        (IntervalWish.TWICE, AnswerWish.SOONER, Wish(interval_share=2.0, days_sooner=3.0)),
        (IntervalWish.HOURS, AnswerWish.DAYS, Wish(interval_hours=125.0, answer_days=3.0)),
    ],
)
def test_that_choices_and_figures_make_a_wish(
    interval: IntervalWish, answer: AnswerWish, expected: Wish
) -> None:
    assert wish_of(interval, " 125 ", answer, "3") == expected


def test_that_a_figure_not_typed_yet_asks_for_nothing() -> None:
    assert wish_of(IntervalWish.HOURS, "", AnswerWish.SOONER, " ") == AS_NOW
    assert wish_of(IntervalWish.HOURS, "", AnswerWish.DAYS, "") == AS_NOW


@pytest.mark.parametrize("wrong", ["soon", "-3", "0"])
def test_that_a_figure_that_cannot_be_is_told(wrong: str) -> None:
    with pytest.raises(UsageError):
        wish_of(IntervalWish.HOURS, wrong, AnswerWish.AS_NOW, "")


def test_that_a_figure_of_a_choice_not_made_does_not_count() -> None:
    assert wish_of(IntervalWish.HALF, "soon", AnswerWish.AS_NOW, "later").interval_share == 0.5


def test_that_all_boxes_come_first_then_groups_lowest_first() -> None:
    """EX-9: (200 - 100) / 250; EX-10: 15 days are 300 h: 100 / 300."""
    cells = [group_cells(line) for line in shown().lines]
    assert cells == [
        ("All", "2", "5", "measured", "37", "34", "2", "54", "", "", ""),
        ("Pit", "1", "5", "measured", "33", "33", "1", "24", "", "", ""),
        ("Quarry", "1", "5", "measured", "40", "40", "1", "29", "", "", ""),
    ]


def test_that_what_is_asked_stands_beside_what_is() -> None:
    asked = shown(Wish(interval_share=0.5))
    assert group_cells(asked.lines[0])[-3:] == ("73", "0", "107")
    assert "As asked: 73 % with 107 bottles a year." in asked.sentence
    assert "As asked" not in shown().sentence


def test_that_another_wish_keeps_what_stays() -> None:
    first = shown()
    asked = Wish(interval_share=0.5)
    again = chance_shown(first.columns, the_catalogue(), GroupBy.SITE, asked, before=first)
    assert again.now is first.now
    assert again.lines == shown(asked).lines
    other = chance_shown(first.columns, the_catalogue(), GroupBy.LANE, asked, before=first)
    assert [line.group for line in other.lines] == ["All", "Quarry, Lab"]


def test_that_boxes_come_lowest_first_and_those_without_a_chance_last() -> None:
    boxes = ChanceBoxes(shown(), the_catalogue())
    machines = [boxes.cell(row, BoxColumn.MACHINE) for row in range(len(boxes))]
    assert machines == ["EX-10", "EX-9", "EX-11"]
    assert [boxes.cell(0, column) for column in BoxColumn] == [
        *("Engine", "EX-10", "Pit", "300", "15 days", "20.0", "100", "200", "100", "33"),
        *("", "24.4", ""),
    ]
    assert boxes.cell(1, BoxColumn.SET_BY) == "meter"
    assert boxes.cell(2, BoxColumn.SET_BY) == "no interval"
    assert boxes.cell(2, BoxColumn.CHANCE) == "-"
    assert boxes.tip(2, BoxColumn.CHANCE) == "No chance is told: no interval."
    assert boxes.tip(0, BoxColumn.ANSWER) == "Quarry, Lab: measured by hand"
    assert boxes.tip(0, BoxColumn.BOX) == "Engine"


def test_that_boxes_are_narrowed_to_a_group_and_sorted_by_any_column() -> None:
    boxes = ChanceBoxes(shown(Wish(days_sooner=1.0)), the_catalogue(), group="Quarry")
    assert len(boxes) == 2
    assert boxes.box(0) == ROWS[0].compartment_id
    assert boxes.box(2) is None
    for column in BoxColumn:
        assert len(boxes.sorted_by((column, False))) == 2
    turned = boxes.sorted_by((BoxColumn.MACHINE, True))
    assert turned.cell(0, BoxColumn.MACHINE) == "EX-11"
    assert boxes.cell(0, BoxColumn.THEN) == "48"


def test_that_a_pace_taken_from_the_kind_says_so() -> None:
    columns = make_columns(ROWS)
    columns.is_pace_assumed[0] = True
    told = chance_shown(columns, the_catalogue(), GroupBy.LANE)
    boxes = ChanceBoxes(told, the_catalogue())
    assert "Too few meter readings" in boxes.tip(1, BoxColumn.PACE)
    assert boxes.tip(0, BoxColumn.PACE) == "20.0"


def test_that_lanes_not_measured_are_noted() -> None:
    lane = make_lane(known_from=KnownFrom.RECORD, about="by the record.")
    told = chance_shown(make_columns(ROWS, lanes=(lane,)), the_catalogue(), GroupBy.SITE)
    assert told.notes("") == ("Quarry, Lab: by the record.",)
    assert told.notes("Pit") == ("Quarry, Lab: by the record.",)
    assert shown().notes("") == ()
    assert shown().notes("unknown") == ()


def test_that_no_machines_make_one_empty_line() -> None:
    told = chance_shown(make_columns(()), the_catalogue(), GroupBy.SITE)
    assert [group_cells(line)[:5] for line in told.lines] == [("All", "0", "-", "", "-")]
    assert told.sentence.startswith("No box has an interval")
