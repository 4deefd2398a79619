"""The Register page: shown, edited, saved, undone, and led through the first hour."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication, QImage
from PySide6.QtWidgets import QComboBox, QLineEdit
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.screens.register import RegisterScreen
from fluiddesk.desktop.theme import make_theme
from fluiddesk.desktop.viewstate.record_trail import TrailLine
from fluiddesk.desktop.viewstate.register import Section
from fluiddesk.domain.errors import OperatorError, StaleEditError
from fluiddesk.services.register.facts import (
    CompartmentFacts,
    FieldFault,
    MachineFacts,
    RegisterFacts,
)
from fluiddesk.services.register_files.facts import RegisterPreview
from fluiddesk.services.search.facts import HitKind
from fluiddesk.services.workplace import Workplace
from fluiddesk.wiring import Clock
from tests.desktop.makers_outside import NEW_FLUID, OutsideDouble
from tests.desktop.makers_register import (
    CATALOGUE,
    EMPTY,
    HAPPENED,
    PREVIEW,
    TODAY,
    CallsDouble,
    machine_key,
    make_register,
)

PLACE = Workplace(store=None, catalogue=CATALOGUE, who="Kim")  # type: ignore[arg-type]


@pytest.fixture
def calls() -> CallsDouble:
    return CallsDouble(register=make_register(8))


@pytest.fixture
def background() -> Iterator[Background]:
    made = Background()
    yield made
    made.close()


@pytest.fixture
def screen(qtbot: QtBot, calls: CallsDouble, background: Background) -> RegisterScreen:
    return show(qtbot, calls, background)


def show(qtbot: QtBot, calls: CallsDouble, background: Background) -> RegisterScreen:
    made = RegisterScreen(
        PLACE,
        clock=Clock(demo_day=TODAY),
        theme=make_theme("light"),
        background=background,
        calls=calls,
    )
    made.resize(1044, 700)
    qtbot.addWidget(made)
    made.show()
    made.refresh()
    settle(qtbot, background)
    return made


def settle(qtbot: QtBot, background: Background) -> None:
    qtbot.waitUntil(lambda: not background.jobs)


def field(screen: RegisterScreen, key: str) -> QLineEdit:
    editor = screen.panel.editor.editor(key)
    assert isinstance(editor, QLineEdit)
    return editor


def test_that_the_page_opens_on_the_first_machine(screen: RegisterScreen) -> None:
    assert screen.sentence.startswith("8 machines at 1 site")
    assert screen.stack.currentWidget() is screen.list
    assert isinstance(screen.record, MachineFacts)
    assert screen.record.code == "HT-01"
    assert field(screen, "serial").text() == "S7001"


def test_that_a_machine_asked_for_before_the_register_is_read_is_shown_then(
    qtbot: QtBot, calls: CallsDouble, background: Background
) -> None:
    made = RegisterScreen(
        PLACE,
        clock=Clock(demo_day=TODAY),
        theme=make_theme("light"),
        background=background,
        calls=calls,
    )
    qtbot.addWidget(made)
    made.open_machine(bytes(machine_key(5)))
    made.refresh()
    settle(qtbot, background)
    assert field(made, "code").text() == "HT-05"


def test_that_arrows_walk_from_machine_to_machine(screen: RegisterScreen, qtbot: QtBot) -> None:
    qtbot.keyClick(screen.list.table, Qt.Key.Key_Down)
    assert field(screen, "code").text() == "HT-02"


def test_that_a_changed_field_is_saved_with_the_version_that_was_read(
    screen: RegisterScreen, qtbot: QtBot, calls: CallsDouble, background: Background
) -> None:
    assert not screen.panel.editor.save_button.isVisible()
    field(screen, "model").clear()
    qtbot.keyClicks(field(screen, "model"), "R450")
    assert screen.panel.editor.save_button.text() == "Save HT-01"
    with qtbot.waitSignal(screen.changed):
        qtbot.keyClick(field(screen, "model"), Qt.Key.Key_Return)
    [(what, saved)] = calls.asked
    assert what == "save"
    assert (saved.model, saved.version, saved.serial) == ("R450", 2, "S7001")
    settle(qtbot, background)
    assert not screen.panel.editor.is_dirty


def test_that_undo_takes_back_a_field_at_a_time(screen: RegisterScreen, qtbot: QtBot) -> None:
    for key, text in (("model", "R450"), ("serial", "S1")):
        field(screen, key).setFocus()
        field(screen, key).selectAll()
        qtbot.keyClicks(field(screen, key), text)
    control = Qt.KeyboardModifier.ControlModifier
    qtbot.keyClick(field(screen, "serial"), Qt.Key.Key_Z, control)
    assert (field(screen, "model").text(), field(screen, "serial").text()) == ("R450", "S7001")
    qtbot.keyClick(field(screen, "serial"), Qt.Key.Key_Z, control)
    assert field(screen, "model").text() == "R200"
    assert not screen.panel.editor.is_dirty
    qtbot.keyClick(
        field(screen, "serial"), Qt.Key.Key_Z, control | Qt.KeyboardModifier.ShiftModifier
    )
    assert field(screen, "model").text() == "R450"


def test_that_a_wrong_field_is_told_beside_it_and_is_not_saved(
    screen: RegisterScreen, calls: CallsDouble
) -> None:
    field(screen, "criticality").setText("7")
    assert screen.panel.editor.problem("criticality") == "7 is too high. Write 5 or less."
    screen.panel.editor.save()
    assert calls.asked == []


def test_that_leaving_an_unsaved_record_asks_on_the_page(
    screen: RegisterScreen, qtbot: QtBot
) -> None:
    field(screen, "model").setText("R450")
    qtbot.keyClick(screen.list.table, Qt.Key.Key_Down)
    assert screen.notice.text == "HT-01 is not saved Changed: Model."
    assert field(screen, "code").text() == "HT-01"
    screen.notice.actions_shown[0].click()
    assert not screen.panel.editor.is_dirty
    assert field(screen, "code").text() == "HT-02"


def test_that_a_refusal_of_the_services_is_told_and_nothing_written_is_lost(
    screen: RegisterScreen, qtbot: QtBot, calls: CallsDouble, background: Background
) -> None:
    calls.error = OperatorError('There is a machine "HT-02" on this site already.')
    field(screen, "code").setText("HT-02")
    screen.panel.editor.save()
    settle(qtbot, background)
    assert 'There is a machine "HT-02"' in screen.notice.text
    assert field(screen, "code").text() == "HT-02"


def test_that_the_second_of_two_editors_is_shown_both_versions(
    screen: RegisterScreen, qtbot: QtBot, calls: CallsDouble, background: Background
) -> None:
    first, *others = calls.register.machines
    theirs = replace(first, model="R900", version=3)
    calls.register = replace(calls.register, machines=(theirs, *others))
    calls.error = StaleEditError("machine HT-01 was changed by Ana.")
    field(screen, "model").setText("R450")
    field(screen, "serial").setText("S1")
    screen.panel.editor.save()
    settle(qtbot, background)
    assert "changed by Ana" in screen.notice.text
    assert 'Model: was "R200", you wrote "R450", now "R900".' in screen.notice.text
    keep = next(one for one in screen.notice.actions_shown if one.text() == "Keep mine")
    keep.click()
    assert (field(screen, "model").text(), field(screen, "serial").text()) == ("R450", "S1")
    screen.panel.editor.save()
    settle(qtbot, background)
    assert calls.asked[-1][1].version == 3


def test_that_a_box_is_edited_beside_its_machine_and_left_by_the_way_back(
    screen: RegisterScreen, qtbot: QtBot
) -> None:
    screen.panel.below.parts.selectRow(0)
    qtbot.keyClick(screen.panel.below.parts, Qt.Key.Key_Return)
    assert isinstance(screen.record, CompartmentFacts)
    assert screen.panel.title.text() == "Engine"
    qtbot.mouseClick(screen.panel.back_button, Qt.MouseButton.LeftButton)
    assert isinstance(screen.record, MachineFacts)


def test_that_planned_fluid_changes_are_typed_beside_the_interval(
    screen: RegisterScreen, qtbot: QtBot, calls: CallsDouble
) -> None:
    screen.panel.below.parts.selectRow(0)
    qtbot.keyClick(screen.panel.below.parts, Qt.Key.Key_Return)
    qtbot.keyClicks(field(screen, "change_interval_hours"), "500")
    qtbot.keyClicks(field(screen, "change_interval_days"), "365")
    with qtbot.waitSignal(screen.changed):
        qtbot.keyClick(field(screen, "change_interval_days"), Qt.Key.Key_Return)
    [(_, saved)] = calls.asked
    assert (saved.change_interval_hours, saved.change_interval_days) == (500.0, 365)


def test_that_what_a_box_lacks_is_told_above_its_form(screen: RegisterScreen) -> None:
    screen.open_machine(
        bytes(next(one.id for one in screen._state.facts.machines if one.code == "HT-04"))
    )  # type: ignore[union-attr]
    assert screen.panel.lacks.text() == "HT-04 engine: the capacity is missing. Write it."


def test_that_papers_remarks_and_changes_stand_below_a_record(
    screen: RegisterScreen, qtbot: QtBot, calls: CallsDouble, background: Background
) -> None:
    calls.lines = (
        TrailLine(at="2026-06-30 08:00", who="Kim", what="paper", words="photo.png", paper=b"p"),
        TrailLine(at="2026-06-29 08:00", who="Ana", what="remark", words="Leaks at the plug."),
    )
    screen.refresh()
    settle(qtbot, background)
    below = screen.panel.below
    assert below.chips.button("trail").text() == "Papers, remarks, changes 2"
    below.chips.button("trail").click()
    assert below.trail.model().index(1, 3).data() == "Leaks at the plug."
    below.remark_button.click()
    screen.panel.editor.write("words", "Seal renewed.")
    screen.panel.editor.save_button.click()
    settle(qtbot, background)
    assert calls.asked[0][0] == "remark"
    assert calls.asked[0][2] == {"words": "Seal renewed."}


def test_that_a_paper_is_attached_to_the_record_on_screen(
    screen: RegisterScreen, qtbot: QtBot, calls: CallsDouble, background: Background
) -> None:
    screen.editing.attach("photo.png")
    settle(qtbot, background)
    what, record, path = calls.asked[0]
    assert (what, record.code, path) == ("attach", "HT-01", Path("photo.png"))


def test_that_a_meter_reading_is_recorded_by_its_own_form(
    screen: RegisterScreen, qtbot: QtBot, calls: CallsDouble, background: Background
) -> None:
    screen.panel.action("Meter reading").click()
    assert field(screen, "read_on").text() == "2026-06-30"
    assert not screen.panel.editor.save_button.isEnabled()
    field(screen, "value").setText("12500")
    screen.panel.editor.save_button.click()
    settle(qtbot, background)
    key, record, values = calls.asked[0]
    assert (key, record.code, values["value"]) == ("reading", "HT-01", 12500.0)
    assert field(screen, "code").text() == "HT-01"


def test_that_the_last_change_can_be_undone(
    screen: RegisterScreen, qtbot: QtBot, calls: CallsDouble, background: Background
) -> None:
    screen.panel.action("Undo change").click()
    settle(qtbot, background)
    assert calls.asked[0][0] == "undo"


def test_that_the_filter_keeps_the_record_on_screen(screen: RegisterScreen, qtbot: QtBot) -> None:
    qtbot.keyClick(screen.list, Qt.Key.Key_F, Qt.KeyboardModifier.ControlModifier)
    assert screen.list.filter_box.hasFocus()
    qtbot.keyClicks(screen.list.filter_box, "capacity")
    assert screen.list.table.model().rowCount() == 3
    assert field(screen, "code").text() == "HT-01"
    screen.list.filter_box.setText("no such machine")
    assert not screen.list.table.isVisible()


@pytest.mark.parametrize("section", [Section.FLUIDS, Section.LABORATORIES, Section.USERS])
def test_that_another_list_opens_on_its_first_record(
    screen: RegisterScreen, section: Section
) -> None:
    screen.list.chips.button(section.value).click()
    assert screen.list.table.model().rowCount() == screen._state.count(section)  # type: ignore[union-attr]
    assert not isinstance(screen.record, MachineFacts)
    screen.list.add_button.click()
    assert screen.panel.title.text().startswith("New ")


def test_that_what_follows_from_a_save_is_told(
    screen: RegisterScreen, calls: CallsDouble, qtbot: QtBot, background: Background
) -> None:
    calls.told = "Chance to catch a fault: Engine 62 % \N{RIGHTWARDS ARROW} 48 %."
    screen.list.chips.button(Section.LABORATORIES.value).click()
    field(screen, "lane_days").setText("9")
    screen.panel.editor.save()
    settle(qtbot, background)
    assert calls.told in screen.notice.text
    assert "look at this" not in screen.notice.text


def test_that_an_empty_database_is_led_through_the_first_hour(
    qtbot: QtBot, background: Background
) -> None:
    calls = CallsDouble(register=EMPTY)
    screen = show(qtbot, calls, background)
    assert screen.stack.currentWidget() is screen.first_hour
    screen.first_hour.button("new_site").click()
    assert screen.panel.title.text() == "New site"
    field(screen, "name").setText("Kestrel pit")
    screen.panel.editor.save_button.click()
    settle(qtbot, background)
    assert calls.asked[0][1].name == "Kestrel pit"


def test_that_steps_out_of_sight_leave_the_keyboard_where_it_is(
    screen: RegisterScreen, qtbot: QtBot
) -> None:
    screen.window().activateWindow()
    screen.list.filter_box.setFocus()
    qtbot.waitUntil(screen.list.filter_box.hasFocus)
    steps = screen.first_hour._steps
    assert any(not one.is_done and one.actions for one in steps)
    screen.first_hour.show_steps(steps)
    assert screen.list.filter_box.hasFocus()


def test_that_a_new_machine_at_the_only_site_begins_with_its_number(
    screen: RegisterScreen, qtbot: QtBot
) -> None:
    screen.window().activateWindow()
    screen.list.add_button.click()
    chooser = screen.panel.editor.editor("site")
    assert isinstance(chooser, QComboBox)
    assert chooser.count() == 1
    qtbot.waitUntil(screen.panel.editor.editor("code").hasFocus)


def test_that_a_step_leads_to_the_first_record_that_lacks_it(screen: RegisterScreen) -> None:
    screen.list.steps_button.click()
    assert screen.stack.currentWidget() is screen.first_hour
    screen.first_hour.button("lacking_fluid").click()
    assert screen.panel.title.text() == "Engine"
    assert screen.panel.back_button.text() == "HT-04"


def test_that_label_texts_go_to_the_clipboard(screen: RegisterScreen) -> None:
    screen.list.steps_button.click()
    screen.first_hour.button("labels").click()
    assert QGuiApplication.clipboard().text().startswith("machine\tcompartment\tfluid")


def test_that_files_with_problems_cannot_be_imported(
    screen: RegisterScreen, qtbot: QtBot, background: Background
) -> None:
    screen.files.open_files(["machines.csv"])
    settle(qtbot, background)
    assert screen.stack.currentWidget() is screen.files
    assert screen.sentence == PREVIEW.sentence
    assert not screen.files.panel.import_button.isEnabled()
    assert "Write its litres" in screen.files.panel.told.text()
    screen.files.panel.aside_button.click()
    assert screen.stack.currentWidget() is screen.list
    assert screen.sentence.startswith("8 machines")


def test_that_sound_files_are_imported_in_one_piece(
    screen: RegisterScreen, qtbot: QtBot, calls: CallsDouble, background: Background
) -> None:
    calls.preview = RegisterPreview(files=PREVIEW.files, problems=(), problem_count=0)
    screen.files.open_files(["machines.csv", "compartments.csv"])
    settle(qtbot, background)
    assert screen.files.panel.import_button.text() == "Import 132 rows"
    with qtbot.waitSignal(screen.changed):
        screen.files.panel.import_button.click()
    settle(qtbot, background)
    assert calls.asked[-1] == ("import", (Path("machines.csv"), Path("compartments.csv")))
    assert screen.stack.currentWidget() is screen.list


def test_that_a_file_that_cannot_be_read_is_told(
    screen: RegisterScreen, qtbot: QtBot, calls: CallsDouble, background: Background
) -> None:
    calls.error = OperatorError("machines.csv is empty. Choose another file.")
    screen.files.open_files(["machines.csv"])
    settle(qtbot, background)
    assert "Choose another file." in screen.notice.text
    assert screen.stack.currentWidget() is screen.list


def test_that_reading_files_can_be_cancelled_and_leads_back(
    screen: RegisterScreen, qtbot: QtBot, calls: CallsDouble, background: Background
) -> None:
    calls.is_slow = True
    screen.files.open_files(["machines.csv"])
    qtbot.waitUntil(lambda: any(job.total == 10 for job in background.jobs))
    assert screen.stack.currentWidget() is screen.files
    assert screen.files._strip.isVisible()
    screen.files._strip.cancel_button.click()
    settle(qtbot, background)
    assert screen.stack.currentWidget() is screen.list
    assert screen.sentence.startswith("8 machines")
    assert not screen.notice.text


def test_that_an_import_that_is_cancelled_leaves_its_preview(
    screen: RegisterScreen, qtbot: QtBot, calls: CallsDouble, background: Background
) -> None:
    calls.preview = RegisterPreview(files=PREVIEW.files, problems=(), problem_count=0)
    screen.files.open_files(["machines.csv"])
    settle(qtbot, background)
    calls.is_slow = True
    screen.files.panel.import_button.click()
    qtbot.waitUntil(lambda: any(job.total == 10 for job in background.jobs))
    screen.files._strip.cancel_button.click()
    settle(qtbot, background)
    assert screen.stack.currentWidget() is screen.files
    assert screen.files.panel.import_button.isEnabled()


def test_that_the_register_is_exported_to_a_folder(
    screen: RegisterScreen, qtbot: QtBot, background: Background, tmp_path: Path
) -> None:
    screen.files.export(tmp_path)
    settle(qtbot, background)
    assert screen.sentence == f"Wrote 1 file to {tmp_path.name}."


@pytest.mark.parametrize("facts", [EMPTY, make_register(3)], ids=["empty", "full"])
def test_that_the_page_can_be_drawn_in_either_theme(
    screen: RegisterScreen, facts: RegisterFacts
) -> None:
    screen.show_facts(facts)
    for name in ("dark", "light"):
        screen.apply_theme(make_theme(name))
        assert not screen.grab().isNull()


def test_that_a_reading_is_voided_from_what_happened(
    screen: RegisterScreen, qtbot: QtBot, calls: CallsDouble, background: Background
) -> None:
    calls.happened = HAPPENED
    screen.refresh()
    settle(qtbot, background)
    below = screen.panel.below
    below.chips.button("history").click()
    assert below.chips.button("history").text() == f"What happened {len(HAPPENED)}"
    assert not below.deed_button.isVisible()
    below.history.selectRow(0)
    assert below.deed_button.text() == "Void this reading"
    below.deed_button.click()
    assert screen.panel.title.text() == "Void the reading of 2026-06-01"
    field(screen, "reason").setText("misread")
    screen.panel.editor.save_button.click()
    settle(qtbot, background)
    assert calls.asked == [("void", HAPPENED[0].subject, {"reason": "misread"})]
    assert field(screen, "code").text() == "HT-01"


def test_that_the_pictures_of_a_sampling_point_are_shown_small_and_open(
    screen: RegisterScreen, qtbot: QtBot, calls: CallsDouble, background: Background, tmp_path: Path
) -> None:
    calls.paper = tmp_path / "valve.png"
    picture = QImage(400, 300, QImage.Format.Format_RGB32)
    picture.fill(Qt.GlobalColor.darkGray)
    assert picture.save(str(calls.paper))
    calls.lines = (
        TrailLine(at="2026-06-30 08:00", who="Kim", what="paper", words="valve.png", paper=b"p",
                  is_picture=True),
        TrailLine(at="2026-06-29 08:00", who="Kim", what="paper", words="sheet.pdf", paper=b"q"),
    )  # fmt: skip
    row = next(
        n for n, part in enumerate(screen._state.part_rows(machine_key(1)))  # type: ignore[union-attr]
        if part.cells[0].startswith("Sampling point")
    )  # fmt: skip
    screen.panel.part_chosen.emit(row)
    settle(qtbot, background)
    [shown] = screen.panel.below.pictures.buttons
    assert shown.toolTip() == "valve.png"
    assert calls.asked == [("open", b"p")]


def test_that_a_tank_is_added_and_its_sample_begun(
    screen: RegisterScreen, qtbot: QtBot, calls: CallsDouble, background: Background
) -> None:
    screen.list.chips.button("stores").click()
    screen.list.add_button.click()
    assert screen.panel.title.text() == "New tank"
    field(screen, "code").setText("T-9")
    screen.panel.editor.write("fluid", "engine_oil_15w40")
    screen.panel.editor.save()
    settle(qtbot, background)
    assert calls.asked[-1][1].code == "T-9"
    screen.show_section(Section.STORES)
    screen.outside._calls = OutsideDouble()  # type: ignore[assignment]
    screen.panel.action("Register a sample").click()
    settle(qtbot, background)
    assert screen.stack.currentWidget() is screen.outside
    assert screen.outside.panel.title.text() == "Sample of a fluid"
    assert screen.outside.panel.editor.draft is not None
    assert screen.outside.panel.editor.draft.texts["store"].startswith("Tank T-1,")
    screen.outside.back_button.click()
    assert screen.stack.currentWidget() is screen.list


def test_that_a_fluid_sample_that_was_found_is_shown(
    screen: RegisterScreen, qtbot: QtBot, background: Background
) -> None:
    screen.outside._calls = OutsideDouble()  # type: ignore[assignment]
    screen.open_store(HitKind.FLUID_SAMPLE, NEW_FLUID.id)
    settle(qtbot, background)
    assert screen.outside.panel.title.text() == f"New fluid, bottle {NEW_FLUID.bottle_code}"
    assert screen.sentence.startswith("3 samples outside the plan")


def test_that_a_tank_or_delivery_that_was_found_is_shown(screen: RegisterScreen) -> None:
    facts = screen._state.facts  # type: ignore[union-attr]
    screen.open_store(HitKind.TANK, facts.tanks[0].id)
    assert screen.panel.title.text() == "Tank T-1"
    screen.open_store(HitKind.DELIVERY, facts.batches[0].id)
    assert screen.panel.title.text() == "Delivery D-12"
    assert screen.list.table.currentIndex().row() == 1


def test_that_what_was_saved_with_a_doubt_says_so(
    screen: RegisterScreen, qtbot: QtBot, calls: CallsDouble, background: Background
) -> None:
    calls.warnings = (FieldFault(field="value", value="1", text="More than a day can give."),)
    screen.panel.action("Meter reading").click()
    field(screen, "value").setText("12500")
    screen.panel.editor.save_button.click()
    settle(qtbot, background)
    assert screen.notice.text == "Saved, but look at this More than a day can give."
