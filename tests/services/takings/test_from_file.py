"""Visit sheets as a file: blank rows out, filled rows in, every fault with its row."""

import csv
from pathlib import Path
from typing import Any

import pytest

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.samples import DrawMethod, SampleState
from fluiddesk.services.register.saving import RegisterFaultsError
from fluiddesk.services.takings.from_file import COLUMNS, blank_rows, read_takings
from fluiddesk.services.takings.record import record_visits
from fluiddesk.services.visits.book import issue_bottles, save_visits
from fluiddesk.services.visits.facts import VisitState
from fluiddesk.services.visits.plan import PlanWishes, propose_visits
from fluiddesk.services.visits.read import visits
from tests.fleets import LAST_DAY, NOW, Fleet
from tests.services.takings.test_record import AFTER, TODAY

Rows = list[dict[str, Any]]


@pytest.fixture
def rows(fleet: Fleet) -> Rows:
    """The filled-in rows of two visits."""
    plan = propose_visits(fleet.place, today=LAST_DAY, wishes=PlanWishes(days=28))
    some = [one for one in plan.visits if len(one.boxes) >= 2][:2]
    ids = save_visits(fleet.place, some, moment=NOW)
    issue_bottles(fleet.place, ids, today=LAST_DAY, moment=NOW)
    made = blank_rows(fleet.place, today=TODAY)
    seen: set[str] = set()
    for row in made:
        row |= {"flushed": "y", "litres_added": "0", "fluid_changed": "n", "filter_changed": "n"}
        # The head stands on the first row of each machine alone.
        if row["machine"] not in seen:
            row |= {"taken_on": TODAY.isoformat(), "taken_at": "10:30", "taken_by": "Robin"}
            row["meter_unreadable"] = "y"
        seen.add(row["machine"])
    return made


def written(path: Path, rows: Rows, delimiter: str = ",") -> Path:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, COLUMNS, delimiter=delimiter)
        writer.writeheader()
        writer.writerows(rows)
    return path


@pytest.mark.parametrize("delimiter", [",", ";"])
def test_that_filled_rows_are_recorded_as_their_visits(
    fleet: Fleet, rows: Rows, tmp_path: Path, delimiter: str
) -> None:
    rows[0] |= {"litres_added": "1,5", "method": "d", "note": "Öl, dunkel"}
    rows[-1] |= {"taken": "n", "note": "no access"}
    done = read_takings(fleet.place, written(tmp_path / "t.csv", rows, delimiter), today=TODAY)
    first = done[0].bottles[0]
    assert (first.litres_added, first.method) == (1.5, DrawMethod.DRAIN_STREAM)
    assert first.note == "Öl, dunkel"
    assert not done[1].bottles[-1].is_taken
    recorded = record_visits(fleet.place, done, today=TODAY, moment=AFTER)
    assert sum(len(one.samples) for one in recorded) == len(rows) - 1
    assert len(visits(fleet.place, today=TODAY, states={VisitState.DONE})) == 2
    with fleet.place.store.reading() as desk:
        samples = desk.sampling.by_bottle([row["bottle"] for row in rows])
    assert samples[rows[-1]["bottle"]].state is SampleState.NOT_TAKEN
    assert fleet.check() == []
    with pytest.raises(OperatorError, match=r"Row 2: bottle .* waits on no visit"):
        read_takings(fleet.place, tmp_path / "t.csv", today=TODAY)


def test_that_every_fault_is_told_with_its_row_and_nothing_is_read(
    fleet: Fleet, rows: Rows, tmp_path: Path
) -> None:
    rows[0] |= {"litres_added": "much", "bottle": rows[0]["bottle"].lower()}
    rows[1] |= {"bottle": "26P-00001-0", "taken_by": "Noor"}
    rows[2] |= {"flushed": "maybe"}
    with pytest.raises(OperatorError) as raised:
        read_takings(fleet.place, written(tmp_path / "t.csv", rows), today=TODAY)
    told = str(raised.value)
    assert "t.csv was not read" in told
    assert 'Row 2: litres_added: "much" is not a number' in told
    assert "Row 3: " in told
    assert 'Row 4: "maybe" is neither yes nor no' in told


def test_that_a_visit_with_two_answers_for_one_thing_is_refused(
    fleet: Fleet, rows: Rows, tmp_path: Path
) -> None:
    rows[1]["taken_by"] = "Noor"
    rows[2]["bottle"] = rows[0]["bottle"]
    with pytest.raises(OperatorError, match='taken_by is "Robin" and "Noor"') as raised:
        read_takings(fleet.place, written(tmp_path / "t.csv", rows), today=TODAY)
    assert "listed twice" in str(raised.value)


def test_that_a_missing_must_of_one_visit_records_none(
    fleet: Fleet, rows: Rows, tmp_path: Path
) -> None:
    rows[-1]["litres_added"] = ""
    done = read_takings(fleet.place, written(tmp_path / "t.csv", rows), today=TODAY)
    before = fleet.dump()
    with pytest.raises(RegisterFaultsError, match="Litres added"):
        record_visits(fleet.place, done, today=TODAY, moment=AFTER)
    assert fleet.dump() == before


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("machine,bottle\nEX-1,26P\n", "no column taken_on, taken_by"),
        (f"{','.join(COLUMNS)}\n", "names no bottle"),
    ],
)
def test_that_a_file_that_is_none_is_refused(
    fleet: Fleet, tmp_path: Path, text: str, why: str
) -> None:
    (tmp_path / "t.csv").write_text(text, encoding="utf-8")
    with pytest.raises(OperatorError, match=why):
        read_takings(fleet.place, tmp_path / "t.csv", today=TODAY)
