"""The words and cells of the compartment page."""

from dataclasses import replace
from datetime import date

import pytest

from fluiddesk.desktop.viewstate.compartment_history import (
    CHANGE,
    FIRST_SAMPLE,
    LIMITS,
    NEW,
    SampleTable,
    change_text,
    due_text,
    event_text,
    hours_text,
    limits_text,
    trust_text,
)
from fluiddesk.domain.fleet import Certainty, EventKind
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.sampling.due import DueState
from fluiddesk.domain.severity import Severity
from fluiddesk.services.compartment_history.facts import DueFacts
from tests.desktop.makers_history import TODAY, make_event, make_history, make_trend


def row_of(table: SampleTable, code: str) -> int:
    return next(
        number
        for number, row in enumerate(table.rows)
        if row.series is not None and row.series.analyte.code == code
    )


@pytest.fixture(scope="module")
def table() -> SampleTable:
    return SampleTable(make_history())


def test_that_samples_stand_newest_first(table: SampleTable) -> None:
    history = make_history()
    assert table.column_count == FIRST_SAMPLE + 40
    assert table.sample(FIRST_SAMPLE) == history.samples[-1]
    assert table.sample(table.column_count - 1) == history.samples[0]
    iron = next(one for one in history.series if one.analyte.code == "iron")
    assert table.cell(row_of(table, "iron"), FIRST_SAMPLE).text == iron.shown(39)


def test_that_analytes_stand_under_their_family_in_catalogue_order(table: SampleTable) -> None:
    headings = [table.rows[row].title for row in table.heading_rows]
    assert headings == ["Wear", "Contamination", "Additive", "Fluid condition"]
    assert [row.title for row in table.rows[1:4]] == ["Iron", "Chromium", "Aluminium"]


def test_that_a_sign_is_kept_and_its_cell_is_faint(table: SampleTable) -> None:
    cell = table.cell(row_of(table, "silver"), FIRST_SAMPLE)
    assert cell.text == "<1"
    assert cell.is_faint
    assert cell.is_number


def test_that_what_was_not_tested_is_a_dash_and_copied_as_nothing(table: SampleTable) -> None:
    row, column = row_of(table, "fuel"), FIRST_SAMPLE + 40 - 1 - 6
    assert table.cell(row, column).text == "\u2013"
    assert table.as_text([row], [column], with_header=False) == "Fuel dilution\t%\t"


def test_that_a_value_past_its_limit_carries_its_severity(table: SampleTable) -> None:
    assert table.cell(row_of(table, "iron"), FIRST_SAMPLE).severity is Severity.WATCH


def test_that_the_columns_before_the_samples_tell_limit_new_fluid_and_change(
    table: SampleTable,
) -> None:
    row = row_of(table, "iron")
    assert table.cell(row, LIMITS).text == "\u2191 60 / 90 / 150"
    assert table.cell(row, NEW).text == "1"
    assert table.cell(row, CHANGE).text.startswith("+")


def test_that_a_tip_leads_to_the_printed_text_the_limit_and_its_source(table: SampleTable) -> None:
    tip = table.tip(row_of(table, "iron"), FIRST_SAMPLE)
    assert "Watch" in tip.splitlines()[0]
    assert 'Printed "' in tip
    assert "R-" in tip
    assert "Watch 60, Act 90, Urgent 150" in tip
    assert "Source: common practice, no source; set by starter set" in tip


def test_that_the_head_of_a_sample_tells_date_hours_bottle_and_report(table: SampleTable) -> None:
    sample = make_history().samples[-1]
    date_line, hours, bottle, report = table.head_lines(FIRST_SAMPLE)
    assert date_line == sample.taken_on.isoformat()
    assert hours == f"{hours_text(sample.hours)} h"
    assert (bottle, report) == (sample.bottle_code, sample.report_number)


def test_that_the_tip_of_a_suspect_sample_says_why(table: SampleTable) -> None:
    suspect = FIRST_SAMPLE + 40 - 1 - 13
    assert "Drawn cold" in table.head_tip(suspect)


def test_that_headings_are_left_out_of_a_copy(table: SampleTable) -> None:
    text = table.as_text(range(3), [FIRST_SAMPLE], with_header=True)
    lines = text.splitlines()
    assert lines[0].startswith("Analyte\tUnit\t")
    assert [line.split("\t")[0] for line in lines[1:]] == ["Iron", "Chromium"]


def test_that_a_box_without_samples_has_no_columns() -> None:
    table = SampleTable(make_history(samples=0))
    assert table.column_count == 0
    assert SampleTable().rows == ()


def test_that_the_decimal_sign_leaves_room_for_the_finest_analyte(table: SampleTable) -> None:
    assert table.places == 2


@pytest.mark.parametrize(
    ("values", "signs", "told"),
    [
        ([5, 8], [0, 0], "+3"),
        ([8, 5], [0, 0], "\u22123"),
        ([5, 5], [0, 0], "0"),
        ([1, 5], [Sign.BELOW, 0], ""),
        ([5, 1], [0, Sign.BELOW], ""),
        ([5, float("nan"), 8], [0, Sign.NOT_TESTED, 0], "+3"),
        ([5], [0], ""),
    ],
)
def test_that_a_change_is_told_between_plain_values_only(
    values: list[float], signs: list[int], told: str
) -> None:
    series = make_trend(values, signs=signs).series
    assert change_text(series, len(values) - 1) == told


def test_that_limits_on_both_sides_are_told_apart() -> None:
    series = make_trend(
        [14.5], code="viscosity_100c", up=(16.3, 17.5, None), down=(13.3, None, None)
    ).series
    assert limits_text(series) == "\u2191 16.3 / 17.5 / \u2013  \u2193 13.3 / \u2013 / \u2013"


def due(state: DueState, due_on: date | None, hours_left: float | None = None) -> DueFacts:
    window = (due_on, due_on) if due_on else None
    return DueFacts(
        state=state,
        due_on=due_on,
        window=window,
        hours_left=hours_left,
        by_hours=True,
        interval="250 h",
    )


@pytest.mark.parametrize(
    ("state", "due_on", "hours_left", "told"),
    [
        (DueState.NOT_YET, date(2026, 12, 2), 132.4, "Next sample due 2026-12-02 (in 12 days"),
        (DueState.DUE, TODAY, 0.0, "Next sample due 2026-11-20 (today"),
        (DueState.OVERDUE, date(2026, 11, 1), -40.0, "overdue since 2026-11-01 (19 days ago"),
        (DueState.NEVER_SAMPLED, None, None, "Never sampled; every 250 h"),
        (DueState.NO_INTERVAL, None, None, "No due day can be given"),
        (DueState.EXCUSED, None, None, "No sample owed"),
    ],
)
def test_that_the_next_sample_is_told_for_every_state(
    state: DueState, due_on: date | None, hours_left: float | None, told: str
) -> None:
    assert told in due_text(due(state, due_on, hours_left), today=TODAY)


def test_that_a_bottle_at_the_laboratory_is_told_with_what_is_due() -> None:
    waiting = replace(due(DueState.NOT_YET, date(2026, 12, 2)), awaited_on=date(2026, 11, 12))
    told = due_text(waiting, today=TODAY)
    assert told.startswith("Next sample due 2026-12-02")
    assert told.endswith("; newest sample of 2026-11-12 is at the laboratory")


def test_that_hours_left_and_hours_past_are_told_apart() -> None:
    soon = due_text(due(DueState.NOT_YET, date(2026, 12, 2), 132.4), today=TODAY)
    late = due_text(due(DueState.OVERDUE, date(2026, 11, 1), -40.0), today=TODAY)
    assert "132 h left" in soon
    assert "40 h past" in late


def test_that_trust_comes_with_its_reason() -> None:
    history = make_history()
    doubted = replace(history, samples=history.samples[:14])
    assert trust_text(doubted) == "Trust suspect: Drawn cold, after the machine had stood"
    assert trust_text(make_history(samples=0)) == ""


def test_that_an_inferred_event_says_so() -> None:
    event = make_event(EventKind.FLUID_CHANGE, hours=1.0, certainty=Certainty.INFERRED)
    assert event_text(event) == "Fluid change (inferred)"
    assert event_text(replace(event, litres=4.0, certainty=Certainty.RECORDED)) == (
        "Fluid change, 4 L"
    )
