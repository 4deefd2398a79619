"""``fluiddesk special`` and ``due-notes``: shorter intervals by hand, notes on due samples."""

import argparse
from typing import TYPE_CHECKING

from fluiddesk.cli.days import day_of
from fluiddesk.cli.desk import add_database, opened
from fluiddesk.cli.output import Exit, print_rows, say
from fluiddesk.domain.errors import NotFoundError, OperatorError

if TYPE_CHECKING:
    from argparse import _SubParsersAction
    from datetime import date

    from fluiddesk.services.due_notes import DueNote
    from fluiddesk.services.special_by_hand import Special
    from fluiddesk.wiring import OpenedDesk


def add_commands(commands: "_SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add both commands and their parts."""
    special = commands.add_parser("special", help="shorter intervals of single boxes for a while")
    parts = special.add_subparsers(dest="part", metavar="PART", required=True)

    listed = parts.add_parser("list", help="those that hold or are to come")
    listed.add_argument("--all", action="store_true", help="ended and answered ones too")
    add_database(listed)
    listed.set_defaults(run=_list)

    add = parts.add_parser("add", help="make a box due sooner")
    _add_box(add)
    add.add_argument("--reason", required=True, help="such as laboratory_asks, resample or other")
    add.add_argument("--hours", type=float, help="hours from one sample to the next")
    add.add_argument("--days", type=int, help="days from one sample to the next, or until it")
    add.add_argument(
        "--from", dest="valid_from", type=day_of, help="first day, 2026-01-31 (today if none)"
    )
    add.add_argument("--note", default="", help="what it is for")
    add_database(add, formats=False)
    add.set_defaults(run=_add)

    end = parts.add_parser("end", help="the usual interval holds again from today on")
    _add_box(end)
    end.add_argument("--why", required=True, help="the reason")
    end.add_argument("--reason", default="", help="which one, where a box has several")
    add_database(end, formats=False)
    end.set_defaults(run=_end)

    undo = parts.add_parser("undo", help="take the last act on a special interval back")
    _add_box(undo)
    undo.add_argument("--reason", default="", help="which one, where a box has several")
    add_database(undo, formats=False)
    undo.set_defaults(run=_undo)

    _add_notes(commands)


def _add_notes(commands: "_SubParsersAction[argparse.ArgumentParser]") -> None:
    notes = commands.add_parser("due-notes", help="why due samples were missed or excused")
    parts = notes.add_subparsers(dest="part", metavar="PART", required=True)
    listed = parts.add_parser("list", help="the notes that stand")
    listed.add_argument("--all", action="store_true", help="those taken back too")
    add_database(listed)
    listed.set_defaults(run=_list_notes)

    void = parts.add_parser("void", help="take back a note that was written by mistake")
    _add_box(void)
    void.add_argument("due_on", type=day_of, help="due day of the note, 2026-01-31")
    void.add_argument("--why", required=True, help="the reason")
    add_database(void, formats=False)
    void.set_defaults(run=_void_note)


def _add_box(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("machine", help="machine number")
    parser.add_argument("compartment", help='"engine", "final_drive left" or "Final drive, left"')
    parser.add_argument("--site", default="", help="where two sites use the same machine number")


def _list(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.special_by_hand import specials

    with opened(arguments, is_reading=True) as desk:
        found = specials(desk.place, today=desk.clock.today(), ended=arguments.all)
    rows = [
        {
            "site": one.site,
            "machine": one.machine,
            "compartment": one.compartment,
            "reason": one.reason,
            "hours": one.hours,
            "days": one.days,
            "interval": one.interval_words,
            "valid_from": one.valid_from,
            "ended_on": one.ended_on,
            "answered_on": one.answered_on,
            "state": one.state_words,
            "note": one.note,
        }
        for one in found
    ]
    columns = ("state", "site", "machine", "compartment", "reason", "interval", "valid_from",
               "note")  # fmt: skip
    print_rows(rows, form=arguments.format, columns=columns)
    return Exit.OK


def _add(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.compartment_history.read import find_compartment
    from fluiddesk.services.special_by_hand import SpecialWish, add_special

    with opened(arguments) as desk:
        today = desk.clock.today()
        wish = SpecialWish(
            compartment=find_compartment(
                desk.place, arguments.machine, arguments.compartment, site=arguments.site
            ),
            reason=arguments.reason,
            hours=arguments.hours,
            days=arguments.days,
            valid_from=arguments.valid_from or today,
            note=arguments.note,
        )
        add_special(desk.place, wish, today=today, moment=desk.clock.moment())
    say(f"Special interval of {arguments.machine}, {arguments.compartment} added.")
    return Exit.OK


def _end(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.special_by_hand import end_special

    with opened(arguments) as desk:
        today = desk.clock.today()
        one = _one(desk, arguments, today, ended=False)
        end_special(desk.place, one.id, why=arguments.why, today=today, moment=desk.clock.moment())
    say(f"Ended: {one.reason_words}, {one.interval_words}. The usual interval holds again.")
    return Exit.OK


def _undo(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.special_by_hand import undo_special

    with opened(arguments) as desk:
        one = _one(desk, arguments, desk.clock.today(), ended=True)
        undo_special(desk.place, one.id, moment=desk.clock.moment())
    say(f"Taken back: the last act on {one.reason_words}, {one.interval_words}.")
    return Exit.OK


def _one(
    desk: "OpenedDesk", arguments: argparse.Namespace, today: "date", *, ended: bool
) -> "Special":
    """The special interval that is meant; the newest one where ended ones count too."""
    from fluiddesk.services.compartment_history.read import find_compartment
    from fluiddesk.services.special_by_hand import specials

    box = find_compartment(
        desk.place, arguments.machine, arguments.compartment, site=arguments.site
    )
    found = [
        one
        for one in specials(desk.place, today=today, ended=ended, compartment=box)
        if arguments.reason in ("", one.reason)
    ]
    told = f"{arguments.machine}, {arguments.compartment}"
    if not found:
        raise NotFoundError(
            f"{told} has no such special interval. See them with: fluiddesk special list"
        )
    if len({one.reason for one in found}) > 1:
        reasons = ", ".join(sorted({one.reason for one in found}))
        raise OperatorError(f"{told} has several special intervals. Give --reason: {reasons}.")
    return max(found, key=lambda one: one.id)


def _list_notes(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.due_notes import due_notes
    from fluiddesk.services.fleet_condition import fleet_condition

    with opened(arguments, is_reading=True) as desk:
        found = due_notes(desk.place, voided=arguments.all)
        fleet = fleet_condition(desk.place, today=desk.clock.today())
        catalogue = desk.place.catalogue
    boxes = {row.compartment_id: row for row in fleet.rows}
    rows = [
        {
            "site": boxes[one.compartment_id].site,
            "machine": boxes[one.compartment_id].machine,
            "compartment": catalogue.box_name(
                boxes[one.compartment_id].kind, boxes[one.compartment_id].position
            ),
            "due_on": one.due_on,
            "excused": one.is_excused,
            "told": one.words,
            "taken_back": one.voided_reason,
        }
        for one in found
        if one.compartment_id in boxes
    ]
    columns = ("due_on", "site", "machine", "compartment", "told", "taken_back")
    print_rows(rows, form=arguments.format, columns=columns)
    return Exit.OK


def _void_note(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.compartment_history.read import find_compartment
    from fluiddesk.services.due_notes import due_notes, void_due_note

    with opened(arguments) as desk:
        box = find_compartment(
            desk.place, arguments.machine, arguments.compartment, site=arguments.site
        )
        note = _note_of(due_notes(desk.place, box), arguments)
        void_due_note(desk.place, note.id, why=arguments.why, moment=desk.clock.moment())
    say(f"Taken back: {note.words}, due {note.due_on}. The due sample counts as without it.")
    return Exit.OK


def _note_of(notes: "tuple[DueNote, ...]", arguments: argparse.Namespace) -> "DueNote":
    found = [one for one in notes if one.due_on == arguments.due_on]
    if not found:
        days = ", ".join(one.due_on.isoformat() for one in notes) or "none"
        raise NotFoundError(
            f"{arguments.machine}, {arguments.compartment} has no note due "
            f"{arguments.due_on.isoformat()}. Notes stand for: {days}."
        )
    return found[-1]
