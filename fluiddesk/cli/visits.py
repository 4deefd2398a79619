"""``fluiddesk visits``, ``sheets`` and ``labels``: plan a round and print what goes along."""

import argparse
import os
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fluiddesk.cli.days import days_ahead
from fluiddesk.cli.desk import add_database, opened
from fluiddesk.cli.output import Exit, counted, print_rows, say
from fluiddesk.domain.errors import NotFoundError

if TYPE_CHECKING:
    from argparse import _SubParsersAction
    from collections.abc import Sequence

    from fluiddesk.services.visits.book import Kept
    from fluiddesk.services.visits.facts import Visit, VisitPlan
    from fluiddesk.wiring import OpenedDesk

_COLUMNS = ("planned_on", "site", "area", "machine", "bottles", "minutes", "crew", "state")


def add_commands(commands: "_SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the commands of the round."""
    visits = commands.add_parser("visits", help="visits proposed from what is due, or those kept")
    _add_within(visits)
    visits.add_argument("--kept", action="store_true", help="the visits planned so far instead")
    visits.add_argument("--save", action="store_true", help="keep what is proposed")
    visits.add_argument(
        "--move-on",
        action="store_true",
        help="first move kept visits that have passed undone to the next working days",
    )
    visits.add_argument("--site", default="", help="only this site")
    visits.add_argument("--weekends", action="store_true", help="Saturdays and Sundays count too")
    add_database(visits)
    visits.set_defaults(run=_visits)

    worth = commands.add_parser("worthwhile", help="bottles in the order of what they are worth")
    worth.add_argument("--count", type=int, help="at most so many")
    add_database(worth)
    worth.set_defaults(run=_worthwhile)

    sheets = commands.add_parser("sheets", help="print the sheets of planned visits as PDF")
    _add_within(sheets)
    sheets.add_argument("--out", type=Path, required=True, help="PDF file to write")
    sheets.add_argument("--kit", type=Path, help="PDF file for the kit list of the round")
    sheets.add_argument("--site", default="", help="only this site")
    add_database(sheets, formats=False)
    sheets.set_defaults(run=_sheets)

    labels = commands.add_parser("labels", help="print the bottle labels of planned visits as PDF")
    _add_within(labels)
    labels.add_argument("--out", type=Path, required=True, help="PDF file to write")
    labels.add_argument("--stock", default="a4_3x8", help="label stock (default a4_3x8)")
    labels.add_argument("--start-at", type=int, default=1, help="first free place on the sheet")
    labels.add_argument("--blank", type=int, default=0, metavar="N", help="N blank labels too")
    labels.add_argument("--site", default="", help="only this site")
    add_database(labels, formats=False)
    labels.set_defaults(run=_labels)


def _add_within(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--within", default="14d", help="days ahead, such as 14d (default)")


def _visits(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.visits.book import keep_proposals
    from fluiddesk.services.visits.plan import PlanWishes, propose_visits

    within = days_ahead(arguments.within)
    with opened(arguments, is_reading=not (arguments.save or arguments.move_on)) as desk:
        today = desk.clock.today()
        if arguments.move_on:
            _move_on(desk, works_weekends=arguments.weekends)
        if arguments.kept:
            shown: Sequence[Visit] = _kept(desk, arguments.site, today + timedelta(days=within))
        else:
            sites = frozenset({_site(desk, arguments.site)}) if arguments.site else frozenset()
            wishes = PlanWishes(days=within, sites=sites, works_weekends=arguments.weekends)
            plan = propose_visits(desk.place, today=today, wishes=wishes)
            shown = plan.visits
            say(plan.sentence)
            for one in plan.left_behind:
                told = counted(one.bottles, "bottle")
                say(f"Passed undone: {one.machine} of {one.planned_on}, {told}.")
            if plan.left_behind:
                say("Record them from their sheets, or move them: fluiddesk visits --move-on")
            if arguments.save:
                _tell_kept(plan, keep_proposals(desk.place, shown, moment=desk.clock.moment()))
    rows = [_row(one, today) for one in shown]
    print_rows(rows, form=arguments.format, columns=_COLUMNS)
    return Exit.OK


def _move_on(desk: "OpenedDesk", *, works_weekends: bool) -> None:
    from fluiddesk.services.visits.left_behind import move_left_behind

    moved = move_left_behind(
        desk.place,
        today=desk.clock.today(),
        moment=desk.clock.moment(),
        works_weekends=works_weekends,
    )
    for one in moved.visits:
        say(f"Moved: {one.machine} from {one.before} to {one.after}.")


def _tell_kept(plan: "VisitPlan", kept: "Kept") -> None:
    more = sum(len(one.boxes) for one in plan.joins)
    joined = f", {counted(more, 'bottle')} added to {counted(len(plan.joins), 'kept visit')}"
    say(f"{counted(len(plan.new_visits), 'visit')} kept{joined if more else ''}.")
    for visit in kept.to_print_again:
        say(f"Its bottles were issued before: print sheet and labels of {visit} again.")


def _row(visit: "Visit", today: date) -> dict[str, Any]:
    is_kept = bool(visit.id)
    state = visit.state.value if is_kept else "proposed"
    if visit.joins is not None:
        state = f"joins the visit of {visit.planned_on}"
    is_left_behind = is_kept and visit.planned_on < today and bool(visit.open_boxes)
    return {
        "planned_on": visit.planned_on,
        "site": visit.site,
        "area": visit.area,
        "machine": visit.machine,
        "bottles": len(visit.boxes),
        "minutes": visit.minutes,
        "crew": visit.crew,
        "state": f"{state}, passed undone" if is_left_behind else state,
        "joins_kept_visit": visit.joins is not None,
        "passed_undone": is_left_behind,
        "first_day": visit.first_day,
        "last_day": visit.last_day,
        "boxes": [
            {
                "compartment": box.compartment,
                "due_on": box.due_on,
                "bottle_code": box.bottle_code,
                "reason": box.reason.value,
                "outcome": box.outcome.value,
                "before_change": box.before_change,
            }
            for box in visit.boxes
        ],
    }


def _worthwhile(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.visits.worthwhile import worthwhile_bottles

    with opened(arguments, is_reading=True) as desk:
        lines = worthwhile_bottles(desk.place, today=desk.clock.today(), count=arguments.count)
    rows = [
        {
            "site": line.site,
            "machine": line.machine,
            "compartment": line.compartment,
            "severity": line.severity.word,
            "intervals_since": round(line.since_share, 2),
            "faults_told_in_time": round(line.chance, 4),
            "worth_per_minute": round(line.worth_per_minute, 2),
            "why": line.why,
        }
        for line in lines
    ]
    columns = ("site", "machine", "compartment", "severity", "intervals_since", "why")
    print_rows(rows, form=arguments.format, columns=columns)
    return Exit.OK


def _sheets(arguments: argparse.Namespace) -> int:
    os.environ["QT_QPA_PLATFORM"] = "offscreen"
    from fluiddesk.printing.kit_list import write_kit_list
    from fluiddesk.printing.visit_sheet import write_visit_sheets
    from fluiddesk.services.visit_papers.sheets import kit_list, visit_sheets

    with opened(arguments) as desk:
        today = desk.clock.today()
        ids = _issued(desk, arguments, today)
        sheets = visit_sheets(desk.place, ids, today=today, own_folder=desk.folders.data)
        kit = kit_list(sheets, own_folder=desk.folders.data)
    application = _drawing()
    pages = write_visit_sheets(sheets, arguments.out, printed_on=today)
    say(f"Wrote {counted(len(sheets), 'sheet')} on {counted(pages, 'page')}: {arguments.out}.")
    if arguments.kit:
        name = f"{counted(len(sheets), 'visit')} until {today + timedelta(days=_within(arguments))}"
        write_kit_list(kit, arguments.kit, round_name=name, printed_on=today)
        say(f"Wrote the kit list: {arguments.kit}.")
    del application
    return Exit.OK


def _labels(arguments: argparse.Namespace) -> int:
    os.environ["QT_QPA_PLATFORM"] = "offscreen"
    from fluiddesk.printing.bottle_labels import write_labels
    from fluiddesk.services.outside_plan.labels import issue_spare_labels
    from fluiddesk.services.visit_papers.labels import blank_labels, visit_labels
    from fluiddesk.services.visit_papers.procedures import label_stock

    with opened(arguments) as desk:
        today, moment = desk.clock.today(), desk.clock.moment()
        stock = label_stock(arguments.stock, desk.folders.data)
        labels = visit_labels(desk.place, _issued(desk, arguments, today), today=today)
        if arguments.blank:
            site = _site(desk, arguments.site)
            codes = issue_spare_labels(
                desk.place, site, arguments.blank, moment=moment, today=today
            )
            labels += blank_labels(codes, site=arguments.site)
    application = _drawing()
    pages = write_labels(labels, stock, arguments.out, start_at=arguments.start_at)
    say(f"Wrote {counted(len(labels), 'label')} on {counted(pages, 'sheet')}: {arguments.out}.")
    del application
    return Exit.OK


def _within(arguments: argparse.Namespace) -> int:
    return days_ahead(arguments.within)


def _drawing() -> object:
    """What Qt needs before it can draw text without a screen."""
    from PySide6.QtGui import QGuiApplication

    return QGuiApplication.instance() or QGuiApplication(["fluiddesk"])


def _issued(desk: "OpenedDesk", arguments: argparse.Namespace, today: date) -> list[bytes]:
    """The visits kept for the days ahead, all their bottles with a code."""
    from fluiddesk.services.visits.book import issue_bottles

    until = today + timedelta(days=_within(arguments))
    kept = [one.id for one in _kept(desk, arguments.site, until)]
    if not kept:
        raise NotFoundError(
            f"No visit is planned until {until}. Plan them first: fluiddesk visits --save"
        )
    issue_bottles(desk.place, kept, today=today, moment=desk.clock.moment())
    return kept


def _kept(desk: "OpenedDesk", site: str, until: date) -> "list[Visit]":
    from fluiddesk.services.visits.read import visits

    if site:
        _site(desk, site)
    return [
        one
        for one in visits(desk.place, today=desk.clock.today())
        if one.planned_on <= until and site in ("", one.site)
    ]


def _site(desk: "OpenedDesk", name: str) -> Any:
    with desk.place.store.reading() as store:
        sites = {one.name: one.site for one in store.fleet.sites()}
    if name not in sites:
        told = f'There is no site "{name}".' if name else "Name the site the labels are for."
        raise NotFoundError(f"{told} Give --site, one of: {', '.join(sorted(sites))}.")
    return sites[name]
