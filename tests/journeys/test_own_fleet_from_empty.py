"""From an empty database to one's own fleet: by files and by hand, with its past results."""

import csv
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import cast

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLineEdit
from pytestqt.qtbot import QtBot

from fluiddesk import wiring
from fluiddesk.desktop.application import build_window
from fluiddesk.desktop.main_window import MainWindow, Page
from fluiddesk.desktop.screens.register import RegisterScreen
from fluiddesk.domain.severity import Severity
from fluiddesk.services.register.facts import MachineFacts
from fluiddesk.storage import check_store, open_store
from tests.fleets import write_lab_file

PATIENCE_MS = 30_000
TODAY = date(2026, 6, 30)
IN_SERVICE = date(2020, 7, 1)
BY_FILE, BY_HAND = range(1, 16), range(16, 21)
HOURS_A_DAY = 8
EVERY_DAYS = 91
TWO_YEARS = 8
"""Samples of each engine: one a quarter."""

SOUND_MG_KG, HIGH_MG_KG = 12, 900
"""Iron of an engine oil, far below the starter limits and far above (common practice)."""
WORN = "WL-03"


@pytest.fixture
def window(qtbot: QtBot, desk_home: Path, tmp_path: Path) -> Iterator[MainWindow]:
    address = str(tmp_path / "own.fluiddesk")
    wiring.new_database(address)
    opened = wiring.open_desk(address)
    desk = wiring.OpenedDesk(
        place=opened.place,
        clock=wiring.Clock(demo_day=TODAY),
        folders=opened.folders,
        settings=opened.settings,
    )
    made = build_window(desk)
    qtbot.addWidget(made)
    made.show()
    settle(qtbot, made)
    yield made
    made.close()
    desk.close()


def settle(qtbot: QtBot, window: MainWindow) -> None:
    """Wait until nothing is being read or saved any more."""
    qtbot.waitUntil(lambda: not window.background.jobs, timeout=PATIENCE_MS)


def register(window: MainWindow) -> RegisterScreen:
    return cast("RegisterScreen", window.page(Page.REGISTER))


def fill_in(page: RegisterScreen, **texts: str) -> None:
    for key, text in texts.items():
        page.panel.editor.write(key, text)


def save(qtbot: QtBot, window: MainWindow, page: RegisterScreen) -> None:
    assert page.panel.editor.draft is not None
    assert page.panel.editor.draft.problems == {}
    qtbot.mouseClick(page.panel.editor.save_button, Qt.MouseButton.LeftButton)
    settle(qtbot, window)
    assert page.notice.text == ""


def write_csv(path: Path, rows: Sequence[Mapping[str, object]]) -> Path:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    return path


def code(number: int) -> str:
    return f"WL-{number:02d}"


def register_files(folder: Path) -> list[Path]:
    """A list of fifteen loaders as a planner's spreadsheet would hold it, columns in any order."""
    machines = [
        {
            "serial": f"S{number}",
            "machine": code(number),
            "kind": "wheel_loader",
            "model": "5 m3 loader",
            "in_service_on": IN_SERVICE,
        }
        for number in BY_FILE
    ]
    boxes = [
        {
            "capacity_l": litres,
            "machine": code(number),
            "compartment": kind,
            "fluid": fluid,
            "interval_hours": 250,
            "interval_days": EVERY_DAYS,
        }
        for number in BY_FILE
        for kind, fluid, litres in (
            ("engine", "engine_oil_15w40", 38),
            ("hydraulic", "hydraulic_vg46", 180),
        )
    ]
    meters = [{"machine": code(number), "fitted_on": IN_SERVICE} for number in BY_FILE]
    hours = (TODAY - IN_SERVICE).days * HOURS_A_DAY
    readings = [{"machine": code(number), "read_on": TODAY, "value": hours} for number in BY_FILE]
    return [
        write_csv(folder / "machines.csv", machines),
        write_csv(folder / "compartments.csv", boxes),
        write_csv(folder / "meters.csv", meters),
        write_csv(folder / "meter_readings.csv", readings),
    ]


def past_file(folder: Path) -> Path:
    """Two years of engine results as the laboratory sent them, long before our codes."""
    rows: list[dict[str, object]] = []
    for number in (*BY_FILE, *BY_HAND):
        for quarter in range(TWO_YEARS, 0, -1):
            on = TODAY - timedelta(days=quarter * EVERY_DAYS)
            is_worn = code(number) == WORN and quarter == 1
            rows.append(
                {
                    "machine": code(number),
                    "compartment": "Engine",
                    "sampled on": on.isoformat(),
                    "report": f"P{number:02d}{quarter}",
                    "iron [mg/kg]": HIGH_MG_KG if is_worn else SOUND_MG_KG,
                }
            )
    # Two rows nobody could place for sure: the laboratory left the compartment out.
    for number in (1, 2):
        on = TODAY - timedelta(days=40 + number)
        rows.append(
            {
                "machine": code(number),
                "compartment": "",
                "sampled on": on.isoformat(),
                "report": f"Q{number}",
                "iron [mg/kg]": SOUND_MG_KG,
            }
        )
    return write_lab_file(folder / "two_years.csv", *rows)


def severities(window: MainWindow) -> dict[tuple[str, str], Severity]:
    """How every box stands in the traffic view, by machine and kind of compartment."""
    matrix = window.fleet.matrix
    assert matrix is not None
    condition = matrix.condition
    return {
        (row.machine, row.kind): Severity(int(condition.severity[place]))
        for place, row in enumerate(condition.rows)
    }


def test_that_a_planner_runs_their_own_fleet_the_same_afternoon(
    qtbot: QtBot, window: MainWindow, tmp_path: Path
) -> None:
    window.show_page(Page.REGISTER)
    settle(qtbot, window)
    page = register(window)
    begin_with_the_site(qtbot, window, page)
    import_fifteen_machines(qtbot, window, page, register_files(tmp_path))
    for number in BY_HAND:
        add_machine_by_hand(qtbot, window, page, code(number))
    assert page._state is not None
    assert len(page._state.facts.machines) == 20
    window.show_page(Page.FLEET)
    settle(qtbot, window)
    assert set(severities(window).values()) == {Severity.NO_VERDICT}

    take_in_two_years(qtbot, window, page, past_file(tmp_path))

    # The traffic view: one engine is worn, every other sound, what was never sampled says so.
    window.show_page(Page.FLEET)
    settle(qtbot, window)
    shown = severities(window)
    engines = {machine: severity for (machine, kind), severity in shown.items() if kind == "engine"}
    assert len(engines) == 20
    assert engines.pop(WORN) is Severity.URGENT
    assert set(engines.values()) == {Severity.NORMAL}
    others = {severity for (_machine, kind), severity in shown.items() if kind != "engine"}
    assert others == {Severity.NO_VERDICT}
    assert "1 machine needs your decision" in window.fleet.sentence.text()
    find_by_its_number(qtbot, window, page)
    with open_store(str(tmp_path / "own.fluiddesk")) as store:
        assert check_store(store) == []


def begin_with_the_site(qtbot: QtBot, window: MainWindow, page: RegisterScreen) -> None:
    assert page.stack.currentWidget() is page.first_hour
    qtbot.mouseClick(page.first_hour.button("new_site"), Qt.MouseButton.LeftButton)
    fill_in(page, name="Kestrel pit (invented)", time_zone="UTC")
    save(qtbot, window, page)


def import_fifteen_machines(
    qtbot: QtBot, window: MainWindow, page: RegisterScreen, files: Sequence[Path]
) -> None:
    """Fifteen machines come from files, after a look at what they would do."""
    page.files.open_files(files)
    settle(qtbot, window)
    assert page.sentence == "75 to add, 0 to change, 0 unchanged."
    assert page.files.panel.import_button.text() == "Import 75 rows"
    qtbot.mouseClick(page.files.panel.import_button, Qt.MouseButton.LeftButton)
    settle(qtbot, window)
    assert page.sentence.startswith("15 machines at 1 site, 30 compartments")


def add_machine_by_hand(
    qtbot: QtBot, window: MainWindow, page: RegisterScreen, machine: str
) -> None:
    """A machine with all the boxes of its kind, and what its meter shows."""
    page._show_face(page.list)
    qtbot.mouseClick(page.list.add_button, Qt.MouseButton.LeftButton)
    fill_in(
        page,
        code=machine,
        kind="wheel_loader",
        model="5 m3 loader",
        in_service_on=IN_SERVICE.isoformat(),
    )
    save(qtbot, window, page)
    assert isinstance(page.record, MachineFacts)
    assert page.record.code == machine
    qtbot.mouseClick(page.panel.action("Meter reading"), Qt.MouseButton.LeftButton)
    fill_in(page, value=str((TODAY - IN_SERVICE).days * HOURS_A_DAY))
    save(qtbot, window, page)


def take_in_two_years(qtbot: QtBot, window: MainWindow, page: RegisterScreen, file: Path) -> None:
    """The sure rows are taken in; of two doubtful ones one gets its box, one is left out."""
    window.show_page(Page.REGISTER)
    qtbot.mouseClick(page.list.past_button, Qt.MouseButton.LeftButton)
    settle(qtbot, window)
    page.past.open_file(file)
    settle(qtbot, window)
    assert page.past.take_button.text() == "Take in 160 results"
    qtbot.mouseClick(page.past.take_button, Qt.MouseButton.LeftButton)
    settle(qtbot, window)
    assert page.sentence == (
        "160 past results taken in, 2 to confirm; none of them counts in compliance."
    )
    place = page.past.box.findText("Engine", Qt.MatchFlag.MatchContains)
    page.past.box.setCurrentIndex(place)
    qtbot.mouseClick(page.past.confirm_button, Qt.MouseButton.LeftButton)
    settle(qtbot, window)
    assert page._tables.past.length() == 1
    page.past.reason.setText("not ours")
    qtbot.mouseClick(page.past.aside_button, Qt.MouseButton.LeftButton)
    settle(qtbot, window)
    assert page._tables.past.length() == 0


def find_by_its_number(qtbot: QtBot, window: MainWindow, page: RegisterScreen) -> None:
    """The one box finds a machine, and Enter opens it in the register."""
    search = window.search.box
    qtbot.keyClick(window, Qt.Key.Key_K, Qt.KeyboardModifier.ControlModifier)
    assert search.hasFocus()
    qtbot.keyClicks(search, "wl 03")
    settle(qtbot, window)
    qtbot.waitUntil(lambda: window.search.hits.model.length() > 0)
    qtbot.keyClick(search, Qt.Key.Key_Return)
    settle(qtbot, window)
    assert isinstance(page.record, MachineFacts)
    code_field = page.panel.editor.editor("code")
    assert isinstance(code_field, QLineEdit)
    assert code_field.text() == WORN
