"""`chance`: by group and by box, as it is and as asked."""

import csv
import io

import pytest

from fluiddesk.cli.output import Exit
from tests.cli.conftest import Run
from tests.fleets import Fleet


def test_that_every_group_tells_its_chance_and_the_whole_is_said_beside(
    run: Run, fleet: Fleet
) -> None:
    told = run("chance", "--database", fleet.address, "--format", "json")
    assert told.code == Exit.OK
    assert "A fault is told in time with a chance of" in told.err
    assert "Half the interval:" in told.err
    for row in told.json:
        assert 0 <= row["low_tenth"] <= row["chance"] <= 1
        assert row["known_from"] == "measured"
        assert row["bottles_a_year"] > 0
        assert "chance_then" not in row


@pytest.mark.parametrize("by", ["site", "lane", "machine", "kind"])
def test_that_what_is_asked_stands_beside_what_is(run: Run, fleet: Fleet, by: str) -> None:
    where = ("--database", fleet.address, "--format", "json", "--by", by)
    for row in run("chance", *where, "--interval-share", 0.5).json:
        assert row["chance_then"] >= row["chance"]
        assert row["bottles_then"] == pytest.approx(2 * row["bottles_a_year"], abs=1)
    for row in run("chance", *where, "--turnaround-days", 0).json:
        assert row["chance_then"] >= row["chance"]
        assert row["bottles_then"] == row["bottles_a_year"]


def test_that_boxes_come_one_by_one_lowest_chance_first(run: Run, fleet: Fleet) -> None:
    told = run("chance", "--by", "box", "--interval-hours", 100, "--database", fleet.address,
               "--format", "json")  # fmt: skip
    rows = told.json
    known = [row["chance"] for row in rows if row["chance"] is not None]
    assert known == sorted(known)
    for row in rows:
        if row["chance"] is None:
            assert row["left_out"]
        else:
            assert row["left_out"] == ""
            assert row["chance_then"] >= row["chance"]


def test_that_text_and_csv_hold_the_same_groups(run: Run, fleet: Fleet) -> None:
    where = ("--by", "kind", "--days-sooner", 2, "--database", fleet.address)
    text = run("chance", *where)
    rows = list(csv.DictReader(io.StringIO(run("chance", *where, "--format", "csv").out)))
    assert "Answers 2 days sooner" in text.err
    assert len(text.out.splitlines()) == len(rows) + 1
    assert text.out.split("\n")[0].endswith("chance then  bottles then")
    assert all(row["group"] in text.out for row in rows)


def test_that_lanes_that_are_not_measured_are_named(
    run: Run, fleet: Fleet, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fluiddesk.services.catch_chances.lanes.least_bottles", lambda: 10**9)
    told = run("chance", "--database", fleet.address)
    assert "Not measured:" in told.err
    assert "7 days assumed" in told.err


@pytest.mark.parametrize(
    "wrong",
    [
        ("--interval-share", "0"),
        ("--interval-hours", "-5"),
        ("--turnaround-days", "nan"),
        ("--days-sooner", "400"),
        ("--interval-hours", "soon"),
        ("--interval-hours", "5", "--interval-share", "0.5"),
    ],
)
def test_that_what_cannot_be_asked_is_refused(
    run: Run, fleet: Fleet, wrong: tuple[str, ...]
) -> None:
    assert run("chance", *wrong, "--database", fleet.address).code == Exit.USAGE
