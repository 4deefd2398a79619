"""The sample fleet: played into a sound database, with files of the laboratory that wait."""

import shutil
from datetime import date
from pathlib import Path

import pytest

from fluiddesk import wiring
from fluiddesk.domain.severity import Severity
from fluiddesk.services import sample_fleet
from fluiddesk.services.custody.facts import Step
from fluiddesk.services.custody.read import custody, shipments, trail_of
from fluiddesk.services.fleet_condition import fleet_condition
from fluiddesk.services.lab_intake.preview import preview_lab_file
from fluiddesk.services.lab_intake.take_in import take_in, undo_intake
from fluiddesk.services.sample_fleet import sample_fingerprint
from fluiddesk.services.visits.plan import propose_visits
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import check_store, open_store
from tests.fleets import NOW, differing_tables, dump, the_catalogue

STORY_DAY = date(2026, 11, 20)


@pytest.fixture
def place(sample_fleet_file: Path, tmp_path: Path):
    copy = shutil.copy(sample_fleet_file, tmp_path / "sample.fluiddesk")
    with open_store(str(copy)) as store:
        yield Workplace(store=store, catalogue=the_catalogue(), who="Kim")


def lab_file(name: str) -> Path:
    return next(one for one in wiring.sample_lab_files() if name in one.name)


def test_that_the_sample_fleet_is_sound_and_worth_looking_at(place: Workplace):
    assert check_store(place.store) == []
    fleet = fleet_condition(place, today=STORY_DAY)
    assert len(set(fleet.machine.tolist())) in range(25, 36)
    assert len({row.site for row in fleet.rows}) == 3
    worst = fleet.machine_severity().tolist()
    assert {Severity.NORMAL, Severity.WATCH, Severity.ACT, Severity.URGENT} <= set(worst)
    assert 5 * sum(one >= Severity.ACT for one in worst) <= 3 * len(worst)


def test_that_its_bottles_were_handed_over_in_order_since_may(place: Workplace):
    found = custody(place, today=STORY_DAY)
    assert all(leg.bottles > 100 and not leg.doubtful for leg in found.legs)
    assert {leg.lane for leg in found.legs} == {"", "lab_a", "lab_b"}
    assert 0 < len(found.presumed_lost) < found.unaccounted < len(found.out)
    steps = [one.step for one in trail_of(place, found.out[0].code)]
    assert steps == [Step.TAKEN, Step.HANDED_IN, Step.SHIPPED]
    for one in shipments(place):
        assert one.manifest_count == len(one.codes)
        assert (one.received_on is None) == (one.received_count is None)
        if one.received_on is not None:
            assert one.sent_on < one.received_on
            assert one.received_count is not None
            assert one.received_count <= len(one.codes)


def test_that_its_rounds_have_crews_and_service_days(place: Workplace):
    plan = propose_visits(place, today=STORY_DAY)
    assert {one.crew for one in plan.visits} >= {"Gravel works", "Road crew van"}
    assert any(one.at_service for one in plan.visits)


def test_that_three_files_wait_and_each_is_read_by_the_layout_that_fits(place: Workplace):
    files = wiring.sample_lab_files()
    assert len(files) == 3
    previews = [preview_lab_file(place, file, today=STORY_DAY) for file in files]
    assert [one.layout for one in previews] == ["lab_a", "lab_b", "lab_a"]
    assert all(one.to_take_in for one in previews)
    assert not any(one.already_taken_in for one in previews)


def test_that_taking_in_and_undoing_the_files_ends_where_it_began(place: Workplace):
    before = fleet_condition(place, today=STORY_DAY).severity.tolist()
    done = []
    for name in ("lab_a", "lab_b"):
        preview = preview_lab_file(place, lab_file(name), today=STORY_DAY)
        done.append(take_in(place, preview, moment=NOW, today=STORY_DAY))
    assert any(one.after is Severity.URGENT for result in done for one in result.moved)
    assert check_store(place.store) == []
    for result in reversed(done):
        undo_intake(place, result.intake_id, moment=NOW, today=STORY_DAY)
    assert fleet_condition(place, today=STORY_DAY).severity.tolist() == before
    assert check_store(place.store) == []


def test_that_the_mischief_file_names_each_fault_with_its_row_and_remedy(place: Workplace):
    preview = preview_lab_file(place, lab_file("mischief"), today=STORY_DAY)
    printed = {problem.value for problem in preview.problems}
    assert {"12,4O", "31.11.2026", "-3"} <= printed
    assert all(problem.remedy for problem in preview.problems)
    assert {problem.row for problem in preview.problems if problem.value == "12,4O"} == {5}


@pytest.fixture
def played(monkeypatch: pytest.MonkeyPatch, sample_fleet_file: Path) -> list[str]:
    """Plays by copying, and tells how often."""
    calls: list[str] = []

    def play(address: str, *, moment: object, progress: object = None) -> None:
        del moment, progress
        calls.append(address)
        shutil.copy(sample_fleet_file, address)

    monkeypatch.setattr(sample_fleet, "play_sample_fleet", play)
    return calls


def test_that_the_fleet_is_played_once_and_copied_from_then_on(
    tmp_path: Path, desk_home: Path, played: list[str], sample_fleet_file: Path
):
    wiring.write_sample_fleet(tmp_path / "a.fluiddesk")
    wiring.write_sample_fleet(tmp_path / "b.fluiddesk")
    assert len(played) == 1
    first, second = (dump(str(tmp_path / f"{name}.fluiddesk")) for name in "ab")
    assert differing_tables(first, second) == set()
    assert differing_tables(first, dump(str(sample_fleet_file))) == set()
    assert [one.name for one in (desk_home / "cache").glob("sample-*")] == [
        f"sample-{sample_fingerprint()}.fluiddesk"
    ]


def test_that_a_changed_story_is_played_again_and_the_old_one_swept_away(
    tmp_path: Path, desk_home: Path, played: list[str], monkeypatch: pytest.MonkeyPatch
):
    wiring.write_sample_fleet(tmp_path / "a.fluiddesk")
    monkeypatch.setattr(sample_fleet, "sample_fingerprint", lambda: "another")
    wiring.write_sample_fleet(tmp_path / "b.fluiddesk")
    assert len(played) == 2
    assert [one.name for one in (desk_home / "cache").glob("sample-*")] == [
        "sample-another.fluiddesk"
    ]


def test_that_every_scratch_copy_is_a_file_of_its_own(played: list[str], desk_home: Path):
    first, second = wiring.sample_scratch_copy(), wiring.sample_scratch_copy()
    assert first != second
    assert first.is_relative_to(desk_home)
    assert second.exists()
    assert len(played) == 1
