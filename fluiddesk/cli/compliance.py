"""``fluiddesk compliance``: whether samples were taken when they were owed."""

import argparse
import os
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fluiddesk.cli.days import day_of
from fluiddesk.cli.desk import add_database, opened
from fluiddesk.cli.output import Exit, print_json, print_rows, say
from fluiddesk.domain.errors import UsageError

if TYPE_CHECKING:
    from argparse import _SubParsersAction

    from fluiddesk.domain.sampling.compliance import Compliance
    from fluiddesk.services.interval_compliance.facts import ComplianceTable

_GROUPS = ("site", "machine_kind", "compartment_kind", "month", "sampler", "machine")
_YEAR = timedelta(days=365)


def add_commands(commands: "_SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command."""
    parser = commands.add_parser("compliance", help="share of due samples taken on time")
    parser.add_argument(
        "--from", dest="first", type=day_of, help="first day, 2026-01-31 (a year back if none)"
    )
    parser.add_argument("--to", dest="last", type=day_of, help="last day (today if none)")
    parser.add_argument("--by", choices=_GROUPS, default="site", help="what the lines are told by")
    parser.add_argument("--events", action="store_true", help="every due event instead of shares")
    parser.add_argument("--target", type=float, help="percent on time below which 1 is the exit")
    parser.add_argument("--out", type=Path, help="PDF or XLSX file to write as well")
    add_database(parser)
    parser.set_defaults(run=_compliance)


def _compliance(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.interval_compliance.events import event_columns
    from fluiddesk.services.interval_compliance.facts import GroupBy
    from fluiddesk.services.interval_compliance.tables import compliance_table, event_lines

    with opened(arguments, is_reading=True) as desk:
        today = desk.clock.today()
        last = arguments.last or today
        first = arguments.first or last - _YEAR
        events = event_columns(desk.place, today=today)
        catalogue = desk.place.catalogue
    if arguments.events:
        lines = event_lines(events, first_day=first, last_day=last)
        rows = [
            {
                "site": line.site,
                "machine": line.machine,
                "compartment": line.compartment,
                "due_on": line.due_on,
                "window": list(line.window),
                "sampled_on": line.sampled_on,
                "outcome": line.outcome.word,
                "late_by_percent": line.late_by_percent,
                "sampler": line.sampler,
                "reason": line.reason,
                "interval": line.interval,
            }
            for line in lines
        ]
        columns = ("due_on", "site", "machine", "compartment", "sampled_on", "outcome", "reason",
                   "interval")  # fmt: skip
        print_rows(rows, form=arguments.format, columns=columns)
        return Exit.OK
    table = compliance_table(
        events, catalogue, first_day=first, last_day=last, by=GroupBy(arguments.by)
    )
    if arguments.out:
        _write(table, arguments.out, printed_on=today)
    rows = [{arguments.by: line.group, **_measures(line.measures)} for line in table.lines]
    if arguments.format == "json":
        print_json({"from": first, "to": last, "total": _measures(table.total), "groups": rows})
    else:
        say(table.sentence)
        shown = ("due", "excused", "on_time", "late", "early", "missed", "still_open",
                 "on_time_percent", "taken_percent", "usable_percent")  # fmt: skip
        print_rows(rows, form=arguments.format, columns=(arguments.by, *shown))
    percent = table.total.on_time_share.percent
    is_short = arguments.target is not None and percent is not None and percent < arguments.target
    return Exit.ATTENTION if is_short else Exit.OK


def _write(table: "ComplianceTable", path: Path, *, printed_on: date) -> None:
    if path.suffix.lower() == ".xlsx":
        from fluiddesk.services.interval_compliance.workbook import write_compliance_workbook

        write_compliance_workbook(table, path)
    elif path.suffix.lower() == ".pdf":
        os.environ["QT_QPA_PLATFORM"] = "offscreen"
        from PySide6.QtGui import QGuiApplication

        from fluiddesk.printing.compliance_report import write_compliance

        application = QGuiApplication.instance() or QGuiApplication(["fluiddesk"])
        write_compliance(table, path, printed_on=printed_on)
        del application
    else:
        raise UsageError(f'--out "{path}" is neither a .pdf nor an .xlsx file. Choose one of both.')
    say(f"Wrote {path}.")


def _measures(found: "Compliance") -> dict[str, Any]:
    def rounded(percent: float | None) -> float | None:
        return None if percent is None else round(percent, 1)

    return {
        "due": found.due,
        "excused": found.excused,
        "on_time": found.on_time,
        "late": found.late,
        "missed": found.missed,
        "early": found.early,
        "still_open": found.still_open,
        "usable": found.usable,
        "on_time_percent": rounded(found.on_time_share.percent),
        "taken_percent": rounded(found.taken_share.percent),
        "usable_percent": rounded(found.usable_share.percent),
        "missed_percent": rounded(found.missed_share.percent),
        "early_percent": rounded(found.early_samples.percent),
        "mean_lateness_percent": rounded(found.mean_lateness_percent),
    }
