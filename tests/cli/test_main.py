"""The command as a whole: usage, faults, streams, output for spreadsheets."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from fluiddesk import __version__
from fluiddesk.cli import fleet as fleet_commands
from fluiddesk.cli.output import Exit, counted, print_rows
from tests.cli.conftest import Run
from tests.fleets import NOW, Fleet

START = "import sys; from fluiddesk.cli.main import main; sys.exit(main())"
QT = ("PySide6", "pyqtgraph", "scipy")


def started(*words: object, script: str = START, **environment: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-c", script, *map(str, words)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={**os.environ, **environment},
        cwd=Path(__file__).parents[2],
    )


@pytest.mark.parametrize("words", [["bogus"], ["due", "--format", "xml"], ["database"], ["intake"]])
def test_that_wrong_usage_leaves_with_64(run: Run, words):
    told = run(*words)
    assert (told.code, told.out) == (Exit.USAGE, "")
    assert told.err.startswith("usage: fluiddesk")


def test_that_help_and_version_leave_with_0(run: Run):
    assert run("--version").out == f"fluiddesk {__version__}\n"
    told = run("--help")
    assert told.code == Exit.OK
    for command in ("sample", "condition", "history", "due", "intake", "reassess", "limits",
                    "picture", "simulate", "database"):  # fmt: skip
        assert command in told.out
        assert run(command, "--help").code == Exit.OK
    assert "a named person decides" in " ".join(told.out.split())


def test_that_a_fault_of_ours_is_called_so_and_leaves_with_70(
    run: Run, fleet: Fleet, monkeypatch: pytest.MonkeyPatch
):
    def fail(_text: str) -> int:
        raise KeyError("x")

    monkeypatch.setattr(fleet_commands, "days_ahead", fail)
    told = run("due", "--database", fleet.address)
    assert told.code == Exit.INTERNAL
    assert "a fault of the program, not of your input" in told.err


def test_that_stopping_a_command_leaves_with_130(
    run: Run, fleet: Fleet, monkeypatch: pytest.MonkeyPatch
):
    def stop(_text: str) -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr(fleet_commands, "days_ahead", stop)
    told = run("due", "--database", fleet.address)
    assert (told.code, told.err) == (Exit.STOPPED, "fluiddesk: stopped.\n")


def test_that_a_command_needs_neither_qt_nor_a_screen(fleet: Fleet):
    script = START.replace("sys.exit(main())", "code = main(); sys.exit(") + (
        f"code if not set({QT}) & set(sys.modules) else 99)"
    )
    run = started("condition", "--database", fleet.address, script=script, DISPLAY="")
    out, err = run.communicate(timeout=60)
    assert (run.returncode, err) == (Exit.ATTENTION, b"")
    assert out.startswith(b"severity")


def test_that_a_reader_who_leaves_early_is_no_fault(sample_fleet_file: Path):
    words = ("limits", "show", "--database", sample_fleet_file, "--format", "json")
    run = started(*words)
    assert run.stdout is not None
    assert run.stderr is not None
    run.stdout.readline()
    run.stdout.close()
    err = run.stderr.read()
    run.stderr.close()
    assert run.wait(timeout=60) == Exit.OK
    assert b"Error" not in err
    assert b"Exception" not in err


def test_that_a_name_the_terminal_cannot_write_stops_nothing(fleet: Fleet):
    box = fleet.boxes()[0]
    name = "Grube Süd Δ"
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        desk.session.connection.exec_driver_sql(
            "UPDATE site SET name = ? WHERE site_id = ?", (name, box.site_id)
        )
    answers = {}
    for form in ("text", "json"):
        run = started(
            "condition", "--database", fleet.address, "--format", form, PYTHONIOENCODING="ascii"
        )
        answers[form], err = run.communicate(timeout=60)
        assert (run.returncode, err) == (Exit.ATTENTION, b"")
    assert name in {line["site"] for line in json.loads(answers["json"])}
    assert b"Grube S\\xfcd \\u0394" in answers["text"]


def test_that_every_start_of_a_formula_is_marked_in_csv(capsys: pytest.CaptureFixture[str]):
    cells = ["=1", "+1", "-1", "@x", "\tx", "plain", -1, -1.5, None, ["=a", "b"]]
    print_rows([{"c": cell} for cell in cells], form="csv", columns=("c",))
    lines = capsys.readouterr().out.splitlines()
    assert lines == ["c", "'=1", "'+1", "'-1", "'@x", "'\tx", "plain", "-1", "-1.5", '""',
                     "'=a; b"]  # fmt: skip


def test_that_text_columns_stand_under_their_heads(capsys: pytest.CaptureFixture[str]):
    rows = [{"a_b": "long word", "c": 1.5}, {"a_b": None, "c": 2}]
    print_rows(rows, form="text", columns=("a_b", "c"))
    assert capsys.readouterr().out == "a b        c\nlong word  1.5\n           2\n"


def test_that_one_thing_is_not_several():
    assert [counted(number, "row") for number in (0, 1, 2)] == ["0 rows", "1 row", "2 rows"]
