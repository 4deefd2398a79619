"""``fluiddesk past-results FILE``: results from before this register, without bottle codes."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fluiddesk.cli.desk import add_database, opened
from fluiddesk.cli.output import Exit, counted, print_json, print_rows, say

if TYPE_CHECKING:
    from argparse import _SubParsersAction

    from fluiddesk.services.past_results.facts import PastPreview, PastRowFacts, PastTaken

_COLUMNS = ("row", "fate", "machine_printed", "compartment_printed", "sampled_on", "box", "score",
            "why")  # fmt: skip


def add_commands(commands: "_SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command."""
    past = commands.add_parser(
        "past-results", help="take in past results, matched by machine, compartment and day"
    )
    past.add_argument("file", type=Path, help="CSV or XLSX file")
    past.add_argument(
        "--layout", default=None, help="the laboratory's layout; by default the only one that fits"
    )
    past.add_argument(
        "--preview", action="store_true", help="show how each row is matched, change nothing"
    )
    add_database(past)
    past.set_defaults(run=_past_results)


def _past_results(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.past_results.preview import preview_past_results
    from fluiddesk.services.past_results.take_in import take_in_past_results

    with opened(arguments) as desk:
        today = desk.clock.today()
        preview = preview_past_results(
            desk.place, arguments.file, layout_name=arguments.layout, today=today
        )
        taken = None
        if not arguments.preview:
            taken = take_in_past_results(
                desk.place, preview, moment=desk.clock.moment(), today=today
            )
    _tell(preview, taken, form=arguments.format)
    return Exit.OK


def _tell(preview: "PastPreview", taken: "PastTaken | None", *, form: str) -> None:
    from fluiddesk.services.past_results.facts import PastFate

    rows = [_row(row) for row in preview.rows]
    if form == "json":
        counts = (
            {fate.value: preview.count(fate) for fate in PastFate}
            if taken is None
            else {
                "taken_in": taken.taken_in,
                "waiting": taken.waiting,
                "known": taken.known,
                "held": taken.held,
            }
        )
        print_json({**counts, "rows": rows})
        return
    for problem in preview.problems:
        say(problem.line)
    if form == "csv":
        print_rows(rows, form=form, columns=_COLUMNS)
        return
    if taken is None:
        print(f"{preview.sentence} Nothing was changed.")
    elif taken.already_taken_in:
        print(f"{preview.file_name} was taken in on {taken.already_taken_in} already.")
        return
    else:
        print(
            f"{preview.file_name}: {taken.taken_in} taken in, {taken.waiting} to be confirmed on "
            f"the Register page, {taken.known} known already, {taken.held} held."
        )
    shown = [row for row in rows if row["fate"] != PastFate.SURE.value]
    if shown:
        print(f"\n{counted(len(shown), 'row')} not taken in:")
        print_rows(shown, form="text", columns=_COLUMNS)


def _row(row: "PastRowFacts") -> dict[str, Any]:
    first = row.candidates[0] if row.candidates else None
    return {
        "row": row.row,
        "fate": row.fate.value,
        "machine_printed": row.machine_printed,
        "compartment_printed": row.compartment_printed,
        "report": row.report,
        "sampled_on": row.sampled_on,
        "box": first.words if first else "",
        "score": first.score if first else None,
        "why": row.why,
    }
