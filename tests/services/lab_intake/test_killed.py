"""A desk killed while it takes a file in: the database is before or after, never between."""

import os
import shutil
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest

from fluiddesk.storage import check_store, open_store
from tests.fleets import Fleet, differing_tables, dump, results

KILLS = 50
MOST_TRIALS = 150
ROWS = 10

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that splits processes"),
]


class Desk:
    """The process whose children take files in."""

    def __init__(self) -> None:
        script = Path(__file__).with_name("killed_intake.py")
        root = Path(__file__).parents[3]
        self._process = subprocess.Popen(
            [sys.executable, str(script)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            cwd=root,
            env={**os.environ, "PYTHONPATH": str(root)},
        )

    def take_in(self, database: Path, file: Path, *, kill_after: float | None = None) -> int:
        """Take a file in, perhaps killed on the way; how the process ended."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        seconds = "" if kill_after is None else f"{kill_after:.6f}"
        print(f"{database}\t{file}\t{seconds}", file=self._process.stdin, flush=True)
        return int(self._process.stdout.readline())

    def close(self) -> None:
        self._process.communicate(timeout=60)


def test_that_a_kill_at_any_moment_leaves_the_database_before_or_after(
    fleet: Fleet, tmp_path: Path
):
    boxes = fleet.boxes()
    rows = [
        results(fleet.draw(boxes[at % len(boxes)], at + 1), iron=40 + at, copper=9, silicon=300)
        for at in range(ROWS)
    ]
    file = fleet.lab_file("killed.csv", *rows)
    fleet.place.store.close()
    original = Path(fleet.address)
    before = dump(str(original))
    desk = Desk()
    whole, after = _whole(desk, original, file, tmp_path)
    chance = np.random.default_rng(20261125)
    seen = {"before": 0, "after": 0, "killed": 0}
    for number in range(MOST_TRIALS):
        if seen["killed"] >= KILLS:
            break
        copy = Path(shutil.copy(original, tmp_path / f"trial{number}.fluiddesk"))
        status = desk.take_in(copy, file, kill_after=chance.uniform(0.0, whole))
        seen["killed"] += os.WIFSIGNALED(status)
        if is_untouched(copy, original):
            seen["before"] += 1
            continue
        state = dump(str(copy))
        if differing_tables(before, state) == set():
            seen["before"] += 1
        else:
            assert _without_chance(state) == _without_chance(after), f"between, kill {number}"
            seen["after"] += 1
            with open_store(str(copy)) as store:
                assert check_store(store) == []
    desk.close()
    assert seen["killed"] >= KILLS
    assert seen["before"] > 0


def is_untouched(copy: Path, original: Path) -> bool:
    """Whether a file is what it was, byte for byte, once it was opened and its journal rolled back.

    Where it is not, what stands in it decides.
    """
    with closing(sqlite3.connect(copy)) as connection:
        assert connection.execute("PRAGMA quick_check").fetchall() == [("ok",)]
    return copy.read_bytes() == original.read_bytes()


def _whole(desk: Desk, original: Path, file: Path, folder: Path):
    """How long taking the file in lasts when nobody interrupts it, and what it comes to."""
    lasted = []
    for number in range(2):
        copy = Path(shutil.copy(original, folder / f"whole{number}.fluiddesk"))
        started = time.monotonic()
        assert desk.take_in(copy, file) == 0
        lasted.append(time.monotonic() - started)
    return min(lasted), dump(str(copy))


def _without_chance(state) -> dict[str, object]:
    """How many rows there are, and every value reported: identifiers differ from run to run.

    Forecasts are kept afterwards in a transaction of their own, and made up for the next time.
    """
    counted = {name: len(rows) for name, rows in state.items() if name != "forecast"}
    readings = sorted(row[2:] for row in state["reading"])
    return {**counted, "reading": readings}
