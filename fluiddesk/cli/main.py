"""The ``fluiddesk`` command: reads arguments, picks a command, sets the exit code."""

import argparse
import logging
import sys
from collections.abc import Sequence

from fluiddesk import __version__
from fluiddesk.cli import (
    chance,
    compliance,
    custody,
    database,
    fleet,
    forecasts,
    lab_intake,
    limit_rules,
    outside_plan,
    past_results,
    pictures,
    reckoner,
    register_files,
    samples,
    search,
    special,
    takings,
    visits,
)
from fluiddesk.cli.output import Exit, say, speak_any_script
from fluiddesk.domain.errors import OperatorError

_WRONG_USAGE = 2
"""What argparse leaves with on wrong usage; ours is 64, after sysexits."""

_ABOUT = (
    "Carries an in-service oil and coolant sampling programme from what is due to what was found. "
    "Without a command it opens the window. It advises; a named person decides."
)


def build_parser() -> argparse.ArgumentParser:
    """The whole command line."""
    parser = argparse.ArgumentParser(prog="fluiddesk", description=_ABOUT)
    parser.add_argument("--version", action="version", version=f"fluiddesk {__version__}")
    # The start script takes this one away before the program runs; it stands here for --help.
    parser.add_argument(
        "--no-system-packages",
        action="store_true",
        help="at first start, never install shared libraries of the system",
    )
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")
    for part in (
        samples,
        fleet,
        forecasts,
        lab_intake,
        past_results,
        outside_plan,
        search,
        register_files,
        visits,
        takings,
        special,
        custody,
        compliance,
        chance,
        limit_rules,
        reckoner,
        pictures,
        database,
    ):
        part.add_commands(commands)
    return parser


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command.

    Args:
        argv: the arguments; those of the process by default.

    Returns:
        The exit code, one of ``Exit``.
    """
    speak_any_script()
    try:
        arguments = build_parser().parse_args(argv)
    except SystemExit as told:
        return Exit.USAGE if told.code == _WRONG_USAGE else int(told.code or 0)
    try:
        return _run(arguments)
    except OperatorError as fault:
        say(f"fluiddesk: {fault}")
        return fault.exit_code
    except BrokenPipeError:
        sys.stderr.close()
        return Exit.OK
    except KeyboardInterrupt:
        say("fluiddesk: stopped.")
        return Exit.STOPPED
    except Exception:
        logging.getLogger("fluiddesk").exception("A fault of the program")
        say("fluiddesk: this is a fault of the program, not of your input. Nothing was saved.")
        return Exit.INTERNAL


def _run(arguments: argparse.Namespace) -> int:
    if arguments.command is None:
        return samples.open_window()
    code: int = arguments.run(arguments)
    return code
