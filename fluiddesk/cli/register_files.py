"""``fluiddesk register export|import``: the register as CSV files, out and in."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from fluiddesk.cli.desk import add_database, opened
from fluiddesk.cli.output import Exit, counted, print_json, print_rows, say
from fluiddesk.cli.register_show import add_showing

if TYPE_CHECKING:
    from argparse import _SubParsersAction
    from collections.abc import Sequence

    from fluiddesk.services.register_files.facts import (
        ExportedFile,
        FileOutcome,
        FileProblem,
        RegisterPreview,
    )

_WORTH_TELLING: Final = 2_000
_FILES: Final = ("file", "kind", "rows", "added", "changed", "unchanged")


def add_commands(commands: "_SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command."""
    register = commands.add_parser("register", help="the register: show, export, import")
    parts = register.add_subparsers(dest="part", metavar="PART", required=True)
    add_showing(parts)
    export = parts.add_parser("export", help="write every list of the register as a CSV file")
    export.add_argument("folder", type=Path, help="where to; files there are never written over")
    add_database(export)
    export.set_defaults(run=_export)
    taken = parts.add_parser(
        "import", help="import machines, compartments, fluids, meter readings, events and more"
    )
    taken.add_argument(
        "files", type=Path, nargs="+", metavar="FILE", help="CSV or XLSX file, or a folder of them"
    )
    taken.add_argument(
        "--preview", action="store_true", help="show what would happen, change nothing"
    )
    add_database(taken)
    taken.set_defaults(run=_import)


class _QuarterTeller:
    """Says how far the import of many rows is, at each quarter; few rows are not worth a word."""

    def __init__(self) -> None:
        self._told = 0

    def __call__(self, done: int, total: int | None) -> bool:
        """Always goes on: a person at a terminal stops with Ctrl+C."""
        quarter = 4 * done // total if total and total >= _WORTH_TELLING else 0
        if quarter > self._told:
            self._told = quarter
            say(f"  {25 * quarter} % of {total} rows")
        return True


def _export(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.register_files.export import export_register

    with opened(arguments, is_reading=True) as desk:
        files = export_register(desk.place, arguments.folder)
    print_rows(_exported(files), form=arguments.format, columns=("kind", "rows", "path"))
    return Exit.OK


def _exported(files: "Sequence[ExportedFile]") -> list[dict[str, Any]]:
    return [{"kind": one.kind, "rows": one.rows, "path": one.path} for one in files]


def _import(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.register_files.take_in import (
        RegisterImportError,
        import_register_files,
        preview_register_files,
    )

    form, files = arguments.format, arguments.files
    with opened(arguments) as desk:
        today = desk.clock.today()
        if arguments.preview:
            preview = preview_register_files(
                desk.place, files, today=today, progress=_QuarterTeller()
            )
            _tell_preview(preview, form=form)
            return Exit.OK if preview.can_import else Exit.ATTENTION
        try:
            done = import_register_files(
                desk.place,
                files,
                today=today,
                moment=desk.clock.moment(),
                progress=_QuarterTeller(),
            )
        except RegisterImportError as fault:
            _tell(fault.preview.files, fault.preview.problems, form=form, opening="")
            raise
    added = sum(one.added for one in done.files)
    changed = sum(one.changed for one in done.files)
    unchanged = sum(one.unchanged for one in done.files)
    opening = f"{added} added, {changed} changed, {unchanged} unchanged."
    if done.moved:
        opening += f" {counted(len(done.moved), 'compartment')} changed condition."
    _tell(done.files, done.problems, form=form, opening=opening)
    return Exit.OK


def _tell_preview(preview: "RegisterPreview", *, form: str) -> None:
    opening = f"Preview; nothing was changed. {preview.sentence}"
    if preview.moved:
        moved = counted(len(preview.moved), "compartment")
        opening += f" {moved} would change condition."
    _tell(preview.files, preview.problems, form=form, opening=opening)


def _tell(
    files: "Sequence[FileOutcome]", problems: "Sequence[FileProblem]", *, form: str, opening: str
) -> None:
    rows = [
        {
            "file": one.file,
            "kind": one.kind,
            "rows": one.rows,
            "added": one.added,
            "changed": one.changed,
            "unchanged": one.unchanged,
        }
        for one in files
    ]
    if form == "json":
        print_json({"files": rows, "problems": _problem_rows(problems)})
        return
    for problem in problems:
        say(problem.line if problem.refuses else f"{problem.line} (warning)")
    if form == "text" and opening:
        print(opening)
    if form == "csv" or opening:
        print_rows(rows, form=form, columns=_FILES)


def _problem_rows(problems: "Sequence[FileProblem]") -> list[dict[str, Any]]:
    return [
        {
            "file": one.file,
            "row": one.row,
            "column": one.column,
            "value": one.value,
            "problem": one.text,
            "remedy": one.remedy,
            "refuses": one.refuses,
        }
        for one in problems
    ]
