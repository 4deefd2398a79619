"""How long a search takes on 5,000 machines and a million samples.

``python -m tests.benchmarks.search_speed`` prints milliseconds and the ratio to one plain pass over
the same bytes (``bytes.count`` of a rare word), so that figures compare across machines.
"""

import random
import resource
import time
from collections.abc import Iterator

from fluiddesk.services.plain_text import plain_code
from fluiddesk.services.search.facts import HitKind
from fluiddesk.services.search.find import find
from fluiddesk.services.search.index import Place, SearchIndex
from fluiddesk.services.search.lanes import LaneMaker

MACHINES = 5_000
BOXES = 30_000
SAMPLES = 1_000_000
_BATCH = 20_000
_TYPED = (
    "EX-0042", "26K-012345", "R-26-0123", "serial 77", "flakes", "engine 4999", "zz 99", "0", "e",
    "26K-0123450", "final drive left",
)  # fmt: skip


def made_index() -> SearchIndex:
    """An invented fleet's index, as large as the largest the program is meant for."""
    dice = random.Random(1)  # noqa: S311  # an invented fleet, no secret
    makers = {kind: LaneMaker(kind) for kind in HitKind}
    names = [f"EX-{number:04}" for number in range(MACHINES)]
    places = [Place("North pit", bytes(16), None)] * MACHINES
    places += [Place("North pit, a box", bytes(16), bytes(16))] * BOXES
    makers[HitKind.MACHINE].add_words(
        [f"{plain_code(name)} s{dice.randrange(10**7)} excavator north pit" for name in names],
        names,
        range(MACHINES),
    )
    kinds = ("engine", "hydraulic system", "final drive left", "final drive right", "axle front")
    boxes = [f"{names[number % MACHINES]} {dice.choice(kinds)}" for number in range(BOXES)]
    makers[HitKind.COMPARTMENT].add_words(
        [text.lower().replace("-", "") for text in boxes], boxes, range(MACHINES, MACHINES + BOXES)
    )
    for batch in _batches():
        at = [MACHINES + number % BOXES for number in batch]
        keys = [number.to_bytes(16, "big") for number in batch]
        makers[HitKind.BOTTLE].add_codes([f"26K-{n:06}-{n % 10}" for n in batch], at, keys)
        makers[HitKind.REPORT].add_codes([f"R-26-{n:07}" for n in batch], at, keys)
        told = [f"remark {n} iron up, resample" for n in batch[::20]]
        makers[HitKind.REMARK].add_words(told, told, at[::20], keys[::20])
    lanes = tuple(makers[kind].made() for kind in HitKind)
    return SearchIndex(lanes=lanes, places=tuple(places), stamp=())


def _batches() -> Iterator[range]:
    for start in range(0, SAMPLES, _BATCH):
        yield range(start, start + _BATCH)


def milliseconds(index: SearchIndex, typed: str, *, times: int = 5) -> float:
    """The fastest of some searches."""
    spent = []
    for _ in range(times):
        begun = time.perf_counter()
        find(index, typed)
        spent.append(time.perf_counter() - begun)
    return 1000.0 * min(spent)


def plain_pass(index: SearchIndex) -> float:
    """One pass over all bytes of the index, in milliseconds."""
    begun = time.perf_counter()
    for lane in index.lanes:
        lane.text.count(b"zq9x")
    return 1000.0 * (time.perf_counter() - begun)


def main() -> None:
    """Print every figure."""
    begun = time.perf_counter()
    index = made_index()
    print(f"index of {len(index):,} texts made in {time.perf_counter() - begun:.1f} s")
    floor = min(plain_pass(index) for _ in range(5))
    print(f"one plain pass {floor:.1f} ms; peak memory {_peak_mb():.0f} MB")
    for typed in _TYPED:
        spent = milliseconds(index, typed)
        print(f"{typed!r:>22} {spent:7.2f} ms  {spent / floor:5.2f} x")


def _peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


if __name__ == "__main__":
    main()
