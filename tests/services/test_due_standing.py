"""Where boxes stand, and why: the words of the planner."""

from dataclasses import replace
from datetime import timedelta

import pytest

from fluiddesk.domain.fleet import MachineState
from fluiddesk.domain.identity import CompartmentId, SiteId
from fluiddesk.domain.sampling.due import DueState
from fluiddesk.domain.severity import Trust
from fluiddesk.services.due_notes import DueNote
from fluiddesk.services.due_standing import Standing, due_standings
from fluiddesk.services.fleet_condition import condition_columns
from fluiddesk.services.special_by_hand import Special
from fluiddesk.services.special_intervals import SpecialRows
from tests.desktop.makers_fleet import TODAY, box_row

NOTE = DueNote(
    site=SiteId(1),
    id=b"n",
    compartment_id=CompartmentId(b"box"),
    due_on=TODAY - timedelta(20),
    is_excused=True,
    reason="no_access",
    note="",
)
LOST = Special(
    site_id=SiteId(1),
    id=b"s",
    compartment_id=CompartmentId(b"box"),
    site="",
    machine="",
    compartment="",
    reason="resample",
    hours=None,
    days=7,
    valid_from=TODAY,
    ended_on=None,
    note="bottle 7 lost: courier",
    answered_on=None,
    is_in_force=True,
    is_lost_bottle=True,
)


def standing(days_ago, *, notes=(), specials=(), **given):
    """Where one box stands that is due every 100 days by the calendar."""
    usual = {
        "compartment_id": b"box",
        "interval_hours": None,
        "interval_days": 100,
        "taken_on": None if days_ago is None else TODAY - timedelta(days_ago),
    }
    fleet = condition_columns([box_row(**(usual | given))], today=TODAY)
    found = due_standings(fleet, notes=notes, specials=specials)
    return Standing(int(found.standing[0])), found.why[0]


@pytest.mark.parametrize(
    ("days_ago", "expected"),
    [
        (10, Standing.EARLY),
        (95, Standing.DUE),
        (120, Standing.LATE),
        (150, Standing.LATE),
        (151, Standing.MISSED),
        (None, Standing.NEVER),
    ],
)
def test_that_the_interval_sets_where_a_box_stands(days_ago, expected):
    assert standing(days_ago)[0] is expected


def test_that_a_box_without_an_interval_says_so():
    assert standing(10, interval_days=None)[0] is Standing.NO_INTERVAL


@pytest.mark.parametrize("state", [MachineState.STANDBY, MachineState.DOWN])
def test_that_a_machine_that_stands_is_excused_with_its_state(state):
    assert standing(300, machine_state=state) == (Standing.EXCUSED, f"machine on {state}")


def test_that_a_rejected_sample_is_taken_again():
    told = "last sample rejected, not usable: take again"
    assert standing(10, trust=int(Trust.REJECTED)) == (Standing.UNUSABLE, told)
    assert standing(120, trust=int(Trust.REJECTED)) == (Standing.LATE, told)
    drawn = TODAY - timedelta(1)
    assert standing(10, trust=int(Trust.REJECTED), awaited_on=drawn) == (Standing.EARLY, "")


def test_that_a_box_whose_sample_was_rejected_is_due_until_it_is_drawn_anew():
    told = SpecialRows({}, {}, {}, today=TODAY.toordinal())
    days = {"taken_on": TODAY - timedelta(10), "interval_hours": None, "interval_days": 90}
    rejected = box_row(**days, trust=int(Trust.REJECTED))
    drawn_since = rejected._replace(awaited_on=TODAY - timedelta(1))
    fleet = condition_columns([rejected, drawn_since], today=TODAY, special=told)
    assert fleet.special == ("last sample rejected: take again", "")
    assert fleet.due.state.tolist() == [DueState.DUE, DueState.NOT_YET]
    assert fleet.due.due_on[0] == TODAY.toordinal()


def test_that_a_lost_bottle_is_taken_again_until_a_sample_answers_it():
    told = "bottle 7 lost: courier, not usable: take again"
    assert standing(10, specials=[LOST]) == (Standing.UNUSABLE, told)
    assert standing(120, specials=[LOST]) == (Standing.LATE, told)
    answered = replace(LOST, is_in_force=False)
    assert standing(10, specials=[answered]) == (Standing.EARLY, "")
    by_hand = replace(LOST, is_lost_bottle=False)
    assert standing(10, specials=[by_hand]) == (Standing.EARLY, "")


def test_that_a_note_excuses_or_explains_what_is_due_now():
    assert standing(120, notes=[NOTE]) == (Standing.EXCUSED, "excused: no access")
    missed = replace(NOTE, is_excused=False, note="flooded")
    assert standing(160, notes=[missed]) == (Standing.MISSED, "missed: no access, flooded")


@pytest.mark.parametrize(
    ("days_ago", "given"),
    [
        (120, {"voided_reason": "mistake"}),
        (15, {}),
        (300, {"due_on": TODAY - timedelta(150)}),
        (120, {"compartment_id": CompartmentId(b"another")}),
    ],
)
def test_that_notes_taken_back_answered_or_long_past_tell_nothing_of_today(days_ago, given):
    assert standing(days_ago, notes=[replace(NOTE, **given)])[1] == ""


@pytest.mark.parametrize(
    ("asked", "expected"), [(0, Standing.DUE), (4, Standing.LATE), (9, Standing.MISSED)]
)
def test_that_what_was_asked_for_today_has_not_been_missed_before(asked, expected):
    since = TODAY - timedelta(asked)
    special = replace(
        LOST, reason="laboratory_asks", hours=10.0, days=10, valid_from=since, is_lost_bottle=False
    )
    rows = SpecialRows(
        {},
        {},
        {
            b"box": [
                {
                    "reason": "laboratory_asks",
                    "interval_hours": 10.0,
                    "interval_days": None,
                    "valid_from": since,
                    "note": "iron steps",
                }
            ]
        },
    )
    row = box_row(
        compartment_id=b"box",
        interval_hours=500.0,
        interval_days=None,
        taken_on=TODAY - timedelta(20),
        true_hours=1_000.0,
        hours_now=1_160.0,
        usage_as_of=TODAY,
        hours_per_day=8.0,
    )
    fleet = condition_columns([row], today=TODAY, special=rows)
    assert due_standings(fleet).standing[0] == Standing.MISSED
    found = due_standings(fleet, specials=[special])
    assert found.standing[0] == expected
    assert found.why[0] == f"asked for on {since}"
