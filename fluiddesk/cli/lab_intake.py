"""``fluiddesk intake FILE``: results from a laboratory's file."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fluiddesk.cli.desk import add_database, opened
from fluiddesk.cli.lab_layouts import add_guess_arguments, run_guess
from fluiddesk.cli.output import Exit, counted, print_json, print_rows, say
from fluiddesk.domain.errors import OperatorError

if TYPE_CHECKING:
    from argparse import _SubParsersAction
    from collections.abc import Sequence

    from fluiddesk.services.lab_intake.facts import IntakePreview, IntakeResult, ProblemFacts

_REVISED = ("bottle", "machine", "compartment", "value", "before", "after")
_MOVED = ("site", "machine", "compartment", "before", "after", "headline")


def add_commands(commands: "_SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command."""
    intake = commands.add_parser("intake", help="take in a laboratory's file")
    intake.add_argument("file", type=Path, help="CSV or XLSX file")
    intake.add_argument(
        "--layout", default=None, help="the laboratory's layout; by default the only one that fits"
    )
    intake.add_argument(
        "--preview", action="store_true", help="show what would happen, change nothing"
    )
    intake.add_argument(
        "--undo", action="store_true", help="take back what this file brought, whole"
    )
    add_guess_arguments(intake)
    add_database(intake)
    intake.set_defaults(run=_intake)


def _intake(arguments: argparse.Namespace) -> int:
    if arguments.guess or arguments.save_layout:
        return run_guess(arguments)
    if arguments.undo:
        return _undo(arguments)
    return _take_in(arguments)


def _undo(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.lab_intake.take_in import undo_file

    with opened(arguments) as desk:
        result = undo_file(
            desk.place, arguments.file, moment=desk.clock.moment(), today=desk.clock.today()
        )
    _tell(
        {"taken_in": 0, "held": 0, "unchanged": 0},
        _moved_rows(result),
        (),
        (),
        form=arguments.format,
        opening=f"{result.file_name} (layout {result.layout}) is undone; nothing was deleted.",
    )
    return Exit.OK


def _take_in(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.lab_intake.preview import preview_lab_file
    from fluiddesk.services.lab_intake.take_in import take_in

    with opened(arguments) as desk:
        today = desk.clock.today()
        try:
            preview = preview_lab_file(
                desk.place, arguments.file, layout_name=arguments.layout, today=today
            )
            result = None
            if not arguments.preview:
                result = take_in(desk.place, preview, moment=desk.clock.moment(), today=today)
        except OperatorError as fault:
            _tell_refused(fault, form=arguments.format)
            raise
    if result is None:
        _tell_preview(preview, form=arguments.format)
    else:
        _tell_result(result, preview, form=arguments.format)
    return Exit.OK


def _problem_rows(problems: "tuple[ProblemFacts, ...]") -> list[dict[str, Any]]:
    return [
        {
            "row": problem.row,
            "column": problem.column,
            "value": problem.value,
            "problem": problem.text,
            "remedy": problem.remedy,
            "holds_row": problem.holds_row,
        }
        for problem in problems
    ]


def _tell_refused(fault: OperatorError, *, form: str) -> None:
    """A refused file still answers scripts with the fixed keys."""
    if form == "json":
        problem = {"row": None, "column": "", "value": "", "problem": str(fault), "remedy": ""}
        print_json({"taken_in": 0, "held": 0, "unchanged": 0, "problems": [problem]})


def _tell_preview(preview: "IntakePreview", *, form: str) -> None:
    from fluiddesk.services.lab_intake.facts import RowFate

    moved = [
        {
            "site": row.site,
            "machine": row.machine,
            "compartment": row.compartment,
            "before": row.severity_before.word,
            "after": row.severity_after.word,
            "headline": row.headline,
        }
        for row in preview.rows
        if row.moves
    ]
    counts = {
        "taken_in": preview.to_take_in,
        "held": preview.count(RowFate.HELD),
        "unchanged": preview.count(RowFate.UNCHANGED),
    }
    _tell(
        counts,
        moved,
        preview.problems,
        _revised_rows(preview),
        form=form,
        opening=f"Preview of {preview.file_name} (layout {preview.layout}); nothing was changed.",
        done="to take in",
    )


def _revised_rows(preview: "IntakePreview") -> list[dict[str, Any]]:
    """What the revisions of a file say otherwise than the issues before."""
    return [
        {
            "bottle": row.bottle_code,
            "machine": row.machine,
            "compartment": row.compartment,
            "value": one.name,
            "before": one.before,
            "after": one.after,
        }
        for row in preview.rows
        for one in row.revised
    ]


def _moved_rows(result: "IntakeResult") -> list[dict[str, str]]:
    return [
        {
            "site": one.site,
            "machine": one.machine,
            "compartment": one.compartment,
            "before": one.before.word,
            "after": one.after.word,
            "headline": one.headline,
        }
        for one in result.moved
    ]


def _tell_result(result: "IntakeResult", preview: "IntakePreview", *, form: str) -> None:
    moved = _moved_rows(result)
    counts = {"taken_in": result.taken_in, "held": result.held, "unchanged": result.unchanged}
    opening = f"{result.file_name} (layout {result.layout})"
    if result.already_taken_in:
        opening += f" was taken in on {result.already_taken_in} already; nothing has changed."
    if preview.to_put_aside:
        opening += ": nothing could be taken in; the rows wait on the Results page"
    _tell(counts, moved, result.problems, _revised_rows(preview), form=form, opening=opening)


def _tell(
    counts: dict[str, int],
    moved: list[dict[str, str]],
    problems: "tuple[ProblemFacts, ...]",
    revised: "Sequence[dict[str, Any]]",
    *,
    form: str,
    opening: str,
    done: str = "taken in",
) -> None:
    if form == "json":
        listed = _problem_rows(problems)
        print_json({**counts, "problems": listed, "moved": moved, "revised": list(revised)})
        return
    for problem in problems:
        say(problem.line)
    if form == "csv":
        print_rows(moved, form=form, columns=_MOVED)
        return
    print(opening)
    print(
        f"{counts['taken_in']} {done}, {counts['held']} held, {counts['unchanged']} unchanged, "
        f"{counted(len(problems), 'problem')}."
    )
    if revised:
        print(f"\n{counted(len(revised), 'value')} revised:")
        print_rows(list(revised), form="text", columns=_REVISED)
    if moved:
        change = "would change" if done == "to take in" else "changed"
        print(f"\n{counted(len(moved), 'compartment')} {change} condition:")
        print_rows(moved, form="text", columns=_MOVED)
