"""``fluiddesk custody``: where the bottles are, and the hand-overs from one place to the next."""

import argparse
from typing import TYPE_CHECKING

from fluiddesk.cli.days import day_of
from fluiddesk.cli.desk import add_database, opened
from fluiddesk.cli.output import Exit, counted, print_json, print_rows, say
from fluiddesk.domain.errors import NotFoundError

if TYPE_CHECKING:
    from argparse import _SubParsersAction


def add_commands(commands: "_SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command and its parts."""
    custody = commands.add_parser("custody", help="where bottles are; hand in, ship, receive")
    parts = custody.add_subparsers(dest="part", metavar="PART", required=True)

    out = parts.add_parser("out", help="bottles without a report, longest gone first")
    add_database(out)
    out.set_defaults(run=_out)

    legs = parts.add_parser("legs", help="days on each leg, median and 90th percentile, by lane")
    add_database(legs)
    legs.set_defaults(run=_legs)

    trail = parts.add_parser("trail", help="every hand-over of one bottle")
    trail.add_argument("bottle", help="bottle code")
    add_database(trail)
    trail.set_defaults(run=_trail)

    hand_in = parts.add_parser("hand-in", help="bottles came in from the machines")
    hand_in.add_argument("bottles", nargs="+", help="bottle codes")
    add_database(hand_in, formats=False)
    hand_in.set_defaults(run=_hand_in)

    ship = parts.add_parser("ship", help="bottles leave for a laboratory")
    ship.add_argument("bottles", nargs="+", help="bottle codes")
    ship.add_argument("--laboratory", required=True, help="code of the laboratory")
    ship.add_argument("--count", type=int, required=True, help="bottles by the manifest")
    ship.add_argument("--on", type=day_of, help="day it left, 2026-01-31 (today if none)")
    ship.add_argument("--carrier", default="")
    ship.add_argument("--tracking", default="")
    add_database(ship, formats=False)
    ship.set_defaults(run=_ship)

    receive = parts.add_parser("receive", help="the laboratory confirmed a shipment")
    receive.add_argument("bottle", help="any bottle of the shipment")
    receive.add_argument("--count", type=int, required=True, help="bottles that arrived")
    receive.add_argument("--on", type=day_of, help="day it arrived, 2026-01-31 (today if none)")
    add_database(receive, formats=False)
    receive.set_defaults(run=_receive)

    lost = parts.add_parser("lost", help="give bottles up as lost; their boxes are due at once")
    lost.add_argument("bottles", nargs="+", help="bottle codes")
    lost.add_argument("--why", required=True, help="the reason")
    add_database(lost, formats=False)
    lost.set_defaults(run=_lost)


def _out(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.custody.read import custody

    with opened(arguments, is_reading=True) as desk:
        found = custody(desk.place, today=desk.clock.today())
    rows = [
        {
            "bottle": one.code,
            "site": one.site,
            "machine": one.machine,
            "compartment": one.compartment,
            "station": one.station.word,
            "since": one.since,
            "days": one.days,
            "laboratory": one.laboratory,
            "unaccounted": one.is_unaccounted,
            "presumed_lost": one.is_presumed_lost,
        }
        for one in found.out
    ]
    say(found.sentence)
    columns = ("bottle", "site", "machine", "compartment", "station", "since", "days")
    print_rows(rows, form=arguments.format, columns=columns)
    return Exit.OK


def _legs(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.custody.read import custody

    with opened(arguments, is_reading=True) as desk:
        found = custody(desk.place, today=desk.clock.today())
    rows = [
        {
            "leg": one.title,
            "lane": one.lane or "all",
            "median_days": _one_place(one.median_days),
            "p90_days": _one_place(one.p90_days),
            "bottles": one.bottles,
            "target_days": one.target_days,
            "alarm_days": one.alarm_days,
            "doubtful": one.doubtful,
        }
        for one in found.legs
    ]
    columns = ("leg", "lane", "median_days", "p90_days", "bottles", "target_days", "doubtful")
    print_rows(rows, form=arguments.format, columns=columns)
    return Exit.OK


def _trail(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.custody.read import trail_of

    with opened(arguments, is_reading=True) as desk:
        steps = trail_of(desk.place, arguments.bottle)
    rows = [
        {
            "step": one.step.word,
            "at": one.at.isoformat(timespec="minutes"),
            "known_by": one.known_by.value,
            "who": one.who,
            "note": one.note,
        }
        for one in steps
    ]
    if arguments.format == "json":
        print_json(rows)
    else:
        columns = ("step", "at", "known_by", "who", "note")
        print_rows(rows, form=arguments.format, columns=columns)
    return Exit.OK


def _hand_in(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.custody.move import hand_in

    with opened(arguments) as desk:
        moved = hand_in(desk.place, arguments.bottles, moment=desk.clock.moment())
    say(f"{counted(len(moved.codes), 'bottle')} handed in.")
    return Exit.OK


def _ship(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.custody.move import Dispatch, ship

    with opened(arguments) as desk:
        today = desk.clock.today()
        sent = Dispatch(
            codes=tuple(arguments.bottles),
            laboratory=arguments.laboratory,
            sent_on=arguments.on or today,
            manifest_count=arguments.count,
            carrier=arguments.carrier,
            tracking=arguments.tracking,
        )
        moved = ship(desk.place, sent, today=today, moment=desk.clock.moment())
    say(f"{counted(len(moved.codes), 'bottle')} shipped to {arguments.laboratory}.")
    return Exit.OK


def _receive(arguments: argparse.Namespace) -> int:
    from fluiddesk.domain.identity import normal_bottle_code
    from fluiddesk.services.custody.move import receive
    from fluiddesk.services.custody.read import shipments

    code = normal_bottle_code(arguments.bottle)
    with opened(arguments) as desk:
        today = desk.clock.today()
        found = [one for one in shipments(desk.place) if code in one.codes]
        if not found:
            raise NotFoundError(f"Bottle {code} is in no shipment. Ship it first.")
        moved = receive(
            desk.place,
            found[0].id,
            received_on=arguments.on or today,
            count=arguments.count,
            version=found[0].version,
            today=today,
            moment=desk.clock.moment(),
        )
    for warning in moved.warnings:
        say(warning)
    say(f"Shipment of {found[0].sent_on} received.")
    return Exit.OK


def _lost(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.custody.move import mark_lost

    with opened(arguments) as desk:
        moved = mark_lost(
            desk.place,
            arguments.bottles,
            why=arguments.why,
            today=desk.clock.today(),
            moment=desk.clock.moment(),
        )
    say(f"{counted(len(moved.codes), 'bottle')} given up as lost; their boxes are due again.")
    return Exit.OK


def _one_place(days: float | None) -> float | None:
    return None if days is None else round(days, 1)
