"""Opening the database a command works on."""

import argparse
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from fluiddesk.cli.output import say
from fluiddesk.domain.errors import UsageError

if TYPE_CHECKING:
    from fluiddesk.wiring import OpenedDesk

FORMATS = ("text", "json", "csv")


def add_database(parser: argparse.ArgumentParser, *, formats: bool = True) -> None:
    """Add ``--database`` and, where a command answers with data, ``--format``."""
    parser.add_argument(
        "--database",
        metavar="ADDRESS",
        help="a file, or a postgresql:// address; by default the one this desk opened last",
    )
    if formats:
        parser.add_argument("--format", choices=FORMATS, default="text", help="form of the answer")


def database_address(arguments: argparse.Namespace) -> str:
    """The database asked for, or the one opened last, which is then named.

    Raises:
        UsageError: when neither is known.
    """
    if arguments.database:
        return str(arguments.database)
    from fluiddesk.wiring import last_opened, shown_address

    address = last_opened()
    if not address:
        raise UsageError(
            "No database is named and none was opened before. Give --database FILE, or make a "
            "database of the sample fleet with: fluiddesk sample --out FILE"
        )
    say(f"Database: {shown_address(address)}")
    return address


@contextmanager
def opened(arguments: argparse.Namespace, *, is_reading: bool = False) -> Iterator["OpenedDesk"]:
    """The opened database, closed again at the end.

    A command that only reads also opens a file that may not be written.
    """
    from fluiddesk.wiring import OpenFor, open_desk

    purpose = OpenFor.READING if is_reading else OpenFor.WRITING
    desk = open_desk(database_address(arguments), purpose=purpose)
    try:
        yield desk
    finally:
        desk.close()
