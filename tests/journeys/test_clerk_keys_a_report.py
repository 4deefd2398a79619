"""A clerk keys a paper report by the keyboard alone, and describes files of unknown form."""

import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import cast

import pytest
import xlsxwriter
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from fluiddesk import wiring
from fluiddesk.desktop.application import build_window
from fluiddesk.desktop.main_window import MainWindow, Page
from fluiddesk.desktop.screens.lab_intake import LabIntakeScreen, Section
from fluiddesk.desktop.viewstate.keying import GridRow, KeyingState
from fluiddesk.domain.severity import Severity
from fluiddesk.services.keyed_results.facts import HeadField, QueueLine
from fluiddesk.services.keyed_results.queue import results_queue
from fluiddesk.services.lab_intake.mapping import retire_layout
from fluiddesk.storage import check_store, open_store
from tests.fleets import differing_tables, dump

PATIENCE_MS = 30_000
NONE = Qt.KeyboardModifier.NoModifier
CTRL = Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def database(sample_fleet_file: Path, tmp_path: Path) -> str:
    return str(shutil.copy(sample_fleet_file, tmp_path / "sample.fluiddesk"))


@dataclass
class Clerk:
    """Sits before the window and has a keyboard, but no mouse."""

    qtbot: QtBot
    desk: wiring.OpenedDesk
    window: MainWindow

    @property
    def page(self) -> LabIntakeScreen:
        return cast("LabIntakeScreen", self.window.page(Page.RESULTS))

    def settle(self) -> None:
        self.qtbot.waitUntil(
            lambda: not self.window.background.jobs and not self.page.is_busy, timeout=PATIENCE_MS
        )

    @property
    def focus(self) -> QWidget:
        found = QApplication.focusWidget()
        assert found is not None
        return found

    def types(self, text: str) -> None:
        self.qtbot.keyClicks(self.focus, text)

    def presses(self, key: Qt.Key, modifier: Qt.KeyboardModifier = NONE) -> None:
        self.qtbot.keyClick(self.focus, key, modifier)

    @property
    def state(self) -> KeyingState:
        state = self.page.keying.desk.state
        assert state is not None
        return state

    @property
    def row(self) -> GridRow:
        stop = self.page.keying.desk.grid.stop
        assert stop is not None
        return self.state.rows[stop.row]

    def waiting(self) -> tuple[QueueLine, ...]:
        return results_queue(self.desk.place, today=self.desk.clock.today()).waiting


@pytest.fixture
def clerk(qtbot: QtBot, database: str) -> Iterator[Clerk]:
    desk = wiring.open_desk(database)
    window = build_window(desk)
    qtbot.addWidget(window)
    window.show()
    window.activateWindow()
    made = Clerk(qtbot=qtbot, desk=desk, window=window)
    qtbot.waitUntil(lambda: not window.background.jobs, timeout=PATIENCE_MS)
    qtbot.keyClick(window, Qt.Key.Key_3, CTRL)
    made.settle()
    yield made
    window.close()
    desk.close()


def engine_bottle(clerk: Clerk) -> QueueLine:
    """An engine whose last verdict is better than Urgent, so that a report can make it worse."""
    return next(
        one
        for one in clerk.waiting()
        if one.compartment == "Engine" and one.last_severity < Severity.ACT
    )


def opened_by_code(clerk: Clerk, code: str) -> None:
    """Type a bottle code, look at whose it is, and say that it is the one."""
    clerk.types(code)
    clerk.presses(Qt.Key.Key_Return)
    clerk.settle()
    clerk.presses(Qt.Key.Key_Return)
    clerk.settle()


def sound_text(row: GridRow, at: int) -> str:
    """A value as a sound report would have it; no two reports agree in every digit."""
    assert row.expected is not None
    text = row.expected.text
    if not text.replace(".", "").isdigit():
        return text
    if "." in text:
        return text[:-1] + str((int(text[-1]) + 1 + at % 2) % 10)
    return str(int(text) + (at % 2 if int(text) < 50 else 2))


def head_text(clerk: Clerk, field: str) -> str:
    report = clerk.state.report
    taken = report.taken_on or date.min
    texts = {
        HeadField.REPORT_NUMBER: "A26-9001",
        HeadField.SAMPLED_ON: taken.isoformat(),
        HeadField.RECEIVED_ON: date.fromordinal(taken.toordinal() + 3).isoformat(),
        HeadField.ISSUED_ON: date.fromordinal(taken.toordinal() + 5).isoformat(),
        HeadField.METER: f"{report.meter:.0f}" if report.meter is not None else "",
    }
    return texts.get(HeadField(field), "")


def key_everything(clerk: Clerk, *, but: dict[str, str]) -> None:
    """Type every field of the report in its order; ``but``: other texts, by the cell's key."""
    grid = clerk.page.keying.desk.grid
    for at in range(len(clerk.state.rows)):
        row, here = clerk.row, grid.stop
        if row.key in but:
            text = but[row.key]
        elif row.cell is None:
            text = head_text(clerk, row.key)
        else:
            text = sound_text(row, at) if row.expected else "n" if row.cell.is_expected else ""
        if text:
            clerk.types(text)
        is_last = clerk.state.next_stop(here.row if here else 0, step=1) is None
        clerk.presses(Qt.Key.Key_Enter, Qt.KeyboardModifier.KeypadModifier)
        if is_last:
            break
    clerk.settle()


def answer_the_rest(clerk: Clerk) -> None:
    """Whatever else looks wrong stands so on the paper."""
    for _ in range(len(clerk.state.open_warnings)):
        clerk.presses(Qt.Key.Key_F4)
        clerk.presses(Qt.Key.Key_F7)
        clerk.settle()


def severities(clerk: Clerk) -> dict[bytes, Severity]:
    """How every box stands in the traffic view."""
    clerk.presses(Qt.Key.Key_1, CTRL)
    clerk.settle()
    matrix = clerk.window.fleet.matrix
    assert matrix is not None
    rows, columns = matrix.shape
    found = {
        matrix.compartment(int(box)): cell.severity
        for row in range(rows)
        for column in range(columns)
        for box, cell in zip(matrix.boxes(row, column), matrix.cell(row, column), strict=True)
    }
    clerk.qtbot.keyClick(clerk.window, Qt.Key.Key_3, CTRL)
    clerk.settle()
    return found


def open_after_a_slip(clerk: Clerk, line: QueueLine) -> None:
    """A slip in the code is told while it is typed, and Enter opens nothing."""
    keying = clerk.page.keying
    assert clerk.focus is keying.bottle.code
    slip = line.bottle_code[:-1] + ("0" if line.bottle_code[-1] != "0" else "1")
    clerk.types(slip)
    assert "check character" in keying.bottle.fault
    clerk.presses(Qt.Key.Key_Return)
    assert not keying.bottle.is_asking
    clerk.presses(Qt.Key.Key_A, CTRL)
    clerk.types(line.bottle_code.lower().replace("-", ""))
    clerk.presses(Qt.Key.Key_Return)
    clerk.settle()
    # Whose bottle it is stands there large, with three values to confirm.
    assert keying.bottle.whose == f"{line.machine}  Engine"
    assert len([one for one in keying.bottle.expected if one]) == 3
    clerk.presses(Qt.Key.Key_Return)
    clerk.settle()


def verdict_is_on_every_page(clerk: Clerk, before: dict[bytes, Severity]) -> None:
    """The verdict is there at once, the traffic view has it too, and the box alone moved."""
    keying = clerk.page.keying
    saved = keying.saved.saved
    assert saved is not None
    assert saved.after > saved.before
    assert "Iron 412 mg/kg" in keying.saved.sentence
    assert clerk.focus is keying.bottle.code
    after = severities(clerk)
    moved = {box for box, severity in after.items() if before[box] != severity}
    assert moved == set(saved.changes.compartments)
    assert after[moved.pop()] is saved.after


def undone_by_keyboard(clerk: Clerk, before: dict[bytes, Severity]) -> None:
    """Undone, the fleet stands as it stood."""
    keying = clerk.page.keying
    keying.saved.undo_button.setFocus()
    clerk.presses(Qt.Key.Key_Space)
    keying.notice.actions_shown[0].setFocus()
    clerk.presses(Qt.Key.Key_Space)
    clerk.settle()
    assert severities(clerk) == before


def test_that_a_full_report_is_keyed_by_keyboard_alone_and_the_traffic_view_changes(
    clerk: Clerk, database: str
) -> None:
    before = severities(clerk)
    keying = clerk.page.keying
    line = engine_bottle(clerk)
    assert f"{len(clerk.waiting())} bottles at the laboratory" in clerk.page.sentence

    open_after_a_slip(clerk, line)

    # Iron is far above its limit and silicon too; calcium's decimal point slips.
    calcium = next(row for row in clerk.state.rows if row.key == "Ca")
    assert calcium.expected is not None
    slipped = f"{float(calcium.expected.text) / 10:.1f}".replace(".", ",")
    key_everything(clerk, but={"Ca": slipped, "Fe": "412", "Remark": "dark"})
    told = {one.cell: one for one in clerk.state.open_warnings}
    assert told["Ca"].proposed == f"{float(slipped.replace(',', '.')) * 10:.0f}"
    assert "Fe" in told
    assert not keying.desk.side.save_button.isEnabled()

    # The end of the grid led to the first warning: iron stands so on the paper.
    assert clerk.row.key == "Fe"
    clerk.presses(Qt.Key.Key_F7)
    clerk.settle()
    clerk.presses(Qt.Key.Key_F4)
    assert clerk.row.key == "Ca"
    assert "decimal point" in keying.desk.side.warnings.text
    clerk.presses(Qt.Key.Key_F6)
    clerk.settle()
    assert clerk.state.draft.cells["Ca"] == told["Ca"].proposed
    answer_the_rest(clerk)
    assert keying.desk.side.to_do == "Ready to save"
    clerk.presses(Qt.Key.Key_S, CTRL)
    clerk.settle()

    verdict_is_on_every_page(clerk, before)
    undone_by_keyboard(clerk, before)
    with open_store(database) as store:
        assert check_store(store) == []


def test_that_a_draft_survives_a_crash_and_is_taken_up_from_the_queue(
    clerk: Clerk, qtbot: QtBot, database: str
) -> None:
    line = engine_bottle(clerk)
    opened_by_code(clerk, line.bottle_code)
    clerk.types("A26-77")
    clerk.presses(Qt.Key.Key_Enter)
    clerk.settle()
    # Another program opens the same database, as after a crash of this one.
    desk = wiring.open_desk(database)
    window = build_window(desk)
    qtbot.addWidget(window)
    window.show()
    other = Clerk(qtbot=qtbot, desk=desk, window=window)
    window.show_page(Page.RESULTS)
    other.settle()
    assert "1 report begun" in other.page.sentence
    table = other.page.keying.queue.table
    table.setFocus()
    qtbot.keyClick(table, Qt.Key.Key_Return)
    other.settle()
    assert other.state.draft.heads["report_number"] == "A26-77"
    window.close()
    desk.close()


def test_that_a_closing_window_keeps_the_last_letter(clerk: Clerk, database: str) -> None:
    line = engine_bottle(clerk)
    opened_by_code(clerk, line.bottle_code)
    clerk.types("A26-78")
    clerk.window.close()
    with open_store(database) as store, store.reading() as reading:
        draft = reading.keying.live_drafts(line.bottle_code)[0]
    assert draft.cells["heads"]["report_number"] == "A26-78"


# --- files of unknown form ----------------------------------------------------------------------


def engine_bottles(clerk: Clerk, count: int) -> list[str]:
    found = [one.bottle_code for one in clerk.waiting() if one.compartment == "Engine"]
    return found[:count]


def wide_file(folder: Path, bottles: list[str]) -> Path:
    """Semicolons, decimal commas, a title above the headings, a code page of the office."""
    lines = ["Öl-Bericht;;;;;", ";;;;;"]
    lines.append("Bottle code;Report no;Sampled on;Iron (mg/kg);Copper ppm;KV100 mm²/s")
    lines += [
        f"{code};W-{n};10.11.2026;{20 + n};{9 + n};14,{n}" for n, code in enumerate(bottles, 1)
    ]
    path = folder / "north works.csv"
    path.write_bytes("\r\n".join(lines).encode("cp1252"))
    return path


def long_file(folder: Path, bottles: list[str]) -> Path:
    """One value a row, tabs between, as UTF-8 with a mark."""
    lines = ["Bottle code\tReport no\tAnalyte\tValue\tUnit"]
    for n, code in enumerate(bottles, 1):
        lines.append(f"{code}\tL-{n}\tIron\t{20 + n}\tmg/kg")
        lines.append(f"{code}\tL-{n}\tCopper\t{10 + n}\tmg/kg")
        lines.append(f"{code}\tL-{n}\tSilicon\t<5\tmg/kg")
    path = folder / "list of values.csv"
    path.write_bytes("\n".join(lines).encode("utf-8-sig"))
    return path


def workbook_file(folder: Path, bottles: list[str]) -> Path:
    """The table stands on the second sheet of a workbook, with a row of units."""
    path = folder / "results book.xlsx"
    rows: list[list[object]] = [
        ["Bottle code", "Report no", "Fe", "Cu", "Viscosity 100 °C"],
        ["", "", "mg/kg", "mg/kg", "mm2/s"],
    ]
    for n, code in enumerate(bottles, 1):
        rows.append([code, f"X-{n}", 20 + n, 9 + n, 14.1 + n / 10])
    with xlsxwriter.Workbook(path) as book:
        book.add_worksheet("Note").write_row(0, 0, ["Delivery note", "nothing here"])
        sheet = book.add_worksheet("Results")
        for at, row in enumerate(rows):
            sheet.write_row(at, 0, row)
    return path


@pytest.mark.parametrize(
    ("write", "iron"),
    [(wide_file, "Iron (mg/kg)"), (long_file, "Iron"), (workbook_file, "Fe")],
    ids=["wide", "long", "workbook"],
)
def test_that_an_unknown_form_is_described_and_read_without_touching_code(
    clerk: Clerk, tmp_path: Path, database: str, write: object, iron: str
) -> None:
    assert callable(write)
    untouched = dump(database)
    path = write(tmp_path, engine_bottles(clerk, 3))
    mapping = clerk.page.mapping
    clerk.page.describe_file(path)
    clerk.settle()
    if mapping.reading.sheet.isVisible():
        mapping.reading.sheet.setCurrentIndex(mapping.reading.sheet.findData("Results"))
        mapping.reading.sheet.activated.emit(mapping.reading.sheet.currentIndex())
        clerk.settle()
    state = mapping.state
    assert state is not None
    at = next(n for n, row in enumerate(state.rows) if row.title == iron)
    assert (state.column(at).code, state.column(at).unit) == ("iron", "mg/kg")
    assert mapping.reason == ""
    assert differing_tables(untouched, dump(database)) == set()

    mapping.save_button.setFocus()
    clerk.presses(Qt.Key.Key_Space)
    clerk.settle()
    assert clerk.page.section is Section.FILES
    assert clerk.page.files.preview.take_in_button.text() == "Take in 3 results"
    clerk.page.files.preview.take_in_button.setFocus()
    clerk.presses(Qt.Key.Key_Space)
    clerk.settle()
    assert clerk.page.sentence.startswith("3 results taken in")
    with open_store(database) as store:
        assert check_store(store) == []
    retire_layout(clerk.desk.place, mapping.name.text(), moment=clerk.desk.clock.moment())
