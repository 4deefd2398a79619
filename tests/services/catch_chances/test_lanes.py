"""How long answers take on each lane: measured, by the record, as elsewhere, assumed.

Days by hand; the target days of the legs stand in ``resources/programme/custody.toml`` and the
least number of bottles with them (common practice, no source).
"""

from datetime import UTC, datetime, timedelta

import pytest

from fluiddesk.services.catch_chances.facts import KnownFrom, Lane
from fluiddesk.services.catch_chances.lanes import (
    LabRecord,
    answer_columns,
    lanes_of,
    least_bottles,
    since_day,
)
from tests.services.catch_chances.makers import DAY

LEAST = least_bottles()
RECORD = LabRecord(code="lab", name="Lab", lane_days=3, turnaround_days=4)
SILENT = LabRecord(code="lab", name="Lab", lane_days=None, turnaround_days=None)


def report(number: int, *, site: int = 1, lab: str = "lab", there: int = 2, back: int = 3,
           known: int | None = None, ago: int = 60) -> tuple[object, ...]:  # fmt: skip
    taken = DAY - timedelta(days=ago)
    issued = taken + timedelta(days=there + back)
    saved = None
    if known is not None:
        saved = datetime(issued.year, issued.month, issued.day, 9, tzinfo=UTC) + timedelta(known)
    received = taken + timedelta(days=there)
    return (site, lab, b"%016d" % number, taken, received, issued, saved)


def lane_of(*rows: tuple[object, ...], record: LabRecord = RECORD, site: int = 1) -> Lane:
    answers = answer_columns(rows, today=DAY)
    return lanes_of(answers, {record.code: record}, {1: "Quarry", 2: "Pit"})[site, record.code]


def test_that_a_lane_with_enough_bottles_is_measured_with_its_legs() -> None:
    """2 days there and 3 back, then 2 until it is known here: 7."""
    lane = lane_of(*(report(n, known=2) for n in range(LEAST)))
    assert lane.known_from is KnownFrom.MEASURED
    assert (lane.days, lane.bottles) == (7.0, LEAST)
    assert [(leg.days, leg.bottles) for leg in lane.legs] == [(2, LEAST), (3, LEAST), (2, LEAST)]
    assert "not measured" not in lane.about


def test_that_the_median_of_bottles_counts_not_their_mean() -> None:
    slow = report(99, there=90, ago=200)
    assert lane_of(*(report(n, known=1) for n in range(LEAST)), slow).days == 6.0


def test_that_the_last_leg_is_its_target_where_nobody_waited() -> None:
    """A report without an intake was put there by a replay; the target is one day."""
    lane = lane_of(*(report(n) for n in range(LEAST)))
    assert lane.days == 2 + 3 + 1
    assert "a target, not measured" in lane.about


@pytest.mark.parametrize("known", [91, 400])
def test_that_a_report_saved_long_after_or_after_the_day_asked_about_is_no_wait(
    known: int,
) -> None:
    lane = lane_of(*(report(n, known=known, ago=150) for n in range(LEAST)))
    assert lane.legs[2].bottles == 0
    assert lane.days == 6.0


def test_that_reports_from_before_the_sample_do_not_count() -> None:
    wrong = [report(n, there=-9, back=1) for n in range(LEAST)]
    lane = lane_of(*wrong, record=SILENT)
    assert lane.known_from is KnownFrom.ASSUMED
    assert lane.bottles == 0


def test_that_too_few_bottles_leave_the_laboratorys_record_and_say_so() -> None:
    """0.5 + 1 of our own, 3 on the way, 4 promised, 1 until it is known: 9.5 days."""
    lane = lane_of(*(report(n) for n in range(LEAST - 1)))
    assert (lane.known_from, lane.days) == (KnownFrom.RECORD, 9.5)
    assert lane.about.startswith(f"Not measured: {LEAST - 1} of at least {LEAST} reports")
    assert "9.5 days by the laboratory's record" in lane.about


@pytest.mark.parametrize(
    ("on_way", "promised", "expected"), [(3, None, 0.5 + 1 + 3 + 2 + 1), (None, 4, 0.5 + 1 + 2 + 5)]
)
def test_that_half_a_record_is_filled_up_with_the_target(
    on_way: int | None, promised: int | None, expected: float
) -> None:
    record = LabRecord(code="lab", name="Lab", lane_days=on_way, turnaround_days=promised)
    assert record.answer_days == expected


def test_that_a_silent_record_leaves_what_other_sites_take_else_what_is_assumed() -> None:
    elsewhere = [report(n, known=2) for n in range(LEAST)]
    lane = lane_of(*elsewhere, record=SILENT, site=2)
    assert (lane.known_from, lane.days) == (KnownFrom.ELSEWHERE, 7.0)
    alone = lane_of(record=SILENT)
    assert (alone.known_from, alone.days) == (KnownFrom.ASSUMED, 7.0)
    assert "7 days assumed" in alone.about


def test_that_a_lane_is_listed_by_site_and_laboratory() -> None:
    assert lane_of().title == "Quarry, Lab"
    lanes = lanes_of(answer_columns((), today=DAY), {}, {1: "Quarry"})
    assert lanes[1, ""].title == "Quarry, no laboratory yet"


def test_that_a_year_of_reports_is_looked_at() -> None:
    assert (DAY - since_day(DAY)).days == 365
