"""Reading and importing register files tell how far they are, and can be stopped anywhere."""

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from fluiddesk.domain.errors import CancelledError
from fluiddesk.services.register_files.take_in import (
    import_register_files,
    preview_register_files,
)
from tests.fleets import LAST_DAY, NOW
from tests.services.register_files.conftest import MACHINE, SITE, Register


def readings_of_years(register: Register) -> list[Path]:
    days = [LAST_DAY - timedelta(number) for number in range(700, 0, -1)]
    readings = [
        {"machine": "EX-01", "read_on": day.isoformat(), "value": 8 * number}
        for number, day in enumerate(days)
    ]
    meter = {"machine": "EX-01", "fitted_on": (days[0] - timedelta(1)).isoformat()}
    return [
        register.file("sites.csv", SITE),
        register.file("machines.csv", MACHINE),
        register.file("meters.csv", meter),
        register.file("meter_readings.csv", *readings),
    ]


def test_that_reading_and_importing_tell_how_far_they_are(register: Register):
    told: list[tuple[int, int | None]] = []

    def progress(done: int, total: int | None) -> bool:
        told.append((done, total))
        return True

    files = readings_of_years(register)
    preview = preview_register_files(register.place, files, today=LAST_DAY, progress=progress)
    reading = [done for done, total in told if total is None]
    importing = [done for done, total in told if total is not None]
    assert reading == sorted(reading)
    assert importing == sorted(importing)
    assert {total for _, total in told} == {None, 703}
    assert (reading[0], importing[-1]) == (0, 703)
    assert preview.files[-1].added == 700


@pytest.mark.parametrize("work", ["preview", "import"])
def test_that_nothing_is_saved_wherever_an_import_is_stopped(register: Register, work: str):
    files = readings_of_years(register)
    before = register.dump()
    stopped = 0
    for last in range(20):
        left = iter([True] * last)

        def progress(_done: int, _total: int | None, left: Iterator[bool] = left) -> bool:
            return next(left, False)

        try:
            if work == "preview":
                preview_register_files(register.place, files, today=LAST_DAY, progress=progress)
            else:
                import_register_files(
                    register.place, files, today=LAST_DAY, moment=NOW, progress=progress
                )
        except CancelledError as stop:
            stopped += 1
            assert str(stop) == "Stopped before anything was saved; nothing has changed."  # noqa: PT017
            assert register.dump() == before
        else:
            break
    assert stopped > 4
    assert (register.dump() == before) == (work == "preview")
