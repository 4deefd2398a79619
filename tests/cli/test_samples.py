"""`sample --out` and `simulate`: files that a person can go on with."""

from pathlib import Path

import pytest

from fluiddesk import wiring
from fluiddesk.cli.output import Exit
from fluiddesk.services import sample_fleet
from fluiddesk.wiring import OpenedDesk
from tests.cli.conftest import Run


@pytest.fixture
def played(sample_fleet_file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The sample fleet as if this desk had never played it, in less time."""

    def play(address: str, *, moment: object, progress: object = None) -> None:
        del moment, progress
        Path(address).write_bytes(sample_fleet_file.read_bytes())

    monkeypatch.setattr(sample_fleet, "play_sample_fleet", play)


def test_that_sample_writes_a_database_that_commands_go_on_with(
    run: Run, tmp_path: Path, played: None
):
    target = tmp_path / "sample.fluiddesk"
    told = run("sample", "--out", target)
    assert (told.code, told.out) == (Exit.OK, "")
    assert "invented" in told.err
    assert len(run("condition", "--database", target, "--format", "json").json) > 200
    again = run("sample", "--out", target)
    assert again.code == Exit.USAGE
    assert "exists already" in again.err


def test_that_sample_tells_of_a_taken_name_before_it_plays(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    def play(address: str, **_told: object) -> None:
        raise AssertionError(address)

    monkeypatch.setattr(sample_fleet, "play_sample_fleet", play)
    target = tmp_path / "sample.fluiddesk"
    target.write_bytes(b"mine")
    told = run("sample", "--out", target)
    assert (told.code, target.read_bytes()) == (Exit.USAGE, b"mine")


def test_that_sample_into_a_missing_folder_is_named(run: Run, tmp_path: Path, played: None):
    told = run("sample", "--out", tmp_path / "none" / "sample.fluiddesk")
    assert told.code == Exit.CANNOT_CREATE
    assert "Make it first." in told.err


def test_that_simulate_writes_a_fleet_with_its_truth_beside(run: Run, tmp_path: Path):
    target = tmp_path / "fleet.fluiddesk"
    told = run(
        "simulate", "--machines", 1, "--years", 0.3, "--seed", 5, "--out", target
    )  # fmt: skip
    assert (told.code, told.out) == (Exit.OK, "")
    assert "Wrote 1 machine" in told.err
    assert (tmp_path / "fleet.fluiddesk.truth.json").exists()
    assert run("database", "check", "--database", target).code == Exit.OK


@pytest.mark.parametrize(
    ("machines", "years"), [(0, 1), (-1, 1), (1, 0), (1, -2), (30_000, 1), (1, 99)]
)
def test_that_a_size_without_sense_leaves_with_64(run: Run, tmp_path: Path, machines, years):
    told = run(
        "simulate", f"--machines={machines}", f"--years={years}", "--seed", 1,
        "--out", tmp_path / "x",
    )  # fmt: skip
    assert told.code == Exit.USAGE
    assert "cannot be played" in told.err
    assert not (tmp_path / "x").exists()


# --- the window ----------------------------------------------------------------------------------


notices: list[str] = []
"""What each window was given to tell."""


@pytest.fixture
def windows(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, bool]]:
    """Notes what a window would be opened on, and opens none."""
    from fluiddesk.desktop import application

    opened: list[tuple[str, bool]] = []
    notices.clear()

    def note(
        desk: OpenedDesk | None, _argv: list[str], *, open_sample: bool = False, notice: str = ""
    ) -> int:
        notices.append(notice)
        opened.append(("" if desk is None else desk.place.store.address, open_sample))
        if desk is not None:
            desk.close()
        return 0

    monkeypatch.setattr(application, "run", note)
    return opened


def test_that_without_a_command_the_window_opens_on_the_database_opened_last(
    run: Run, windows: list[tuple[str, bool]], fleet_file: Path
):
    assert run().code == Exit.OK
    wiring.open_desk(str(fleet_file), remember=True).close()
    assert run().code == Exit.OK
    assert windows == [("", False), (str(fleet_file), False)]


def test_that_a_last_database_that_is_gone_leads_to_the_first_start_and_is_told(
    run: Run, windows: list[tuple[str, bool]], fleet_file: Path
):
    wiring.open_desk(str(fleet_file), remember=True).close()
    fleet_file.unlink()
    told = run()
    assert (told.code, windows) == (Exit.OK, [("", False)])
    assert "There is no database at" in told.err
    assert len(notices) == 1
    assert notices[0] in told.err
    assert "There is no database at" in notices[0]


def test_that_sample_opens_the_window_on_the_sample_fleet(
    run: Run, windows: list[tuple[str, bool]]
):
    assert run("sample").code == Exit.OK
    assert windows == [("", True)]
