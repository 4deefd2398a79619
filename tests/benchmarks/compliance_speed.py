"""Measures compliance of a whole fleet as a ratio to the bare fetch of what it is made of.

Run from the top folder, in the program's environment, on a database of ``fleet_speed make``:

    python -m tests.benchmarks.compliance_speed FILE
"""

import argparse
import resource
import sqlite3
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

LAST_DAY = date(2026, 11, 20)
_SAMPLES = (
    "SELECT compartment_id, taken_on, true_hours, state = 'lost' OR trust = 2, taken_by "
    "FROM sample WHERE taken_on IS NOT NULL AND state NOT IN ('void', 'not_taken')"
)
_READINGS = "SELECT machine_id, read_on, true_hours FROM meter_reading WHERE voided_reason IS NULL"
_PART = 20_000


def _spans(work: Callable[[], Any]) -> tuple[float, float]:
    """Seconds by the clock and of the processor; the first run warms up."""
    work()
    started, busy = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - started, time.process_time() - busy


def bare_fetch(path: Path) -> int:
    """The floor: the same rows by the bare driver, thrown away."""
    connection = sqlite3.connect(path)
    rows = 0
    for statement in (_SAMPLES, _READINGS):
        cursor = connection.execute(statement)
        while part := cursor.fetchmany(_PART):
            rows += len(part)
    connection.close()
    return rows


def measure(path: Path) -> None:
    from fluiddesk.services.fleet_condition import fleet_condition
    from fluiddesk.services.interval_compliance.events import event_columns
    from fluiddesk.wiring import open_desk

    wall, busy = _spans(lambda: bare_fetch(path))
    print(f"bare fetch of {bare_fetch(path):,} rows: {wall:.2f} s, processor {busy:.2f} s")
    desk = open_desk(str(path))
    try:
        for name, work in (
            ("what is due", lambda: fleet_condition(desk.place, today=LAST_DAY)),
            ("compliance", lambda: event_columns(desk.place, today=LAST_DAY)),
        ):
            clock, processor = _spans(work)
            print(
                f"{name}: {clock:.2f} s = {clock / wall:.2f} x bare fetch, "
                f"processor {processor:.2f} s = {processor / busy:.2f} x"
            )
        print(f"    {len(event_columns(desk.place, today=LAST_DAY)):,} due events")
    finally:
        desk.close()
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"    peak memory {peak:,.0f} MB")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("file", type=Path)
    measure(parser.parse_args().file)


if __name__ == "__main__":
    main()
