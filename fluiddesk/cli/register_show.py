"""``fluiddesk register show|missing``: the machines on the register, and what it still lacks."""

import argparse
from collections import Counter
from typing import TYPE_CHECKING, Any

from fluiddesk.cli.desk import add_database, opened
from fluiddesk.cli.output import Exit, print_rows, say

if TYPE_CHECKING:
    from argparse import _SubParsersAction

    from fluiddesk.services.register.facts import RegisterFacts

_MACHINES = (
    "site", "machine", "kind", "model", "serial", "state", "hours", "read_on", "boxes", "missing",
)  # fmt: skip
_MISSING = ("record", "name", "field", "text", "blocks")


def add_showing(parts: "_SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add what shows the register to the parts of the ``register`` command."""
    show = parts.add_parser("show", help="every machine, with how much of it is still missing")
    add_database(show)
    show.set_defaults(run=_show)
    missing = parts.add_parser("missing", help="what the register still lacks, worst first")
    missing.add_argument("--blocking", action="store_true", help="only what keeps work from going")
    add_database(missing)
    missing.set_defaults(run=_missing)


def _facts(arguments: argparse.Namespace) -> "RegisterFacts":
    from fluiddesk.services.register.read import register_facts

    with opened(arguments) as desk:
        return register_facts(desk.place, today=desk.clock.today())


def _show(arguments: argparse.Namespace) -> int:
    facts = _facts(arguments)
    boxes = Counter(one.machine for one in facts.compartments if not one.retired)
    gaps = Counter(one.machine for one in facts.missing)
    rows: list[dict[str, Any]] = [
        {
            "site": one.site_name,
            "machine": one.code,
            "kind": one.kind_name,
            "model": one.model,
            "serial": one.serial,
            "state": one.state.value,
            "hours": one.hours_now,
            "read_on": one.hours_as_of,
            "boxes": boxes[one.id],
            "missing": gaps[one.id],
        }
        for one in facts.machines
    ]
    print_rows(rows, form=arguments.format, columns=_MACHINES)
    return Exit.OK


def _missing(arguments: argparse.Namespace) -> int:
    facts = _facts(arguments)
    found = [one for one in facts.missing if one.blocks or not arguments.blocking]
    rows = [
        {
            "record": one.record,
            "name": one.name,
            "field": one.field,
            "text": one.text,
            "blocks": one.blocks,
        }
        for one in found
    ]
    print_rows(rows, form=arguments.format, columns=_MISSING)
    blocking = sum(one.blocks for one in found)
    keep = "keeps" if blocking == 1 else "keep"
    are = "thing is" if len(found) == 1 else "things are"
    say(f"{len(found)} {are} missing, {blocking} of them {keep} work from going.")
    return Exit.OK
