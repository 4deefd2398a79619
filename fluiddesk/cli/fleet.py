"""``fluiddesk condition``, ``history``, ``due`` and ``reassess``."""

import argparse
from datetime import timedelta
from typing import TYPE_CHECKING, Any

from fluiddesk.cli.days import days_ahead
from fluiddesk.cli.desk import add_database, opened
from fluiddesk.cli.output import Exit, counted, print_json, print_rows, say
from fluiddesk.domain.severity import Severity

if TYPE_CHECKING:
    from argparse import _SubParsersAction

    from fluiddesk.services.sampling_plan import DueLine


def add_commands(commands: "_SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the commands that read the fleet."""
    condition = commands.add_parser("condition", help="latest verdict of every compartment")
    add_database(condition)
    condition.set_defaults(run=_condition)

    history = commands.add_parser("history", help="samples and events of one compartment")
    history.add_argument("machine", help="machine number")
    history.add_argument("compartment", help='"engine", "final_drive left" or "Final drive, left"')
    history.add_argument("--site", default="", help="where two sites use the same machine number")
    add_database(history)
    history.set_defaults(run=_history)

    due = commands.add_parser("due", help="what is due for sampling, and what is overdue")
    due.add_argument("--within", default="14d", help="days ahead, such as 14d (default)")
    due.add_argument(
        "--all", action="store_true", help="every box, also early and excused ones, with its state"
    )
    add_database(due)
    due.set_defaults(run=_due)

    again = commands.add_parser("reassess", help="judge samples again by the limits in force")
    again.add_argument(
        "--all", action="store_true", help="every sample ever taken, not only changed ones"
    )
    add_database(again)
    again.set_defaults(run=_reassess)


def _condition(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.fleet_condition import condition_lines, fleet_condition

    with opened(arguments, is_reading=True) as desk:
        fleet = fleet_condition(desk.place, today=desk.clock.today())
        lines = condition_lines(fleet, desk.place.catalogue)
    rows = [
        {
            "site": line.site,
            "machine": line.machine,
            "compartment": line.compartment,
            "severity": line.severity.word,
            "trust": line.trust.word,
            "sampled_on": line.sampled_on,
            "stale": line.is_stale,
            "reasons": list(line.reasons),
        }
        for line in lines
    ]
    columns = ("severity", "site", "machine", "compartment", "sampled_on", "trust", "reasons")
    print_rows(rows, form=arguments.format, columns=columns)
    needs_attention = any(line.severity >= Severity.ACT for line in lines)
    return Exit.ATTENTION if needs_attention else Exit.OK


def _history(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.compartment_history.read import compartment_history, find_compartment
    from fluiddesk.services.compartment_history.telling import (
        due_row,
        event_rows,
        hours_left_row,
        sample_rows,
        wear_rows,
    )

    with opened(arguments, is_reading=True) as desk:
        box = find_compartment(
            desk.place, arguments.machine, arguments.compartment, site=arguments.site
        )
        history = compartment_history(desk.place, box, today=desk.clock.today())
    samples = sample_rows(history)
    if arguments.format == "json":
        print_json(
            {
                "site": history.site,
                "earlier_sites": list(history.earlier_sites),
                "machine": history.machine,
                "compartment": history.box,
                "severity": history.severity.word,
                "trust": history.trust.word,
                "sentence": history.sentence,
                "samples": samples,
                "events": event_rows(history),
                "due": due_row(history),
                "hours_left": hours_left_row(history),
                "wear": wear_rows(history),
            }
        )
        return Exit.OK
    if arguments.format == "text":
        print(f"{history.site}, {history.machine}, {history.box}: {history.sentence}")
        if history.earlier_sites:
            print(f"Before at {', '.join(history.earlier_sites)}; samples from there included.")
        print(history.hours_left.sentence)
    readings = [series.analyte.symbol for series in history.series]
    flat: list[dict[str, Any]] = [
        {**sample, **{reading["symbol"]: reading["shown"] for reading in sample["readings"]}}
        for sample in samples
    ]
    head = ("sampled_on", "hours", "fluid_hours", "severity", "trust", "report")
    print_rows(flat, form=arguments.format, columns=(*head, *readings))
    return Exit.OK


def _due(arguments: argparse.Namespace) -> int:
    from fluiddesk.domain.sampling.due import DueState
    from fluiddesk.services.due_bands import due_bands
    from fluiddesk.services.due_notes import due_notes
    from fluiddesk.services.due_standing import due_standings
    from fluiddesk.services.fleet_condition import fleet_condition
    from fluiddesk.services.sampling_plan import due_lines
    from fluiddesk.services.special_by_hand import specials

    within = days_ahead(arguments.within)
    with opened(arguments, is_reading=True) as desk:
        today = desk.clock.today()
        fleet = fleet_condition(desk.place, today=today)
        lines = due_lines(
            fleet,
            desk.place.catalogue,
            until=today + timedelta(days=within),
            bands=due_bands(desk.place, fleet),
            standings=due_standings(
                fleet, notes=due_notes(desk.place), specials=specials(desk.place, today=today)
            ),
            everything=arguments.all,
        )
    rows = [_due_row(line) for line in lines]
    if arguments.format == "json":
        print_json(rows)
    else:
        shown = [{**row, "band": line.band_short} for row, line in zip(rows, lines, strict=True)]
        say("band: the due day lies in it with a chance of 80 %, where the meter sets it.")
        columns = ("standing", "due_on", "band", "site", "machine", "compartment", "hours_left",
                   "basis", "why")  # fmt: skip
        print_rows(shown, form=arguments.format, columns=columns)
    overdue = any(line.state is DueState.OVERDUE for line in lines)
    return Exit.ATTENTION if overdue else Exit.OK


def _due_row(line: "DueLine") -> dict[str, Any]:
    early = f"critical: planned on the early edge, {line.early_on}" if line.early_on else ""
    return {
        "site": line.site,
        "machine": line.machine,
        "compartment": line.compartment,
        "due_on": line.due_on,
        "window": list(line.window) if line.window else None,
        "state": line.state.word,
        "standing": "" if line.standing is None else line.standing.word,
        "why": "; ".join(part for part in (line.why, early) if part),
        "hours_left": line.hours_left,
        "basis": line.basis,
        "due_band": list(line.band) if line.band else None,
        "due_band_words": line.band_words,
        "planned_early_on": line.early_on,
    }


def _reassess(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.reassess.fleet import reassess_fleet

    with opened(arguments) as desk:
        outcome = reassess_fleet(
            desk.place, moment=desk.clock.moment(), again=arguments.all, progress=None
        )
    rows = [
        {
            "site": moved.site,
            "machine": moved.machine,
            "compartment": moved.compartment,
            "before": moved.before.word,
            "after": moved.after.word,
            "headline": moved.headline,
        }
        for moved in outcome.moved
    ]
    say(
        f"{counted(outcome.samples, 'sample')} judged, "
        f"{counted(outcome.changed, 'verdict')} changed, "
        f"{counted(len(rows), 'compartment')} moved."
    )
    if arguments.format == "json":
        print_json({"samples": outcome.samples, "changed": outcome.changed, "moved": rows})
    else:
        columns = ("site", "machine", "compartment", "before", "after", "headline")
        print_rows(rows, form=arguments.format, columns=columns)
    return Exit.OK
