"""``fluiddesk limits``: draft, discard and activate."""

import argparse
from typing import TYPE_CHECKING, Any

from fluiddesk.cli.days import day_of
from fluiddesk.cli.desk import add_database, opened
from fluiddesk.cli.output import Exit, counted, print_json, print_rows, say

if TYPE_CHECKING:
    from argparse import _SubParsersAction

    from fluiddesk.services.limit_rules.facts import Activated


def add_parts(parts: "_SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add what changes limit sets."""
    draft = parts.add_parser("draft", help="copy a limit set into a new draft")
    draft.add_argument("name", help="what the draft is called")
    draft.add_argument("--from", type=int, dest="number", help="this set (default: in force)")
    draft.add_argument("--note", default="", help="what it is for")
    draft.set_defaults(run=_draft)
    discard = parts.add_parser("discard", help="put a draft away; it stays readable")
    discard.add_argument("number", type=int, help="number of the draft")
    discard.set_defaults(run=_discard)
    activate = parts.add_parser("activate", help="put a draft in force and judge the fleet by it")
    activate.add_argument("number", type=int, help="number of the draft")
    activate.add_argument(
        "--from", type=day_of, dest="valid_from", metavar="DAY",
        help="first day it holds (default: today); a past day judges the samples since then anew",
    )  # fmt: skip
    activate.add_argument("--note", required=True, help="why it takes force")
    activate.set_defaults(run=_activate)
    earlier = parts.add_parser(
        "hold-earlier", help="let the set in force hold from an earlier day, and judge since then"
    )
    earlier.add_argument("number", type=int, help="number of the set in force")
    earlier.add_argument(
        "--from", type=day_of, dest="valid_from", metavar="DAY", required=True,
        help="the earlier day; samples drawn before it keep their verdicts",
    )  # fmt: skip
    earlier.add_argument("--note", required=True, help="why")
    earlier.set_defaults(run=_hold_earlier)
    for part in (draft, discard, activate, earlier):
        add_database(part)


def _draft(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.limit_rules.versions import draft_from, set_held

    with opened(arguments) as desk:
        number = arguments.number or set_held(desk.place, today=desk.clock.today())
        made = draft_from(
            desk.place, number, name=arguments.name, note=arguments.note,
            moment=desk.clock.moment(),
        )  # fmt: skip
    say(
        f'Draft {made.number} "{made.limit_set.name}" copies limit set {number}. Change it on the '
        f"Rules page, or export it, edit the file and import it."
    )
    answer = {"set": made.number, "name": made.limit_set.name, "based_on": number}
    print_rows([answer], form=arguments.format, columns=("set", "name", "based_on"))
    return Exit.OK


def _discard(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.limit_rules.versions import discard_draft, read_set

    with opened(arguments) as desk:
        version = read_set(desk.place, arguments.number).version
        discard_draft(desk.place, arguments.number, version=version, moment=desk.clock.moment())
    say(f"Draft {arguments.number} is put away.")
    answer = {"set": arguments.number, "state": "Discarded"}
    print_rows([answer], form=arguments.format, columns=("set", "state"))
    return Exit.OK


def _activate(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.limit_rules.activate import activate
    from fluiddesk.services.limit_rules.versions import read_set

    with opened(arguments) as desk:
        today = desk.clock.today()
        done = activate(
            desk.place,
            arguments.number,
            valid_from=arguments.valid_from or today,
            note=arguments.note,
            version=read_set(desk.place, arguments.number).version,
            today=today,
            moment=desk.clock.moment(),
        )
    return _tell_activated(done, arguments.format)


def _hold_earlier(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.limit_rules.activate import hold_earlier

    with opened(arguments) as desk:
        done = hold_earlier(
            desk.place,
            arguments.number,
            valid_from=arguments.valid_from,
            note=arguments.note,
            today=desk.clock.today(),
            moment=desk.clock.moment(),
        )
    return _tell_activated(done, arguments.format)


def _tell_activated(done: "Activated", form: str) -> int:
    rows: list[dict[str, Any]] = [
        {
            "site": one.site,
            "machine": one.machine,
            "compartment": one.compartment,
            "before": one.before.word,
            "after": one.after.word,
            "headline": one.headline,
        }
        for one in done.moved
    ]
    say(
        f"Limit set {done.number} is in force from {done.valid_from}: "
        f"{counted(done.samples, 'sample')} judged, {counted(done.changed, 'verdict')} changed, "
        f"{counted(len(rows), 'compartment')} moved."
    )
    if not done.changed:
        say(
            f"It holds for samples drawn from {done.valid_from} on: nobody moves until new ones "
            "come. To judge older ones by it: `fluiddesk limits hold-earlier`."
        )
    if form == "json":
        print_json(
            {
                "set": done.number,
                "valid_from": done.valid_from,
                "retired": list(done.retired),
                "samples": done.samples,
                "changed": done.changed,
                "moved": rows,
            }
        )
    else:
        columns = ("site", "machine", "compartment", "before", "after", "headline")
        print_rows(rows, form=form, columns=columns)
    return Exit.OK
