"""What a row holds besides its bounds, typed and checked."""

from dataclasses import replace
from datetime import date

import pytest

from fluiddesk.desktop.viewstate.limit_draft import DraftRow
from fluiddesk.desktop.viewstate.limit_row_fields import (
    interval_sentence,
    limit_fields,
    row_problems,
)
from fluiddesk.desktop.viewstate.limit_writing import written, written_interval
from fluiddesk.domain.limits.limit_set import LimitKind
from tests.desktop.makers_limits import CATALOGUE, INTERVALS, TODAY
from tests.desktop.makers_results import make_limit


def drawn(**changed) -> DraftRow:
    limit = make_limit(**changed)
    return DraftRow(key=0, rule=limit, was=limit, last_sound=limit)


@pytest.mark.parametrize(
    ("name", "text", "field", "value"),
    [
        ("boundary", "beyond", "boundary", "beyond"),
        ("companion", "lead", "companion", "lead"),
        ("least_change", "2,5", "least_change", 2.5),
        ("least_change", "", "least_change", None),
        ("group", " wear ", "group", "wear"),
        ("act_needs", "2", "act_needs", 2),
        ("urgent_needs", "", "urgent_needs", 1),
        ("off_until", "2027-03-31", "off_until", date(2027, 3, 31)),
        ("note", "why", "note", "why"),
    ],
)
def test_that_each_field_is_written_by_the_person_who_changed_it(name, text, field, value) -> None:
    after = written(drawn(act_needs=3, urgent_needs=3), name, text, who="Kim")
    assert getattr(after.rule, field) == value
    assert not after.told
    assert after.rule.set_by in ("Kim", drawn().rule.set_by)


def test_that_the_fluid_class_is_that_of_the_scope() -> None:
    after = written(drawn(), "fluid_class", "hydraulic_zinc", who="Kim")
    assert after.rule.scope.fluid_class == "hydraulic_zinc"


@pytest.mark.parametrize(
    ("name", "text", "told"),
    [
        ("act_needs", "1.5", "Analytes for Act: 1.5 is no whole number from 1. Give 1"),
        ("least_change", "-1", "Least change: -1 is below zero. Give 0 or more."),
        ("off_until", "spring", 'Off until: "spring" is no day. Write year-month-day'),
    ],
)
def test_that_what_cannot_be_read_is_kept_with_value_place_and_remedy(name, text, told) -> None:
    after = written(drawn(), name, text, who="Kim")
    assert told in row_problems(after, CATALOGUE, today=TODAY)[0]
    assert after.typed[name] == text
    assert after.counts == drawn().rule


def test_that_fields_are_open_where_the_kind_of_limit_uses_them() -> None:
    def open_fields(**changed) -> set[str]:
        fields = limit_fields(drawn(**changed), CATALOGUE)
        return {one.name for one in fields if not one.closed}

    ratio = open_fields(kind=LimitKind.COMPANION_RATIO, companion="iron")
    step = open_fields(kind=LimitKind.OWN_STEP)
    off = open_fields(is_off=True, note="calm", off_until=date(2027, 1, 1))
    assert "companion" in ratio - step
    assert "least_change" in step - ratio
    assert "off_until" in off - ratio - step


def test_that_a_note_accepts_bounds_within_repeatability_until_they_are_moved() -> None:
    # ASTM D5185, iron: repeatability 0.13 X^0.80, so 3.4 mg/kg about 60.
    close = drawn(watch=60.0, act=61.0, urgent=None)
    changed = written(close, "act", "61.5", who="Kim")
    assert any("repeatability" in one for one in row_problems(changed, CATALOGUE, today=TODAY))
    kept = written(changed, "note", "Accepted: by the manual", who="Kim")
    told = row_problems(kept, CATALOGUE, today=TODAY)
    assert told[0].endswith("Accepted: by the manual")


def test_that_an_interval_is_told_in_figures_by_its_convention() -> None:
    rolling, grid = INTERVALS[0], INTERVALS[2]
    assert interval_sentence(rolling) == (
        "Due 250 h or 90 days, whichever comes first, after the last sample was drawn; "
        "on time from 225 to 275 h or 81 to 99 days."
    )
    assert interval_sentence(grid) == (
        "Due on a fixed grid of 125 h after the planned point before; on time from 106.2 to "
        "143.8 h. An early or late sample moves nothing."
    )
    neither = replace(rolling, interval_hours=None, interval_days=None)
    assert interval_sentence(neither).startswith("Neither hours nor days")


def test_that_the_note_of_an_interval_is_written() -> None:
    row = DraftRow(key=0, rule=INTERVALS[0], was=INTERVALS[0], last_sound=INTERVALS[0])
    after = written_interval(row, "note", "dusty", who="Kim")
    assert (after.rule.note, after.rule.source) == ("dusty", INTERVALS[0].source)
