"""Rows put aside: shown with their headings, corrected and taken in, or given up."""

from datetime import timedelta

import pytest

from fluiddesk.domain.errors import NotFoundError, OperatorError
from fluiddesk.domain.severity import Severity
from fluiddesk.services.lab_intake.held import held_rows, release_row, settle_row
from fluiddesk.services.lab_intake.take_in import past_intakes, undo_intake
from tests.fleets import LAST_DAY, NOW, Fleet, results

LATER = NOW + timedelta(hours=1)


@pytest.fixture
def held(fleet: Fleet):
    """A file with one sound row and one whose iron was mistyped."""
    calm = fleet.boxes("engine", Severity.NORMAL)
    codes = [fleet.draw(box, at) for at, box in enumerate(calm[:2], start=1)]
    fleet.take_in(
        fleet.lab_file(
            "two.csv", results(codes[0], iron=12), results(codes[1], iron="12,4O", copper=3)
        )
    )
    [row] = held_rows(fleet.place)
    return row


def test_that_a_held_row_shows_its_cells_under_their_headings(held):
    assert dict(held.cells)["iron [mg/kg]"] == "12,4O"
    assert held.row == 3
    assert '"12,4O"' in held.reason
    assert held.file_name == "two.csv"


def test_that_a_corrected_row_is_taken_in_and_waits_no_more(fleet: Fleet, held):
    at = [heading for heading, _ in held.cells].index("iron [mg/kg]")
    changes = release_row(fleet.place, held, corrected={at: "480"}, moment=LATER, today=LAST_DAY)
    [compartment] = changes.compartments
    assert fleet.condition(compartment)["severity"] == Severity.URGENT
    assert held_rows(fleet.place) == ()
    assert fleet.check() == []
    with pytest.raises(NotFoundError, match="does not wait any more"):
        release_row(fleet.place, held, moment=LATER, today=LAST_DAY)


def test_that_a_released_row_is_undone_with_its_file(fleet: Fleet, held):
    at = [heading for heading, _ in held.cells].index("iron [mg/kg]")
    changes = release_row(fleet.place, held, corrected={at: "480"}, moment=LATER, today=LAST_DAY)
    [past] = past_intakes(fleet.place)
    undo_intake(fleet.place, past.intake_id, moment=LATER, today=LAST_DAY)
    [compartment] = changes.compartments
    assert fleet.condition(compartment)["severity"] == Severity.NORMAL


def test_that_a_row_still_wrong_stays_and_says_why(fleet: Fleet, held):
    with pytest.raises(OperatorError, match='"12,4O"'):
        release_row(fleet.place, held, moment=LATER, today=LAST_DAY)
    assert len(held_rows(fleet.place)) == 1


def test_that_a_row_is_given_up_with_a_reason(fleet: Fleet, held):
    with pytest.raises(OperatorError, match="Say why"):
        settle_row(fleet.place, held, outcome=" ", moment=LATER)
    settle_row(fleet.place, held, outcome="sent again", moment=LATER)
    assert held_rows(fleet.place) == ()


def test_that_a_row_put_aside_without_headings_asks_for_the_file(fleet: Fleet, held):
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        [record] = desk.results.held_rows()
        desk.results.settle_held_row(record, outcome="for the test")
        from dataclasses import replace

        bare = {key: text for key, text in record.cells.items() if key != "headings"}
        desk.results.add_held_rows([replace(record, cells=bare, row_number=9)])
    [row] = held_rows(fleet.place)
    with pytest.raises(OperatorError, match="Read the file again"):
        release_row(fleet.place, row, moment=LATER, today=LAST_DAY)


def test_that_a_file_whose_rows_are_all_held_is_put_aside_and_released_later(fleet: Fleet) -> None:
    box = fleet.boxes("engine", Severity.NORMAL)[0]
    file = fleet.lab_file("bad.csv", results(fleet.draw(box, 1), iron="12,4O"))
    result = fleet.take_in(file)
    assert (result.taken_in, result.held) == (0, 1)
    assert result.intake_id is not None
    [row] = held_rows(fleet.place)
    at = [heading for heading, _ in row.cells].index("iron [mg/kg]")
    release_row(fleet.place, row, corrected={at: "480"}, moment=LATER, today=LAST_DAY)
    assert fleet.condition(box.compartment_id)["severity"] == Severity.URGENT
    assert held_rows(fleet.place) == ()
    assert fleet.check() == []


def test_that_a_file_put_aside_is_taken_in_once_its_bottle_is_on_the_register(
    fleet: Fleet,
) -> None:
    box = fleet.boxes("engine", Severity.NORMAL)[0]
    code = fleet.draw(box, 1)
    file = fleet.lab_file("bad.csv", results("26T-99999-9", iron=480))
    assert fleet.take_in(file).held == 1
    again = fleet.take_in(file)
    assert again.already_taken_in
    assert (again.taken_in, again.held) == (0, 1)
    both = fleet.lab_file("good.csv", results(code, iron=480))
    assert fleet.take_in(both).taken_in == 1
    assert len(held_rows(fleet.place)) == 1


def test_that_rows_put_aside_go_with_the_undoing_of_their_file(fleet: Fleet) -> None:
    result = fleet.take_in(fleet.lab_file("bad.csv", results("26T-99999-9", iron=480)))
    assert result.intake_id is not None
    undo_intake(fleet.place, result.intake_id, moment=LATER, today=LAST_DAY)
    assert held_rows(fleet.place) == ()
    assert fleet.take_in(fleet.lab_file("bad.csv", results("26T-99999-9", iron=480))).held == 1
