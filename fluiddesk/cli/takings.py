"""``fluiddesk takings``: visit sheets recorded from a file, and a blank file to be filled in."""

import csv
from pathlib import Path
from typing import TYPE_CHECKING

from fluiddesk.cli.desk import add_database, opened
from fluiddesk.cli.output import Exit, counted, csv_cell, say
from fluiddesk.domain.errors import CannotWriteError, UsageError

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace, _SubParsersAction


def add_commands(commands: "_SubParsersAction[ArgumentParser]") -> None:
    """Add the command."""
    takings = commands.add_parser(
        "takings", help="record visits from a CSV or XLSX file of their sheets"
    )
    takings.add_argument("file", type=Path, nargs="?", help="file with one row a bottle")
    takings.add_argument(
        "--blank", type=Path, metavar="FILE", help="write a CSV of the issued bottles to fill in"
    )
    takings.add_argument("--check", action="store_true", help="read the file, record nothing")
    add_database(takings, formats=False)
    takings.set_defaults(run=_takings)


def _takings(arguments: "Namespace") -> int:
    if (arguments.file is None) == (arguments.blank is None):
        raise UsageError("Give the file of the sheets, or --blank FILE for one to fill in.")
    return _blank(arguments) if arguments.blank else _record(arguments)


def _blank(arguments: "Namespace") -> int:
    from fluiddesk.services.takings.from_file import COLUMNS, blank_rows

    with opened(arguments, is_reading=True) as desk:
        rows = blank_rows(desk.place, today=desk.clock.today())
    try:
        with arguments.blank.open("w", encoding="utf-8-sig", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(COLUMNS)
            writer.writerows([csv_cell(row[name]) for name in COLUMNS] for row in rows)
    except OSError as fault:
        raise CannotWriteError(f"{arguments.blank} cannot be written: {fault.strerror}.") from fault
    say(f"Wrote {counted(len(rows), 'bottle')}: {arguments.blank}.")
    if not rows:
        say("No issued visit waits to be recorded: fluiddesk visits --save, then sheets.")
    return Exit.OK


def _record(arguments: "Namespace") -> int:
    from fluiddesk.services.takings.from_file import read_takings
    from fluiddesk.services.takings.record import record_visits

    with opened(arguments, is_reading=arguments.check) as desk:
        today = desk.clock.today()
        done = read_takings(desk.place, arguments.file, today=today)
        if arguments.check:
            bottles = sum(len(one.bottles) for one in done)
            say(f"{counted(len(done), 'visit')} with {counted(bottles, 'bottle')} can be read.")
            return Exit.OK
        recorded = record_visits(desk.place, done, today=today, moment=desk.clock.moment())
    for one in recorded:
        for code, why in one.suspect:
            say(f"In doubt: {code}: {why}")
        for warning in one.warnings:
            say(f"Look at: {warning}")
    taken = sum(len(one.samples) for one in recorded)
    not_taken = sum(one.not_taken for one in recorded)
    still_open = sum(one.still_open for one in recorded)
    say(
        f"{counted(len(recorded), 'visit')} recorded: {counted(taken, 'bottle')} taken, "
        f"{not_taken} not taken, {still_open} still open."
    )
    return Exit.OK
