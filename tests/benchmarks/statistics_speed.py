"""Measures the statistics over whole fleets and prints each as a ratio to a plain loop.

Run from the top folder, in the program's environment:

    python -m tests.benchmarks.statistics_speed [theil_sen] [--series 750000 --threads 2]

The loop is timed on a part of the same series and scaled up; its answers are compared with ours.
Ratios are given by the clock and by processor time: on a machine that does other work besides,
the second is the steadier.
"""

import argparse
import os
import time
from collections.abc import Callable

import numpy as np
from scipy import stats

from fluiddesk.domain.statistics.theil_sen import theil_sen_columns

RESULTS = 33
IN_THE_LOOP = 2_000
TARGET = 100


def _timed(work: Callable[[], object]) -> tuple[float, float]:
    """Seconds by the clock and of the processor."""
    clock, processor = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - clock, time.process_time() - processor


def measure_theil_sen(*, count: int, threads: int) -> None:
    rng = np.random.default_rng(2026)
    at = np.cumsum(rng.uniform(50, 450, size=(count, RESULTS)), axis=1)
    # Whole ppm, as laboratories report them: ties are the rule.
    values = np.round(10 + at / 400 + rng.normal(0, 3, size=at.shape))
    part = slice(0, min(IN_THE_LOOP, count))
    answers = np.empty((3, part.stop))

    def loop() -> None:
        for row in range(part.stop):
            found = stats.theilslopes(values[row], at[row])
            answers[:, row] = found.slope, found.low_slope, found.high_slope

    scale = count / part.stop
    loop_clock, loop_processor = (span * scale for span in _timed(loop))
    theil_sen_columns(at[part], values[part])
    clock, processor = _timed(lambda: theil_sen_columns(at, values, threads=threads))
    ours = theil_sen_columns(at[part], values[part])
    worst = np.abs(np.stack([ours.slope, ours.low, ours.high]) - answers).max()
    print(
        f"theil_sen, slope and interval of {count:,} series of {RESULTS}, {threads} threads: "
        f"{clock:.2f} s, {count / clock:,.0f} series a second; loop {loop_clock:,.0f} s "
        f"(from {part.stop:,} series)\n"
        f"    {loop_clock / clock:.0f} times the loop by the clock, "
        f"{loop_processor / processor:.0f} times by processor time, target {TARGET}\n"
        f"    largest difference to the loop: {worst:.1e}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("step", nargs="?", choices=["theil_sen"], default="theil_sen")
    parser.add_argument("--series", type=int, default=750_000)
    parser.add_argument("--threads", type=int, default=min(2, os.cpu_count() or 1))
    arguments = parser.parse_args()
    measure_theil_sen(count=arguments.series, threads=arguments.threads)


if __name__ == "__main__":
    main()
