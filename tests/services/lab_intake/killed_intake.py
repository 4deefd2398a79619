"""Takes files in, each in a process of its own that the test kills: started by the kill test.

Everything is loaded once and the process is then split, so that a kill falls into the work and not
into the loading. Lines in: a database, a file and the seconds after which to kill (empty: never).
Lines out: how the process ended.
"""

import os
import signal
import sys
import time
from datetime import UTC, date, datetime
from pathlib import Path

from fluiddesk.services.catalogue import load_catalogue
from fluiddesk.services.lab_intake.preview import preview_lab_file
from fluiddesk.services.lab_intake.take_in import take_in
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import open_store

DAY = date(2026, 6, 30)
MOMENT = datetime(2026, 6, 30, 12, tzinfo=UTC)


def main() -> None:
    catalogue = load_catalogue()
    for line in sys.stdin:
        address, file, seconds = line.rstrip("\n").split("\t")
        child = os.fork()
        if child == 0:
            _take_in(catalogue, address, file)
        if seconds:
            # Not waited for yet, so that its number cannot be another process's meanwhile.
            time.sleep(float(seconds))
            os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        sys.stdout.write(f"{status}\n")
        sys.stdout.flush()


def _take_in(catalogue, address: str, file: str) -> None:
    code = 1
    try:
        store = open_store(address)
        place = Workplace(store=store, catalogue=catalogue, who="Kim")
        preview = preview_lab_file(place, Path(file), today=DAY)
        take_in(place, preview, moment=MOMENT, today=DAY)
        store.close()
        code = 0
    finally:
        os._exit(code)


if __name__ == "__main__":
    main()
