"""What days on a laboratory's record, saved in the register, do to the chance is told."""

from dataclasses import replace

import pytest

from fluiddesk.desktop.viewstate.register_services import RegisterServices
from tests.fleets import LAST_DAY, NOW, Fleet


def saved(fleet: Fleet, **changes: int) -> str:
    calls = RegisterServices(place=fleet.place)
    known = calls.facts(today=LAST_DAY).laboratories[0]
    return calls.save(replace(known, **changes), moment=NOW, today=LAST_DAY).told  # type: ignore[arg-type]


def test_that_other_days_of_a_measured_lane_change_nothing_and_say_so(fleet: Fleet) -> None:
    assert "stays as it is" in saved(fleet, lane_days=30)


def test_that_other_days_of_a_lane_not_measured_tell_the_chance(
    fleet: Fleet, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fluiddesk.services.catch_chances.lanes.least_bottles", lambda: 10**9)
    assert "\N{RIGHTWARDS ARROW}" in saved(fleet, lane_days=30)


def test_that_a_save_without_other_days_says_nothing(fleet: Fleet) -> None:
    assert saved(fleet) == ""
