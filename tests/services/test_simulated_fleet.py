"""A simulated fleet in a database: whole, sound, marked as invented, the same for one seed."""

import json
from pathlib import Path

import pytest

from fluiddesk.domain.errors import UsageError
from fluiddesk.services.founding import replayed_day
from fluiddesk.services.reassess.blocks import refresh_blocks
from fluiddesk.services.simulated_fleet import write
from fluiddesk.services.simulated_fleet.write import write_simulated_fleet
from fluiddesk.storage import store_state
from fluiddesk.storage.state import StoreKind
from tests.fleets import LAST_DAY, NOW, PLAYED_AT, Fleet, dump

KEYS = {bytes}


def write_fleet(target: Path, **given):
    usual = {"machines": 1, "years": 0.5, "seed": 3, "last_day": LAST_DAY, "moment": PLAYED_AT}
    return write_simulated_fleet(target, **(usual | given))


def without_keys(rows):
    """Rows without their identifiers and what is made of them, in one order."""
    kept = (tuple(cell for cell in row if type(cell) not in KEYS) for row in rows)
    return sorted(kept, key=repr)


def test_that_a_simulated_fleet_is_sound_and_marked_as_played_to_its_day(fleet: Fleet):
    assert fleet.check() == []
    assert replayed_day(fleet.place) == LAST_DAY
    counts = {name: len(rows) for name, rows in fleet.dump().items()}
    assert counts["site"] == 2
    assert counts["machine"] == 5
    assert counts["machine_usage"] == 5
    assert counts["assessment"] == len({row[1] for row in fleet.dump()["assessment"]})


def test_that_no_reading_is_of_a_day_to_come(fleet: Fleet):
    days = [one.taken_on for box in fleet.boxes() for one in fleet.samples(box.compartment_id)]
    assert max(days) <= LAST_DAY
    assert len(days) > 100


def test_that_the_blocks_written_at_once_are_those_of_the_readings(fleet: Fleet):
    before = fleet.dump()["history_block"]
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        refresh_blocks(desk, [box.compartment_id for box in fleet.boxes()])
    assert fleet.dump()["history_block"] == before


def test_that_the_truth_stands_beside_and_not_inside(small_fleet_file: Path):
    beside = small_fleet_file.with_name(small_fleet_file.name + ".truth.json")
    truth = json.loads(beside.read_text())
    assert truth
    names = set(dump(str(small_fleet_file)))
    assert not any("truth" in name or "fault" in name for name in names)


def test_that_one_seed_gives_one_fleet_and_another_seed_another(tmp_path: Path):
    texts, values = [], []
    for name, seed in (("a", 3), ("b", 3), ("c", 4)):
        told = write_fleet(tmp_path / name, seed=seed)
        texts.append(told.replace(str(tmp_path / name), ""))
        rows = dump(str(tmp_path / name))
        values.append((without_keys(rows["reading"]), without_keys(rows["sample"])))
    assert texts[0] == texts[1]
    assert values[0] == values[1]
    assert values[0] != values[2]


def test_that_progress_is_told_to_its_end(tmp_path: Path):
    told: list[tuple[int, int | None]] = []
    write_fleet(tmp_path / "a", progress=lambda done, total: told.append((done, total)) is None)
    assert told[-1][0] == told[-1][1]
    assert [done for done, _ in told] == sorted({done for done, _ in told})


@pytest.mark.parametrize(
    "given", [{"machines": 0}, {"machines": 20_001}, {"years": 0}, {"years": 31}]
)
def test_that_a_size_without_sense_is_refused_and_nothing_is_written(tmp_path: Path, given):
    with pytest.raises(UsageError, match="Give 1 to 20000 machines and up to 30 years"):
        write_fleet(tmp_path / "a", **given)
    assert list(tmp_path.glob("a*")) == []


def test_that_a_fleet_is_never_written_over_a_file(tmp_path: Path):
    (tmp_path / "a").write_text("mine")
    with pytest.raises(UsageError, match="exists already"):
        write_fleet(tmp_path / "a")
    assert (tmp_path / "a").read_text() == "mine"


def test_that_a_fault_while_writing_leaves_no_half_fleet(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    def fail(*_given, **_named):
        raise RuntimeError("the power went")

    monkeypatch.setattr(write, "reassess_boxes", fail)
    target = tmp_path / "a"
    with pytest.raises(RuntimeError):
        write_fleet(target)
    if target.exists():
        assert store_state(str(target)).kind is StoreKind.CURRENT
        assert dump(str(target))["sample"] == []
