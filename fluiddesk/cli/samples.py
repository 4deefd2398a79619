"""``fluiddesk`` (opens the window), ``fluiddesk sample`` and ``fluiddesk simulate``."""

import argparse
import gc
from pathlib import Path
from typing import TYPE_CHECKING

from fluiddesk.cli.output import Exit, say
from fluiddesk.domain.errors import OperatorError

if TYPE_CHECKING:
    from argparse import _SubParsersAction


def add_commands(commands: "_SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the commands that make invented fleets."""
    sample = commands.add_parser("sample", help="open the sample fleet, in a copy of its own")
    sample.add_argument("--out", type=Path, help="write its database to this file; open no window")
    sample.set_defaults(run=_sample)

    simulate = commands.add_parser("simulate", help="make an invented fleet with known truth")
    simulate.add_argument("--machines", type=int, required=True)
    simulate.add_argument("--years", type=float, required=True)
    simulate.add_argument("--seed", type=int, required=True)
    simulate.add_argument("--out", type=Path, required=True, help="database file to write")
    simulate.set_defaults(run=_simulate)


def open_window() -> int:
    """Open the database this desk opened last, or offer a first start."""
    # Nothing is thrown away while the program is put together; ``run`` lets it collect again.
    gc.disable()
    # The desk first: once Qt is there, it reads the source of every module imported after it.
    from fluiddesk.wiring import OpenFor, last_opened, open_desk

    address = last_opened()
    opened, notice = None, ""
    if address:
        try:
            opened = open_desk(address, remember=True, purpose=OpenFor.EITHER)
        except OperatorError as fault:
            # The window tells the reason and offers what to do next; the terminal tells it too.
            notice = str(fault)
            say(f"fluiddesk: {fault}")
    from fluiddesk.desktop.application import run

    return run(opened, ["fluiddesk"], notice=notice)


def _sample(arguments: argparse.Namespace) -> int:
    if arguments.out is not None:
        from fluiddesk.wiring import write_sample_fleet

        write_sample_fleet(arguments.out, progress=_tell_progress)
        say(f"Wrote the sample fleet (invented machines and places) to {arguments.out}.")
        return Exit.OK
    from fluiddesk.desktop.application import run

    return run(None, ["fluiddesk", "sample"], open_sample=True)


def _tell_progress(done: int, total: int | None) -> bool:
    if total and (done == total or done % max(1, total // 4) == 0):
        say(f"  {100 * done // total} %")
    return True


def _simulate(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.simulated_fleet.write import write_simulated_fleet
    from fluiddesk.wiring import Clock

    clock = Clock()
    told = write_simulated_fleet(
        arguments.out,
        machines=arguments.machines,
        years=arguments.years,
        seed=arguments.seed,
        last_day=clock.today(),
        moment=clock.moment(),
        progress=_tell_progress,
    )
    say(told)
    return Exit.OK
