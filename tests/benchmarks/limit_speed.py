"""How fast a draft of limits is tried out on a large fleet, and limits are derived from it.

Run on a database that ``fleet_speed make`` wrote, from the top folder:

    python -m tests.benchmarks.limit_speed FILE

Each span is printed as a ratio to reading every packed history by the bare driver in the same run.
"""

import argparse
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

from fluiddesk.domain.limits.limit_set import LimitKind, LimitSet
from fluiddesk.services.catalogue import load_catalogue
from fluiddesk.services.limit_rules.derive import derive
from fluiddesk.services.limit_rules.what_if import what_if_latest, what_if_year
from fluiddesk.services.limit_rules.what_if_fleet import open_what_if
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import open_store
from tests.benchmarks.fleet_speed import LAST_DAY, _best, _block_read, _ratio, _tell_peak


def moved(held: LimitSet, factor: float, *, kinds: frozenset[str]) -> LimitSet:
    """A draft with the Watch levels of iron moved in some kinds of boxes."""
    limits = tuple(
        replace(limit, watch=limit.watch * factor)
        if limit.analyte == "iron"
        and limit.kind is LimitKind.LEVEL
        and limit.watch is not None
        and limit.scope.compartment_kind in kinds
        else limit
        for limit in held.limits
    )
    return replace(held, number=held.number + 1, limits=limits)


def main() -> None:
    """Measure one database."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("file", type=Path)
    path: Path = parser.parse_args().file
    floor = _block_read(path)

    def tell(name: str, work: Callable[[], Any], *, target: float, repeats: int = 3) -> None:
        span = _best(work, repeats=repeats)
        _ratio(name, span, floor, target=target, floor_name="block read")

    with open_store(str(path), read_only=True) as store:
        place = Workplace(store=store, catalogue=load_catalogue(), who="benchmark")
        started = time.perf_counter()
        fleet = open_what_if(place, today=LAST_DAY)
        what_if_latest(fleet, fleet.held)
        print(
            f"opening the preview of {len(fleet.columns.boxes):,} boxes and "
            f"{sum(map(len, fleet.columns.groups)):,} samples: "
            f"{time.perf_counter() - started:.2f} s"
        )
        every = frozenset(box.kind for box in fleet.columns.boxes)
        for name, kinds in (("one kind", frozenset({"engine"})), ("every kind", every)):
            draft = moved(fleet.held, 0.8, kinds=kinds)
            for what, work, target in (
                ("latest samples", what_if_latest, 1.0),
                ("last year", what_if_year, 10.0),
            ):
                tell(
                    f"what-if, {what}, iron of {name}",
                    partial(work, fleet, draft),
                    target=target,
                )
        tell("percentiles of every group", lambda: derive(fleet, rounds=0), target=2, repeats=1)
        tell(
            "engines with intervals and notes",
            lambda: derive(fleet, compartment_kind="engine"),
            target=10,
            repeats=1,
        )
    _tell_peak()


if __name__ == "__main__":
    main()
