"""``fluiddesk chance``: how likely a fault is told in time, and what other intervals would do."""

import argparse
import math
from typing import TYPE_CHECKING, Any

from fluiddesk.cli.desk import add_database, opened
from fluiddesk.cli.output import Exit, print_rows, say

if TYPE_CHECKING:
    from argparse import _SubParsersAction

    from fluiddesk.services.catalogue import Catalogue
    from fluiddesk.services.catch_chances.facts import ChanceColumns, Chances, GroupLine

_BOX = "box"
_GROUPS = ("site", "lane", "machine", "kind", _BOX)
_GROUP_COLUMNS = (
    *("group", "boxes", "left_out", "answer_days", "known_from", "chance", "low_tenth"),
    *("below_half", "bottles_a_year"),
)
_BOX_COLUMNS = (
    *("site", "machine", "compartment", "lane", "interval_h", "answer_h", "shows_h"),
    *("chance", "bottles_a_year"),
)
_THEN = ("chance_then", "bottles_then")


def add_commands(commands: "_SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command."""
    chance = commands.add_parser(
        "chance", help="chance that a fault is told in time; what if intervals or post change"
    )
    chance.add_argument(
        "--by",
        choices=_GROUPS,
        default="site",
        help="what boxes are told together by: site, lane (site and laboratory), machine kind, "
        "kind of box, or each box alone",
    )
    interval = chance.add_mutually_exclusive_group()
    interval.add_argument(
        "--interval-hours", type=float, metavar="H", help="what if every H hours; days stay"
    )
    interval.add_argument(
        "--interval-share", type=float, metavar="X", help="what if X times the interval: 0.5 halves"
    )
    answer = chance.add_mutually_exclusive_group()
    answer.add_argument(
        "--turnaround-days",
        type=float,
        metavar="D",
        help="what if answers took D days on each lane",
    )
    answer.add_argument(
        "--days-sooner", type=float, metavar="D", help="what if answers came D days sooner"
    )
    add_database(chance)
    chance.set_defaults(run=_chance)


def _chance(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.catch_chances.asking import (
        DAYS_SOONER,
        chances,
        compared,
        group_lines,
        group_names,
        whole_sentence,
    )
    from fluiddesk.services.catch_chances.facts import GroupBy, Wish
    from fluiddesk.services.catch_chances.read import chance_columns

    share, sooner = arguments.interval_share, arguments.days_sooner
    wish = Wish(
        interval_share=1.0 if share is None else share,
        interval_hours=arguments.interval_hours,
        answer_days=arguments.turnaround_days,
        days_sooner=0.0 if sooner is None else sooner,
    )
    with opened(arguments, is_reading=True) as desk:
        columns = chance_columns(desk.place, today=desk.clock.today())
        catalogue = desk.place.catalogue
    now = chances(columns)
    then = None if wish.is_as_now else chances(columns, wish)
    say(whole_sentence(columns, now))
    said = compared(columns, days_sooner=sooner or DAYS_SOONER).sentence
    if said:
        say(said)
    for lane in columns.unmeasured:
        say(f"{lane.title}: {lane.about}")
    if arguments.by == _BOX:
        rows, shown = _box_rows(columns, catalogue, now, then), _BOX_COLUMNS
    else:
        names = group_names(columns, catalogue, GroupBy(arguments.by))
        lines = group_lines(columns, names, now=now, then=then)
        rows, shown = [_group_row(line) for line in lines], _GROUP_COLUMNS
    print_rows(rows, form=arguments.format, columns=shown + (() if then is None else _THEN))
    return Exit.OK


def _group_row(line: "GroupLine") -> dict[str, Any]:
    row: dict[str, Any] = {
        "group": line.group,
        "boxes": line.boxes,
        "left_out": line.left_out,
        "answer_days": line.answer_days,
        "known_from": line.known_from,
        "chance": _rounded(line.now.mean, 3),
        "low_tenth": _rounded(line.now.low_tenth, 3),
        "below_half": line.now.low_boxes,
        "bottles_a_year": round(line.now.bottles),
        "about": line.about,
    }
    if line.then is not None:
        row["chance_then"] = _rounded(line.then.mean, 3)
        row["low_tenth_then"] = _rounded(line.then.low_tenth, 3)
        row["below_half_then"] = line.then.low_boxes
        row["bottles_then"] = round(line.then.bottles)
    return row


def _box_rows(
    columns: "ChanceColumns", catalogue: "Catalogue", now: "Chances", then: "Chances | None"
) -> list[dict[str, Any]]:
    import numpy as np

    from fluiddesk.services.catch_chances.asking import lowest_first
    from fluiddesk.services.catch_chances.facts import LeftOut

    rows = []
    for at in lowest_first(now, np.ones(len(columns), dtype=bool)).tolist():
        box, lane = columns.rows[at], columns.lanes[columns.lane[at]]
        row: dict[str, Any] = {
            "site": box.site,
            "machine": box.machine,
            "compartment": catalogue.box_name(box.kind, box.position),
            "lane": lane.title,
            "interval_h": _rounded(now.interval_hours[at], 0),
            "answer_h": _rounded(now.answer_hours[at], 0),
            "shows_h": float(columns.shows_hours[at]),
            "sensitivity": float(columns.sensitivity[at]),
            "hours_a_day": _rounded(columns.per_day[at], 1),
            "chance": _rounded(now.chance[at], 3),
            "bottles_a_year": _rounded(now.bottles[at], 1),
            "left_out": LeftOut(int(columns.left_out[at])).words,
        }
        if then is not None:
            row["chance_then"] = _rounded(then.chance[at], 3)
            row["bottles_then"] = _rounded(then.bottles[at], 1)
        rows.append(row)
    return rows


def _rounded(value: float | None, places: int) -> float | None:
    return None if value is None or math.isnan(value) else round(float(value), places)
