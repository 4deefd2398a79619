"""``fluiddesk database status``, ``new``, ``upgrade``, ``copy``, ``papers`` and ``check``."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from fluiddesk.cli.desk import add_database, database_address, opened
from fluiddesk.cli.output import Exit, print_json, print_rows, say
from fluiddesk.domain.errors import NotFoundError, UsageError

if TYPE_CHECKING:
    from argparse import _SubParsersAction


def add_commands(commands: "_SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command and what it can do."""
    database = commands.add_parser("database", help="look after the database")
    parts = database.add_subparsers(dest="part", metavar="PART", required=True)

    status = parts.add_parser("status", help="version, size and what is in it")
    status.add_argument(
        "--check", action="store_true", help="that a new database would match the program's tables"
    )
    _add_file(status)
    add_database(status)
    status.set_defaults(run=_status)

    new = parts.add_parser("new", help="make an empty database with the starter limits in force")
    new.add_argument("target", metavar="ADDRESS", help="a file, or a postgresql:// address")
    new.set_defaults(run=_new)

    upgrade = parts.add_parser("upgrade", help="bring an older database to this version")
    _add_file(upgrade)
    add_database(upgrade, formats=False)
    upgrade.set_defaults(run=_upgrade)

    copy = parts.add_parser("copy", help="copy the database to another file or server")
    copy.add_argument("target", metavar="TARGET", help="a file, or a postgresql:// address")
    copy.add_argument(
        "--papers", type=Path, metavar="FOLDER", help="for a copy on a server: where its papers go"
    )
    add_database(copy, formats=False)
    copy.set_defaults(run=_copy)

    papers = parts.add_parser("papers", help="where papers are kept, and whether all are there")
    papers.add_argument(
        "folder",
        type=Path,
        nargs="?",
        metavar="FOLDER",
        help="for a database on a server: keep them in this folder, which every desk must reach",
    )
    add_database(papers)
    papers.set_defaults(run=_papers)

    check = parts.add_parser("check", help="look for damage and for figures that do not agree")
    _add_file(check)
    add_database(check)
    check.set_defaults(run=_check)


def _add_file(parser: argparse.ArgumentParser) -> None:
    """Let the database be named without ``--database`` too, as ``database new`` has it."""
    parser.add_argument(
        "file", nargs="?", metavar="ADDRESS", help="the database, as after --database"
    )


def _named(arguments: argparse.Namespace) -> argparse.Namespace:
    """The arguments with the database named either way.

    Raises:
        UsageError: when two are named.
    """
    if arguments.file and arguments.database:
        raise UsageError(
            f"Two databases are named: {arguments.file} and {arguments.database}. Name one."
        )
    arguments.database = arguments.database or arguments.file
    return arguments


def _status(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.database_care import database_status, differences_from_tables

    if arguments.check:
        differences = differences_from_tables()
        rows = [{"difference": one} for one in differences]
        print_rows(rows, form=arguments.format, columns=("difference",))
        if not differences:
            say("A new database matches the program's tables.")
        return Exit.CONFIG if differences else Exit.OK
    status = database_status(database_address(_named(arguments)))
    rows = [{"fact": name, "value": value} for name, value in status.items()]
    if arguments.format == "json":
        print_json(status)
    else:
        print_rows(rows, form=arguments.format, columns=("fact", "value"))
    if status["state"] == "missing":
        raise NotFoundError(f"There is no database at {status['address']}. Check the address.")
    return Exit.OK


def _new(arguments: argparse.Namespace) -> int:
    from fluiddesk.wiring import new_database, shown_address

    new_database(arguments.target)
    say(f"Made {shown_address(arguments.target)} with the starter limits in force.")
    return Exit.OK


def _upgrade(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.database_care import upgrade_database
    from fluiddesk.wiring import Clock

    say(upgrade_database(database_address(_named(arguments)), moment=Clock().moment()))
    return Exit.OK


def _copy(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.database_care import copy_database
    from fluiddesk.wiring import Clock, shown_address

    papers = copy_database(
        database_address(arguments),
        arguments.target,
        moment=Clock().moment(),
        papers=arguments.papers,
    )
    say(f"Copied to {shown_address(arguments.target)}.")
    if papers:
        say(papers)
    return Exit.OK


def _papers(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.papers.attach import check_papers
    from fluiddesk.services.papers.folder import name_papers_folder, papers_folder

    with opened(arguments, is_reading=arguments.folder is None) as desk:
        place = desk.place
        if arguments.folder is not None:
            before = name_papers_folder(place, arguments.folder, moment=desk.clock.moment())
            say(f"The papers are kept in {papers_folder(place.store)} from now on.")
            if before is not None:
                say(f"Those in {before} were copied there; the old folder was left as it is.")
        problems = check_papers(place.store)
        told = {"folder": str(papers_folder(place.store)), "problems": problems}
    print_rows([told], form=arguments.format, columns=tuple(told))
    return Exit.ATTENTION if problems else Exit.OK


def _check(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.database_care import check_database

    problems = check_database(database_address(_named(arguments)))
    rows = [{"problem": one} for one in problems]
    print_rows(rows, form=arguments.format, columns=("problem",))
    if not problems:
        say("No damage found; blocks, conditions and audit trail agree with the results.")
    return Exit.ATTENTION if problems else Exit.OK
