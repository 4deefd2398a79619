"""``fluiddesk limits``: show, sets, check, holds, compare, export and import."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fluiddesk.cli import limit_drafts, limit_trials
from fluiddesk.cli.days import day_of
from fluiddesk.cli.desk import add_database, opened
from fluiddesk.cli.output import Exit, counted, print_json, print_rows, say
from fluiddesk.domain.errors import CannotWriteError, NotFoundError, OperatorError

if TYPE_CHECKING:
    from argparse import _SubParsersAction

    from fluiddesk.services.limit_rules.facts import Checked, HeldLimit

_COLUMNS = (
    "scope", "analyte", "kind", "direction", "watch", "act", "urgent", "unit", "source", "set_by",
)  # fmt: skip


def add_commands(commands: "_SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command and what it can do."""
    limits = commands.add_parser("limits", help="limits: in force, drafted, tried out, derived")
    parts = limits.add_subparsers(dest="part", metavar="PART", required=True)
    _add_reading(parts)
    _add_files(parts)
    limit_drafts.add_parts(parts)
    limit_trials.add_parts(parts)


def _add_reading(parts: "_SubParsersAction[argparse.ArgumentParser]") -> None:
    show = parts.add_parser("show", help="limits in force, by scope, each with its source")
    show.add_argument("--scope", default="", help="only scopes that contain this text")
    show.add_argument("--analyte", default="", help="only this analyte, by code")
    show.add_argument("--set", type=int, dest="number", help="another limit set, by number")
    show.set_defaults(run=_show)
    sets = parts.add_parser("sets", help="every limit set: draft, in force, retired")
    sets.set_defaults(run=_sets)
    check = parts.add_parser("check", help="what is wrong with the limits in force and with drafts")
    check.add_argument("number", type=int, nargs="?", help="only this limit set")
    check.set_defaults(run=_check)
    holds = parts.add_parser("holds", help="which limits hold for one box, and what they overrode")
    holds.add_argument("machine", help="machine number")
    holds.add_argument("compartment", help='"engine", "final_drive left" or "Final drive, left"')
    holds.add_argument("--site", default="", help="where two sites use the same machine number")
    holds.add_argument("--on", type=day_of, metavar="DAY", help="on this day (default: today)")
    holds.set_defaults(run=_holds)
    compare = parts.add_parser("compare", help="how one limit set differs from another")
    compare.add_argument("first", type=int, help="number of the earlier set")
    compare.add_argument("second", type=int, help="number of the later set")
    compare.set_defaults(run=_compare)
    for part in (show, sets, check, holds, compare):
        add_database(part)


def _add_files(parts: "_SubParsersAction[argparse.ArgumentParser]") -> None:
    export = parts.add_parser("export", help="write a limit set as a file")
    export.add_argument("--out", required=True, type=Path, metavar="FILE", help="file to write")
    export.add_argument("--set", type=int, dest="number", help="this set (default: in force)")
    add_database(export)
    export.set_defaults(run=_export)
    taken = parts.add_parser("import", help="take a limit file in as a new draft")
    taken.add_argument("file", type=Path, metavar="FILE", help="a limit file")
    add_database(taken)
    taken.set_defaults(run=_import)


def _show(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.limit_rules import limits_shown, shown
    from fluiddesk.services.limit_rules.versions import read_set

    with opened(arguments, is_reading=True) as desk:
        if arguments.number is None:
            held = limits_shown(desk.place, today=desk.clock.today())
            say(held.sentence)
        else:
            own = read_set(desk.place, arguments.number).limit_set
            held = shown(own, desk.place.catalogue)
            say(f'Limit set {own.number} "{own.name}", {own.state.value.replace("_", " ")}.')
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
            "off_until": line.limit.off_until if line.limit.is_off else None,
            "note": line.note,
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


def _sets(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.limit_rules.versions import limit_sets

    with opened(arguments, is_reading=True) as desk:
        found = limit_sets(desk.place, today=desk.clock.today())
    rows = [
        {
            "number": one.number,
            "name": one.name,
            "state": one.state_words,
            "holds_today": one.holds_today,
            "valid_from": None if one.state_words in ("Draft", "Discarded") else one.valid_from,
            "valid_until": None if one.is_discarded else one.valid_until,
            "author": one.author,
            "based_on": one.based_on,
            "limits": one.limits,
            "intervals": one.intervals,
            "note": one.note,
        }
        for one in found
    ]
    columns = ("number", "name", "state", "valid_from", "valid_until", "author", "limits", "note")
    print_rows(rows, form=arguments.format, columns=columns)
    return Exit.OK


def _check(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.limit_rules.check import check
    from fluiddesk.services.limit_rules.versions import limit_sets

    with opened(arguments, is_reading=True) as desk:
        today = desk.clock.today()
        if arguments.number is None:
            sets = limit_sets(desk.place, today=today)
            numbers = [one.number for one in sets if one.holds_today or one.state_words == "Draft"]
        else:
            numbers = [arguments.number]
        found = [check(desk.place, number, today=today) for number in sorted(numbers)]
    rows = [row for one in found for row in _problem_rows(one)]
    for one in found:
        accepted = len(one.problems) - len(one.open)
        told = f", {accepted} more accepted with a reason" if accepted else ""
        say(f'Limit set {one.number} "{one.name}": {counted(len(one.open), "problem")}{told}.')
    columns = ("set", "row", "where", "stops", "problem", "remedy")
    print_rows(rows, form=arguments.format, columns=columns)
    return Exit.ATTENTION if any(one.open for one in found) else Exit.OK


def _problem_rows(found: "Checked") -> list[dict[str, Any]]:
    return [
        {
            "set": found.number,
            "row": one.place + 1 if one.place >= 0 else None,
            "where": one.where,
            "stops": one.stops,
            "problem": one.told,
            "remedy": one.remedy,
            "accepted": one.accepted,
        }
        for one in found.problems
    ]


def _holds(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.compartment_history.read import find_compartment
    from fluiddesk.services.limit_rules.differences import interval_text
    from fluiddesk.services.limit_rules.holds import box_limits

    with opened(arguments, is_reading=True) as desk:
        box = find_compartment(
            desk.place, arguments.machine, arguments.compartment, site=arguments.site
        )
        found = box_limits(desk.place, box, day=arguments.on or desk.clock.today())
    say(
        f"{found.site}, {found.machine}, {found.compartment} on {found.day}: "
        f'limit set {found.set_number} "{found.set_name}".'
    )
    if found.interval is not None:
        say(f"Interval: {interval_text(found.interval)}, by {found.interval.set_by}.")
    rows = [_held_row(one) for one in found.held]
    columns = (
        "analyte", "kind", "direction", "watch", "act", "urgent", "unit", "scope", "since",
        "set_by", "overrode",
    )  # fmt: skip
    print_rows(rows, form=arguments.format, columns=columns)
    return Exit.OK


def _held_row(held: "HeldLimit") -> dict[str, Any]:
    from fluiddesk.services.limit_rules.differences import bounds_text

    limit = held.limit
    return {
        "analyte": limit.analyte,
        "kind": limit.kind.value,
        "direction": limit.direction,
        "watch": limit.watch,
        "act": limit.act,
        "urgent": limit.urgent,
        "unit": held.unit,
        "scope": limit.scope.text,
        "since": held.since,
        "off_until": limit.off_until if held.is_off else None,
        "source": limit.source,
        "set_by": limit.set_by,
        "overrode": [f"{one.scope.text}: {bounds_text(one)}" for one in held.overrode],
    }


def _compare(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.limit_rules.versions import compare

    with opened(arguments, is_reading=True) as desk:
        found = compare(desk.place, arguments.first, arguments.second)
    rows = [
        {
            "change": one.kind.value,
            "row": one.place + 1 if one.place >= 0 else None,
            "told": one.told,
        }
        for one in found
    ]
    say(
        f"{counted(len(rows), 'row')} of limit set {arguments.second} differ"
        f"{'s' if len(rows) == 1 else ''} from set {arguments.first}."
    )
    print_rows(rows, form=arguments.format, columns=("change", "row", "told"))
    return Exit.OK


def _export(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.limit_rules.limit_file import export_set
    from fluiddesk.services.limit_rules.versions import set_held

    with opened(arguments, is_reading=True) as desk:
        number = arguments.number or set_held(desk.place, today=desk.clock.today())
        text = export_set(desk.place, number)
    try:
        arguments.out.write_text(text, encoding="utf-8", newline="\n")
    except OSError as fault:
        raise CannotWriteError(f"{arguments.out} cannot be written: {fault.strerror}.") from fault
    say(f"Limit set {number} is written to {arguments.out}.")
    answer = {"set": number, "file": str(arguments.out)}
    print_rows([answer], form=arguments.format, columns=("set", "file"))
    return Exit.OK


def _import(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.limit_rules.limit_file import import_set

    text = _read(arguments.file)
    with opened(arguments) as desk:
        made = import_set(
            desk.place,
            text,
            file=arguments.file.name,
            today=desk.clock.today(),
            moment=desk.clock.moment(),
        )
    for problem in made.problems:
        say(f"{arguments.file.name}: {problem.text}")
    say(
        f'Draft {made.number} "{made.name}" holds {counted(made.limits, "limit")} and '
        f"{counted(made.intervals, 'interval rule')}. It judges nothing until it is put in force."
    )
    answer = {
        "set": made.number,
        "name": made.name,
        "limits": made.limits,
        "intervals": made.intervals,
        "problems": [problem.text for problem in made.problems],
    }
    if arguments.format == "json":
        print_json(answer)
    else:
        columns = ("set", "name", "limits", "intervals")
        print_rows([answer], form=arguments.format, columns=columns)
    return Exit.OK


def _read(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8-sig")
    except FileNotFoundError as fault:
        raise NotFoundError(f"There is no file {file}. Check the path.") from fault
    except UnicodeDecodeError as fault:
        raise OperatorError(
            f"{file}: byte {fault.start + 1} is no UTF-8. Save the file as UTF-8."
        ) from fault
    except OSError as fault:
        raise NotFoundError(f"{file} cannot be read: {fault.strerror}. Check the path.") from fault
