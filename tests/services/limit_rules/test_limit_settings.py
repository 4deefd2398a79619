"""The settings of a set: edited, compared, undone, and deciding when a verdict is stale."""

from datetime import timedelta

import pytest

from fluiddesk.domain.errors import OperatorError
from fluiddesk.services.compartment_history.read import compartment_history
from fluiddesk.services.fleet_condition import fleet_condition
from fluiddesk.services.limit_rules.activate import activate
from fluiddesk.services.limit_rules.facts import EditKind, RowEdit
from fluiddesk.services.limit_rules.versions import compare, draft_from, edit_draft, read_set
from tests.fleets import LAST_DAY, NOW, Fleet


def with_settings(fleet: Fleet, settings: dict[str, object]):
    draft = draft_from(fleet.place, 1, name="Settings", note="", moment=NOW)
    edits = [RowEdit(kind=EditKind.CHANGE, settings=settings)]
    return edit_draft(fleet.place, draft.number, edits, version=draft.version, moment=NOW)


def test_that_settings_are_saved_compared_in_words_and_taken_back(either_fleet: Fleet) -> None:
    done = with_settings(either_fleet, {"clears_at": 0.9, "run_in": [3.0]})
    number = done.draft.number
    assert read_set(either_fleet.place, number).limit_set.settings == {
        "clears_at": 0.9, "run_in": [3.0],
    }  # fmt: skip
    told = [one.told for one in compare(either_fleet.place, 1, number)]
    assert told == [
        "setting, A limit clears at: 85 % of its bound -> 90 % of its bound",
        "setting, Running in multiplies wear limits by: 2; 1.5 first; second ... fill -> "
        "3 first; second ... fill",
    ]
    version = done.draft.version
    edit_draft(either_fleet.place, number, done.undo, version=version, moment=NOW)
    assert read_set(either_fleet.place, number).limit_set.settings == {}
    assert compare(either_fleet.place, 1, number) == ()


def test_that_a_setting_out_of_its_span_is_refused_and_nothing_saved(either_fleet: Fleet) -> None:
    with pytest.raises(OperatorError, match=r"stale_after is 40.0. Give a number from 1 to 10."):
        with_settings(either_fleet, {"stale_after": 40.0})
    assert read_set(either_fleet.place, 2).limit_set.settings == {}


def test_that_the_set_in_force_decides_when_a_verdict_is_stale(either_fleet: Fleet) -> None:
    place = either_fleet.place
    later = LAST_DAY + timedelta(days=500)
    before = fleet_condition(place, today=later)
    assert before.is_stale.any()
    done = with_settings(either_fleet, {"stale_after": 10.0})
    activate(
        place, done.draft.number, valid_from=LAST_DAY, note="trial", version=done.draft.version,
        today=LAST_DAY, moment=NOW,
    )  # fmt: skip
    after = fleet_condition(place, today=later)
    assert after.is_stale.sum() < before.is_stale.sum()
    moved = int((before.is_stale & ~after.is_stale).nonzero()[0][0])
    box = after.rows[moved].compartment_id
    assert "stale" not in compartment_history(place, box, today=later).sentence.lower()
