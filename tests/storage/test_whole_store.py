from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import update
from sqlalchemy.exc import DBAPIError

from fluiddesk.domain.errors import OperatorError, UsageError
from fluiddesk.storage import DeskStore, check_store, copy_store, open_store, unpack
from fluiddesk.storage.tables.derived import HistoryBlockRow
from tests.stores import CLERK, LATER, MOMENT, SITE, Filled, fill, make_store, report_all


def run(store: DeskStore, statement: str) -> None:
    with store.transaction(who=CLERK, moment=LATER) as desk:
        desk.session.connection.exec_driver_sql(statement)


def test_that_a_store_in_order_has_no_problems(store: DeskStore, filled: Filled) -> None:
    report_all(store, filled)
    assert check_store(store) == []


def test_that_one_flipped_value_in_a_packed_history_is_found(
    store: DeskStore, filled: Filled
) -> None:
    report_all(store, filled)
    with store.transaction(who=CLERK, moment=LATER) as desk:
        (key,), (blob,) = desk.blocks.all()
        history = unpack(blob, 0)
        history.values[1, 0] = np.nextafter(history.values[1, 0], np.inf)
        desk.blocks.write({key: history})
    assert check_store(store) == [
        "packed history of EX-01 engine: differs from the readings in values"
    ]


def test_that_a_missing_and_a_spoilt_history_are_found(store: DeskStore, filled: Filled) -> None:
    report_all(store, filled)
    with store.transaction(who=CLERK, moment=LATER) as desk:
        desk.session.connection.execute(update(HistoryBlockRow).values(block=b"\0"))
    assert check_store(store) == ["packed history of EX-01 engine: cannot be read"]
    run(store, "DELETE FROM history_block")
    assert check_store(store) == ["packed history of EX-01 engine: missing"]


def test_that_a_standing_that_its_assessment_does_not_give_is_found(
    store: DeskStore, filled: Filled
) -> None:
    report_all(store, filled)
    run(store, "UPDATE current_condition SET severity = 3")
    assert check_store(store) == ["standing of EX-01 engine: is not what its assessment says"]
    run(store, "DELETE FROM current_condition")
    assert check_store(store) == ["standing of EX-01 engine: missing"]


@pytest.mark.parametrize("change", ["UPDATE audit_trail SET who = 'x'", "DELETE FROM audit_trail"])
def test_that_the_audit_trail_cannot_be_changed(
    store: DeskStore, filled: Filled, change: str
) -> None:
    assert filled.samples
    with pytest.raises(DBAPIError, match="append only"):
        run(store, change)


def test_that_a_trail_changed_behind_our_back_is_found(store: DeskStore, filled: Filled) -> None:
    assert filled.samples
    if store.is_file:
        run(store, "DROP TRIGGER audit_trail_no_update")
    else:
        run(store, "DROP TRIGGER audit_trail_no_update ON audit_trail")
    run(store, "UPDATE audit_trail SET who = 'somebody else' WHERE place = 2")
    (problem,) = check_store(store)
    assert "link 2" in problem
    assert "by somebody else" in problem


def test_that_a_row_that_names_a_missing_row_is_found(tmp_path: Path) -> None:
    import sqlite3

    with make_store(tmp_path) as store:
        fill(store)
        behind = sqlite3.connect(tmp_path / "pit.fluid")
        behind.execute("DELETE FROM meter")
        behind.execute("DELETE FROM machine")
        behind.commit()
        behind.close()
        assert check_store(store) == [
            "a row of compartment names a row of machine that is not there"
        ]


def everything(store: DeskStore) -> list[object]:
    with store.reading() as desk:
        boxes = desk.fleet.compartments()
        return [
            desk.fleet.sites(),
            desk.fleet.machines(),
            boxes,
            desk.fleet.fluids(),
            desk.catalogue.analytes(),
            [desk.sampling.samples_of(box.id) for box in boxes],
            [desk.results.sheets_of(box.id) for box in boxes],
            [desk.results.readings_of(box.id) for box in boxes],
            [desk.assessments.of_compartment(box.id) for box in boxes],
            desk.blocks.all(),
            desk.condition.rows(),
            desk.audit.newest(SITE),
        ]


def test_that_a_copy_to_a_file_holds_the_same(
    store: DeskStore, filled: Filled, tmp_path: Path
) -> None:
    report_all(store, filled)
    target = str(tmp_path / "copy.fluid")
    assert copy_store(store.address, target, moment=LATER)["reading"] == 6
    with open_store(target) as copy:
        assert everything(copy) == everything(store)
        assert check_store(copy) == []


def test_that_a_copy_to_a_server_holds_the_same(postgres_address: str, tmp_path: Path) -> None:
    with make_store(tmp_path) as store:
        report_all(store, fill(store))
        copy_store(store.address, postgres_address, moment=LATER)
        with open_store(postgres_address) as copy:
            assert everything(copy) == everything(store)
            assert check_store(copy) == []
        with pytest.raises(UsageError, match="not empty"):
            copy_store(store.address, postgres_address, moment=LATER)


def test_that_a_copy_never_writes_over_a_file(store: DeskStore, tmp_path: Path) -> None:
    target = tmp_path / "copy.fluid"
    target.write_text("mine")
    with pytest.raises(UsageError, match="exists already"):
        copy_store(store.address, str(target), moment=MOMENT)
    assert target.read_text() == "mine"


def test_that_a_copy_of_something_else_is_refused(tmp_path: Path) -> None:
    (tmp_path / "text").write_text("Dear laboratory")
    with pytest.raises(OperatorError, match="not a database of this program"):
        copy_store(str(tmp_path / "text"), str(tmp_path / "copy.fluid"), moment=MOMENT)
