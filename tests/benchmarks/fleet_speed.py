"""Measures the whole-fleet work on a simulated fleet and prints each as a ratio to its floor.

Run from the top folder, in the program's environment:

    python -m tests.benchmarks.fleet_speed make FILE [--machines 5000 --years 6.5]
    python -m tests.benchmarks.fleet_speed measure FILE

``make`` plays the fleet (seed 2026) with six boxes a machine and writes its database. ``measure``
runs every measurement in a process of its own, so that each peak of memory is its own.
"""

import argparse
import itertools
import os
import resource
import sqlite3
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import numpy as np

SEED = 2026
LAST_DAY = date(2026, 11, 20)
REPEATS = 3


def make(path: Path, *, machines: int, years: float) -> None:
    from fluiddesk.services.catalogue import load_catalogue
    from fluiddesk.services.founding import found
    from fluiddesk.services.simulated_fleet.setting import setting_of
    from fluiddesk.services.simulated_fleet.write import fill_database
    from fluiddesk.simulation.plan import SimulationPlan
    from fluiddesk.simulation.play import simulate

    catalogue, moment = load_catalogue(), datetime.now(UTC)
    first_day = date.fromordinal(LAST_DAY.toordinal() - round(years * 365.25) + 1)
    plan = SimulationPlan(
        machines=machines, years=years, seed=SEED, first_day=first_day, boxes_per_machine=6
    )
    started = time.perf_counter()
    fleet, _ = simulate(setting_of(catalogue, on=first_day), plan)
    played = time.perf_counter()
    print(f"played {len(fleet.samples):,} samples in {played - started:.1f} s")
    found(str(path), catalogue, who="benchmark", moment=moment)
    outcome = fill_database(str(path), fleet, catalogue, moment=moment)
    print(f"written and judged {outcome.samples:,} in {time.perf_counter() - played:.1f} s")
    _tell_peak()


def _best(work: Callable[[], Any], *, repeats: int = REPEATS) -> float:
    """The shortest of some runs in seconds; the first only warms up."""
    work()
    spans = []
    for _ in range(repeats):
        started = time.perf_counter()
        work()
        spans.append(time.perf_counter() - started)
    return min(spans)


def _tell_peak() -> None:
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"    peak memory {peak:,.0f} MB")


def _ratio(name: str, seconds: float, floor: float, *, target: float, floor_name: str) -> None:
    print(
        f"{name}: {seconds:.3f} s = {seconds / floor:.2f} x {floor_name} ({floor:.3f} s), "
        f"target {target:g} x"
    )


def _block_read(path: Path) -> float:
    """The floor: every history block by the bare driver into one array made beforehand."""
    connection = sqlite3.connect(path)
    size = connection.execute("SELECT sum(length(block)) FROM history_block").fetchone()[0]
    room = np.empty(size, dtype=np.uint8)

    def read() -> None:
        at = 0
        for (block,) in connection.execute("SELECT block FROM history_block").fetchall():
            room[at : at + len(block)] = np.frombuffer(block, dtype=np.uint8)
            at += len(block)

    span = _best(read)
    connection.close()
    return span


def measure_counts(path: Path) -> None:
    connection = sqlite3.connect(path)
    for table in ("machine", "compartment", "sample", "result_sheet", "reading"):
        count = connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0]  # noqa: S608
        print(f"{table}: {count:,}")
    print(f"file: {path.stat().st_size / 1e9:.2f} GB")


def _beside_floor(name: str, path: Path, work: Callable[[], Any]) -> Any:
    """Run once between two block reads, since other programs may take some of the machine."""
    before = _block_read(path)
    started, busy = time.perf_counter(), time.process_time()
    outcome = work()
    wall, cpu = time.perf_counter() - started, time.process_time() - busy
    floor = statistics.mean((before, _block_read(path)))
    _ratio(name, wall, floor, target=10, floor_name="block read")
    print(f"    processor time {cpu:.3f} s = {cpu / floor:.2f} x")
    return outcome


def measure_reassess(path: Path) -> None:
    """The whole fleet by limits that moved by a tenth, written, then moved back."""
    from fluiddesk.services.reassess.fleet import reassess_fleet
    from fluiddesk.wiring import open_desk

    desk = open_desk(str(path))
    place, moment = desk.place, datetime.now(UTC)
    for factor in (1.1, 1 / 1.1):
        _move_limits(place, factor, moment)
        outcome = _beside_floor(
            f"whole-fleet reassessment, iron times {factor:.2f}, written", path,
            lambda: reassess_fleet(place, moment=moment),
        )  # fmt: skip
        print(
            f"    {outcome.samples:,} samples, {outcome.changed:,} verdicts rewritten, "
            f"{len(outcome.moved):,} boxes moved"
        )
    outcome = _beside_floor(
        "whole-fleet reassessment, nothing moved", path,
        lambda: reassess_fleet(place, moment=moment),
    )  # fmt: skip
    print(f"    {outcome.changed} verdicts rewritten")
    desk.close()
    _tell_peak()


def _move_limits(place: Any, factor: float, moment: datetime) -> None:
    """Put a set in force whose Watch bounds of iron are moved: about what a person would try."""
    with place.store.transaction(who="benchmark", moment=moment) as session:
        sets = session.limits.limit_sets()
        newest = max(sets, key=lambda one: one.number)
        limits = tuple(
            replace(limit, watch=round(limit.watch * factor, 3))
            if limit.analyte == "iron" and limit.watch is not None
            else limit
            for limit in newest.limits
        )
        session.limits.save(
            replace(newest, number=newest.number + 1, name=f"times {factor:.2f}", limits=limits)
        )


def measure_fleet_page(path: Path) -> None:
    from fluiddesk.desktop.viewstate.fleet_condition import FleetMatrix
    from fluiddesk.services.fleet_condition import fleet_condition
    from fluiddesk.wiring import open_desk

    desk = open_desk(str(path))

    def bare() -> None:
        with desk.place.store.reading() as session:
            session.condition.rows()

    floor = _best(bare)
    today = desk.clock.today()
    span = _best(
        lambda: FleetMatrix(fleet_condition(desk.place, today=today), desk.place.catalogue)
    )
    _ratio("fleet page, rows into the view", span, floor, target=2, floor_name="bare fetch")
    desk.close()
    _tell_peak()


_BARE_WINDOW = """
import time; started = time.perf_counter()
from PySide6.QtWidgets import QApplication, QMainWindow
import sqlalchemy
app = QApplication([]); window = QMainWindow(); window.resize(1280, 800); window.show()
app.processEvents(); window.grab()
print(time.perf_counter() - started, time.process_time())
"""
# As ``fluiddesk.cli.samples.open_window`` and ``application.run`` put the program together.
_FLEET_PAGE = """
import gc, sys, time; started = time.perf_counter(); gc.disable()
from fluiddesk.wiring import open_desk
desk = open_desk(sys.argv[1])
from PySide6.QtWidgets import QApplication
from fluiddesk.desktop.application import build_window
app = QApplication([]); window = build_window(desk); window.resize(1280, 800)
window.show(); gc.freeze(); gc.enable()
app.processEvents(); window.grab(); first = time.perf_counter() - started, time.process_time()
while window.background.jobs:
    window.background.wait(milliseconds=5); app.processEvents()
window.grab()
print(*first, time.perf_counter() - started, time.process_time())
window.background.close()
"""


def _in_a_process(code: str, *words: str) -> list[float]:
    """The best of some runs of a script that prints seconds."""
    runs = []
    for _ in range(REPEATS + 1):
        done = subprocess.run(
            [sys.executable, "-c", code, *words],
            check=True,
            capture_output=True,
            text=True,
            env={**os.environ, "QT_QPA_PLATFORM": "offscreen"},
        )
        runs.append([float(word) for word in done.stdout.split()])
    return [min(column) for column in zip(*runs, strict=True)]


def measure_start(path: Path) -> None:
    """From a new interpreter to a painted page; the start script's own step is measured apart."""
    floors = _in_a_process(_BARE_WINDOW)
    found = _in_a_process(_FLEET_PAGE, str(path))
    name = "bare window and SQLAlchemy"
    for what, at in (("first painted page", 0), ("the fleet on screen", 2)):
        _ratio(f"start to {what}", found[at], floors[0], target=1.5, floor_name=name)
        print(f"    processor time {found[at + 1]:.3f} s = {found[at + 1] / floors[1]:.2f} x")


def _kept_plots(app: Any, points: list[tuple[Any, Any]]) -> float:
    """Seconds to update twelve kept plots with the points of another box, and to paint them."""
    import pyqtgraph

    plots = pyqtgraph.GraphicsLayoutWidget()
    plots.resize(1000, 700)
    curves = [
        plots.addPlot(row=number // 4, col=number % 4).plot(symbol="o", symbolSize=4)
        for number in range(12)
    ]
    plots.show()
    turn = itertools.count()

    def update_plots() -> None:
        hours, values = points[next(turn) % len(points)]
        for curve in curves:
            curve.setData(hours, np.nan_to_num(values))
        app.processEvents()
        plots.grab()

    return _best(update_plots, repeats=15)


def measure_compartment(path: Path) -> None:
    """Opening other boxes, against updating twelve kept plots with the same points."""
    os.environ["QT_QPA_PLATFORM"] = "offscreen"
    from PySide6.QtWidgets import QApplication

    from fluiddesk.desktop.application import build_window
    from fluiddesk.services.compartment_history.read import compartment_history
    from fluiddesk.services.fleet_condition import fleet_condition
    from fluiddesk.wiring import open_desk

    app = QApplication([])
    desk = open_desk(str(path))
    today = desk.clock.today()
    rows = [row for row in fleet_condition(desk.place, today=today).rows if row.kind == "engine"]
    chosen = [row.compartment_id for row in rows[:20]]
    histories = [compartment_history(desk.place, box, today=today) for box in chosen]
    points = [(one.hours, one.series[0].values) for one in histories]
    print(f"    {len(histories[0].samples)} samples x {len(histories[0].series)} analytes")

    floor = _kept_plots(app, points)
    window = build_window(desk)
    window.resize(1280, 800)
    window.show()
    _measure_opening(window, chosen, floor, work=app.processEvents)
    turn = itertools.count()
    read = _best(
        lambda: compartment_history(
            desk.place, chosen[next(turn) % len(chosen)], today=today, in_full=False
        ),
        repeats=15,
    )
    print(f"    of which reading and judging {read:.3f} s")
    window.background.close()
    _tell_peak()


def _measure_opening(
    window: Any, chosen: list[Any], floor: float, *, work: Callable[[], Any]
) -> None:
    from fluiddesk.desktop.main_window import Page

    turn, shown = itertools.count(), []

    def settle() -> None:
        while window.background.jobs:
            window.background.wait(milliseconds=1)
            work()

    window.open_compartment(chosen[-1])
    settle()
    screen: Any = window.page(Page.COMPARTMENT)
    screen.loaded.connect(shown.append)

    def open_box() -> None:
        """Another box with its curves on screen; what follows is let go before it begins."""
        shown.clear()
        window.open_compartment(chosen[next(turn) % len(chosen)])
        while not shown:
            window.background.wait(milliseconds=1)
            work()
        screen._outlook_timer.stop()
        window.grab()

    span = _best(open_box, repeats=15)
    _ratio(
        "opening another compartment, curves read and painted", span, floor, target=1.5,
        floor_name="12 kept plots",
    )  # fmt: skip

    def work_out() -> None:
        screen.read_in_full()
        settle()
        window.grab()

    span = _best(work_out)
    print(f"    true wear, hours left and like machines follow within {span:.3f} s")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("step", choices=["make", "measure", *_STEPS])
    parser.add_argument("file", type=Path)
    parser.add_argument("--machines", type=int, default=5000)
    parser.add_argument("--years", type=float, default=6.5)
    arguments = parser.parse_args()
    if arguments.step == "make":
        make(arguments.file, machines=arguments.machines, years=arguments.years)
    elif arguments.step == "measure":
        for step in _STEPS:
            subprocess.run(
                [sys.executable, "-m", "tests.benchmarks.fleet_speed", step, str(arguments.file)],
                check=True,
            )
    else:
        _STEPS[arguments.step](arguments.file)


_STEPS: dict[str, Callable[[Path], None]] = {
    "counts": measure_counts,
    "reassess": measure_reassess,
    "fleet_page": measure_fleet_page,
    "start": measure_start,
    "compartment": measure_compartment,
}


if __name__ == "__main__":
    main()
