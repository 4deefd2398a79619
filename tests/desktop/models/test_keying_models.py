from datetime import UTC, datetime

from PySide6.QtCore import Qt
from PySide6.QtTest import QAbstractItemModelTester

from fluiddesk.desktop.models.held_rows import HeldColumn, HeldRowModel
from fluiddesk.desktop.models.keying_grid import (
    DOUBT_ROLE,
    GHOST_ROLE,
    GridColumn,
    KeyingGridModel,
)
from fluiddesk.desktop.models.results_queue import ResultsQueueModel
from fluiddesk.desktop.theme import make_theme
from fluiddesk.desktop.viewstate.held_rows import HeldRowState, held_since, held_title
from fluiddesk.desktop.viewstate.keying import KeyingState, Stop
from fluiddesk.desktop.viewstate.results_queue import QueueColumn, QueuePart
from fluiddesk.domain.severity import Severity
from fluiddesk.services.lab_intake.held import HeldRowFacts
from tests.desktop.makers_keying import (
    make_cell,
    make_checked,
    make_draft,
    make_line,
    make_queue,
    make_report,
    make_warning,
)


def make_held() -> HeldRowFacts:
    return HeldRowFacts(
        intake_id=b"i" * 16,
        file_name="north.csv",
        layout="north",
        row=5,
        bottle_code="26K-01032-8",
        cells=(("Bottle", "26K-01032-8"), ("Fe", "12,4O"), ("", "")),
        reason='"12,4O" is not a number.',
        since=datetime(2026, 6, 8, tzinfo=UTC),
        who="Clerk",
    )


def grid_model(qapp: object, **texts: str) -> KeyingGridModel:
    report = make_report(make_cell("Fe", decides=True), make_cell("Cu"))
    model = KeyingGridModel(theme=make_theme("light"))
    model.show_state(KeyingState(report, make_draft(cells=texts)))
    return model


def test_that_the_grid_is_a_sound_model_before_and_after_a_report(qapp: object) -> None:
    model = KeyingGridModel(theme=make_theme("light"))
    tester = QAbstractItemModelTester(model)
    model.show_state(KeyingState(make_report(), make_draft()))
    model.show_state(None)
    assert tester.model() is model


def test_that_values_alone_can_be_typed_into_and_every_letter_is_told(qapp: object) -> None:
    model, heard = grid_model(qapp), []
    model.typed.connect(lambda row, text: heard.append((row, text)))
    index = model.index_of(Stop(row=4))
    assert model.flags(index) & Qt.ItemFlag.ItemIsEditable
    assert not model.flags(index.siblingAtColumn(GridColumn.UNIT)) & Qt.ItemFlag.ItemIsEditable
    assert model.setData(index, "2")
    assert model.setData(index, "22")
    assert heard == [(4, "2"), (4, "22")]
    assert not model.setData(index.siblingAtColumn(GridColumn.LAST), "1")


def test_that_an_empty_cell_shows_the_expected_value_as_a_ghost(qapp: object) -> None:
    model = grid_model(qapp)
    index = model.index_of(Stop(row=4))
    assert index.data() == ""
    assert index.data(GHOST_ROLE) == "22"
    assert index.siblingAtColumn(GridColumn.EXPECTED).data() == "8 to 56"
    assert index.siblingAtColumn(GridColumn.UNIT).data() == "mg/kg"


def test_that_an_open_warning_marks_its_row(qapp: object) -> None:
    model = grid_model(qapp, Fe="220")
    assert model.state is not None
    model.state.checked = make_checked(make_warning())
    note = model.index(4, GridColumn.NOTE)
    assert note.data() == "Decimal slip: 22.0?"
    assert note.data(DOUBT_ROLE) is True
    assert model.index(5, GridColumn.NOTE).data(DOUBT_ROLE) is False


def test_that_the_second_pass_opens_the_other_column(qapp: object) -> None:
    model, heard = grid_model(qapp, Fe="22"), []
    model.typed_again.connect(lambda row, text: heard.append((row, text)))
    assert model.state is not None
    model.state.second_pass = True
    first, again = model.index_of(Stop(row=4)), model.index_of(Stop(row=4, again=True))
    assert not model.flags(first) & Qt.ItemFlag.ItemIsEditable
    assert model.stop(again) == Stop(row=4, again=True)
    assert model.setData(again, "22")
    assert heard == [(4, "22")]


def test_that_the_queue_is_a_sound_model_under_every_filter(qapp: object) -> None:
    model = ResultsQueueModel(theme=make_theme("light"))
    tester = QAbstractItemModelTester(model)
    model.show_queue(make_queue(to_key=(make_line(last_severity=Severity.ACT),)))
    assert model.is_heading(0)
    assert model.value(1, QueueColumn.LAST) == (Severity.ACT, Severity.ACT)
    model.show_part(QueuePart.BEGUN)
    assert model.rowCount() == 1
    model.show_queue(make_queue())
    assert tester.model() is model


def test_that_a_held_row_is_corrected_in_its_own_column(qapp: object) -> None:
    model = HeldRowModel(theme=make_theme("light"))
    tester = QAbstractItemModelTester(model)
    state = HeldRowState(make_held())
    model.show_state(state)
    # The empty cell under no heading is left out.
    assert model.rowCount() == 2
    assert not model.setData(model.index(1, HeldColumn.PRINTED), "1")
    assert model.setData(model.index(1, HeldColumn.TAKEN), "12,40")
    assert state.corrected == {1: "12,40"}
    assert model.setData(model.index(1, HeldColumn.TAKEN), "12,4O")
    assert state.corrected == {}
    assert tester.model() is model


def test_that_a_held_row_says_which_it_is() -> None:
    assert held_title(make_held()) == "Row 5 of north.csv, 26K-01032-8"
    assert "2026-06-08" in held_since(make_held())
