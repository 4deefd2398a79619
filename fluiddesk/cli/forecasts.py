"""``fluiddesk forecasts``: how past forecasts of hours left fared, and keeping those of now."""

import argparse
from typing import TYPE_CHECKING

from fluiddesk.cli.desk import add_database, opened
from fluiddesk.cli.output import Exit, print_rows, say

if TYPE_CHECKING:
    from argparse import _SubParsersAction

_COLUMNS = ("kind", "known", "reached", "inside", "median_error_hours", "cut_off", "open")


def add_commands(commands: "_SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command."""
    forecasts = commands.add_parser(
        "forecasts", help="how forecasts of hours left fared; keep those of now"
    )
    forecasts.add_argument(
        "what",
        nargs="?",
        choices=("score", "keep", "replay"),
        default="score",
        help="score: tell how they fared; keep: first keep and mark those of the whole fleet; "
        "replay: also work out afterwards what every earlier sample would have said",
    )
    add_database(forecasts)
    forecasts.set_defaults(run=_forecasts)


def _forecasts(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.compartment_history.forecast_keeping import (
        forecast_scores,
        keep_forecasts,
        replay_forecasts,
    )

    work = {"keep": keep_forecasts, "replay": replay_forecasts}.get(arguments.what)
    with opened(arguments, is_reading=work is None) as desk:
        if work is not None:
            done = work(desk.place, None, today=desk.clock.today(), moment=desk.clock.moment())
            say(
                f"{done.boxes} boxes looked at: {done.kept} forecasts kept, "
                f"{done.marked} earlier ones marked."
            )
        scores = forecast_scores(desk.place)
    rows = [
        {
            "kind": one.scope,
            "known": one.marked,
            "reached": one.crossed,
            "inside": one.inside,
            "median_error_hours": one.median_error_hours,
            "cut_off": one.cut_off,
            "open": one.open,
            "sentence": one.sentence,
        }
        for one in scores
    ]
    if not rows:
        say(
            "No forecast with numbers is kept yet. Keep those of now with: fluiddesk forecasts keep"
        )
    print_rows(rows, form=arguments.format, columns=_COLUMNS)
    return Exit.OK
