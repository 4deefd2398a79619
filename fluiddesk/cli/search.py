"""``fluiddesk search WORDS``: machines, bottles, reports, serials and remarks by any part."""

import argparse
from typing import TYPE_CHECKING

from fluiddesk.cli.desk import add_database, opened
from fluiddesk.cli.output import Exit, print_rows, say

if TYPE_CHECKING:
    from argparse import _SubParsersAction

_COLUMNS = ("kind", "found", "place")


def add_commands(commands: "_SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command."""
    search = commands.add_parser("search", help="find a machine, bottle, report, serial or remark")
    search.add_argument("words", nargs="+", help="any part of a number, code, name or remark")
    search.add_argument("--limit", type=int, default=50, help="so many hits at most")
    add_database(search)
    search.set_defaults(run=_search)


def _search(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.search.find import find
    from fluiddesk.services.search.index import build_index

    with opened(arguments, is_reading=True) as desk:
        answer = find(
            build_index(desk.place), " ".join(arguments.words), limit=max(1, arguments.limit)
        )
    rows = [{"kind": hit.kind.words, "found": hit.found, "place": hit.place} for hit in answer.hits]
    if rows or arguments.format != "text":
        print_rows(rows, form=arguments.format, columns=_COLUMNS)
    if answer.is_cut or not rows:
        say(answer.sentence)
    return Exit.OK if rows else Exit.ATTENTION
