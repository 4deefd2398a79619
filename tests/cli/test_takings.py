"""`takings`: a round recorded from a file, as the last step of a round by the command line."""

import csv
from pathlib import Path

from fluiddesk.cli.output import Exit
from tests.cli.conftest import Run
from tests.fleets import LAST_DAY, Fleet


def test_that_a_round_is_planned_printed_recorded_and_sent_by_commands_alone(
    run: Run, fleet: Fleet, tmp_path: Path
) -> None:
    where = ("--database", fleet.address)
    file, filled = tmp_path / "round.csv", tmp_path / "filled.csv"
    empty = run("takings", "--blank", file, *where)
    assert "No issued visit waits to be recorded" in empty.err
    run("visits", "--save", "--within", "3d", *where)
    assert run("sheets", "--out", tmp_path / "s.pdf", *where).code == Exit.OK
    assert run("labels", "--out", tmp_path / "l.pdf", *where).code == Exit.OK
    assert run("takings", "--blank", file, *where).code == Exit.OK
    with file.open(encoding="utf-8-sig", newline="") as blank:
        rows = list(csv.DictReader(blank))
    codes = [row["bottle"] for row in rows]
    early = run("custody", "hand-in", codes[0], *where)
    assert "Record its visit first" in early.err
    for row in rows:
        row |= {"taken_on": LAST_DAY.isoformat(), "taken_by": "Robin", "meter_unreadable": "y"}
        row |= {"litres_added": "0", "fluid_changed": "n"}
    with filled.open("w", encoding="utf-8", newline="") as out:
        writer = csv.DictWriter(out, rows[0])
        writer.writeheader()
        writer.writerows(rows)
    checked = run("takings", filled, "--check", *where)
    assert f"with {len(rows)} bottles can be read." in checked.err
    told = run("takings", filled, *where)
    assert told.code == Exit.OK
    assert f"{len(rows)} bottles taken, 0 not taken, 0 still open." in told.err
    assert run("custody", "hand-in", *codes, *where).code == Exit.OK
    count = ("--count", len(codes))
    sent = run("custody", "ship", *codes, "--laboratory", "lab_a", *count, *where)
    assert sent.code == Exit.OK, sent.err
    assert run("custody", "receive", codes[0], *count, *where).code == Exit.OK
    assert run("takings", filled, *where).code != Exit.OK
    assert fleet.check() == []


def test_that_the_command_asks_for_one_file(run: Run, fleet: Fleet, tmp_path: Path) -> None:
    told = run("takings", "--database", fleet.address)
    assert told.code == Exit.USAGE
    assert "--blank FILE" in told.err
    no_folder = run("takings", "--blank", tmp_path / "no" / "x.csv", "--database", fleet.address)
    assert no_folder.code == Exit.CANNOT_CREATE
