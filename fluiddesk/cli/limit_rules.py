"""``fluiddesk limits show``."""

import argparse
from typing import TYPE_CHECKING

from fluiddesk.cli.desk import add_database, opened
from fluiddesk.cli.output import Exit, print_rows, say
from fluiddesk.domain.errors import NotFoundError

if TYPE_CHECKING:
    from argparse import _SubParsersAction

_COLUMNS = (
    "scope", "analyte", "kind", "direction", "watch", "act", "urgent", "unit", "source", "set_by",
)  # fmt: skip


def add_commands(commands: "_SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command and what it can do."""
    limits = commands.add_parser("limits", help="the limits in force")
    parts = limits.add_subparsers(dest="part", metavar="PART", required=True)
    show = parts.add_parser("show", help="limits in force, by scope, each with its source")
    show.add_argument("--scope", default="", help="only scopes that contain this text")
    show.add_argument("--analyte", default="", help="only this analyte, by code")
    add_database(show)
    show.set_defaults(run=_show)


def _show(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.limit_rules import limits_shown

    with opened(arguments, is_reading=True) as desk:
        held = limits_shown(desk.place, today=desk.clock.today())
    say(held.sentence)
    wanted = arguments.scope.lower()
    rows = [
        {
            "scope": line.scope,
            "analyte": line.limit.analyte,
            "kind": line.limit.kind.value,
            "direction": line.direction,
            "watch": line.limit.watch,
            "act": line.limit.act,
            "urgent": line.limit.urgent,
            "unit": line.unit,
            "source": line.source,
            "set_by": line.set_by,
            "judged": line.is_judged,
        }
        for line in held.lines
        if wanted in line.scope.lower() and arguments.analyte in ("", line.limit.analyte)
    ]
    print_rows(rows, form=arguments.format, columns=_COLUMNS)
    if not rows:
        scopes = ", ".join(sorted({line.scope for line in held.lines}))
        raise NotFoundError(
            f'No limit fits scope "{arguments.scope}" and analyte "{arguments.analyte}". '
            f"There are limits for: {scopes}."
        )
    return Exit.OK
