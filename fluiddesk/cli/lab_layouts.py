"""``fluiddesk intake FILE --guess``: describes an unknown laboratory's file, saves its layout."""

import argparse
from typing import TYPE_CHECKING, Any

from fluiddesk.cli.desk import opened
from fluiddesk.cli.output import Exit, print_json, print_rows, say
from fluiddesk.domain.errors import UsageError

if TYPE_CHECKING:
    from fluiddesk.services.lab_intake.mapping import ColumnGuess, FileGuess

_COLUMNS = ("heading", "carries", "unit", "score", "why")


def add_guess_arguments(intake: argparse.ArgumentParser) -> None:
    """Add what says how an unknown file is to be read."""
    intake.add_argument(
        "--guess", action="store_true", help="suggest what the columns carry, change nothing"
    )
    intake.add_argument(
        "--save-layout", metavar="NAME", default="", help="save the sure suggestions as a layout"
    )
    intake.add_argument("--laboratory", default="", help="with --save-layout: its code")
    intake.add_argument(
        "--density", type=float, default=None, help="the fluid's, in kg/L, for units as mg/L"
    )
    intake.add_argument("--sheet", default=None, help="with --guess: sheet of a workbook")
    intake.add_argument("--code-page", default=None, help="with --guess: such as cp1252")
    intake.add_argument("--delimiter", default=None, help="with --guess: sign between columns")
    intake.add_argument("--decimal-mark", default=None, help="with --guess: point or comma")
    intake.add_argument(
        "--header-row", type=int, default=None, help="with --guess: row of headings, from 1"
    )


def run_guess(arguments: argparse.Namespace) -> int:
    """Tell what the file seems to be; save a layout where a name for it was given."""
    from fluiddesk.services.lab_intake.mapping import ReadingChoices, guess_file

    choices = ReadingChoices(
        code_page=arguments.code_page,
        delimiter=arguments.delimiter,
        sheet=arguments.sheet,
        decimal_mark=arguments.decimal_mark,
        header_row=arguments.header_row,
    )
    with opened(arguments, is_reading=not arguments.save_layout) as desk:
        found = guess_file(desk.place, arguments.file, choices)
        saved = ""
        if arguments.save_layout:
            saved = _save(arguments, desk.place, found, desk.clock.moment())
    _tell(found, saved, form=arguments.format)
    return Exit.OK


def _save(arguments: argparse.Namespace, place: Any, found: "FileGuess", moment: Any) -> str:
    from fluiddesk.services.lab_intake.mapping import (
        layout_of,
        mapped_as_suggested,
        save_layout,
    )

    if not arguments.laboratory:
        raise UsageError("Say whose file it is: --laboratory CODE, such as lab_north.")
    mapped = mapped_as_suggested(found.guess, density_kg_l=arguments.density)
    layout = layout_of(found, mapped, name=arguments.save_layout, laboratory=arguments.laboratory)
    return save_layout(place, layout, moment=moment)


def _tell(found: "FileGuess", saved: str, *, form: str) -> None:
    look, guess = found.look, found.guess
    rows = [_row(one) for one in (*guess.columns, *guess.names) if one.heading.strip()]
    if form == "json":
        print_json(
            {
                "encoding": look.encoding,
                "delimiter": look.delimiter,
                "decimal_mark": look.decimal_mark,
                "sheet": look.sheet,
                "sheets": look.sheets,
                "header_row": look.header.number,
                "long_form": guess.is_long_form,
                "date_forms": guess.date_forms,
                "columns": rows,
                "notes": guess.notes,
                "saved_layout": saved,
            }
        )
        return
    for note in guess.notes:
        say(note)
    if form == "text":
        shape = "one value a row" if guess.is_long_form else "one sample a row"
        where = f"sheet {look.sheet}" if look.sheet else f"{look.encoding}, sign {look.delimiter!r}"
        print(
            f"{look.table.path.name}: {shape}, {where}, decimal mark {look.decimal_mark!r}, "
            f"headings in row {look.header.number}."
        )
        if saved:
            print(f'Saved as layout "{saved}"; read the file with --layout {saved}.')
    print_rows(rows, form=form, columns=_COLUMNS)


def _row(one: "ColumnGuess") -> dict[str, Any]:
    best = one.suggestions[0] if one.suggestions else None
    chosen = one.chosen
    return {
        "heading": one.heading,
        "carries": chosen.code if chosen else f"({best.code}?)" if best else "",
        "unit": best.unit if best else "",
        "score": f"{best.score:.2f}" if best else "",
        "why": best.why if best else "nothing known fits",
    }
