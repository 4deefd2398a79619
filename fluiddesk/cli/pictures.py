"""``fluiddesk picture PAGE --out FILE.png``: draws a page off screen."""

import argparse
import os
import re
from pathlib import Path
from typing import TYPE_CHECKING

from fluiddesk.cli.desk import add_database
from fluiddesk.cli.output import Exit, say
from fluiddesk.domain.errors import UsageError

if TYPE_CHECKING:
    from argparse import _SubParsersAction

PAGES = ("fleet", "compartment", "results", "sampling", "rules", "reckoner", "register")

SECTIONS = (
    *("curves", "wear", "hours", "samples"),
    *("visits", "due", "record", "bottles", "compliance", "chance", "crews"),
    *("queue", "keying", "mapping"),
)


def add_commands(commands: "_SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command."""
    picture = commands.add_parser("picture", help="draw a page to a PNG file, without a screen")
    picture.add_argument("page", choices=PAGES)
    picture.add_argument("--out", type=Path, required=True, help="PNG file to write")
    picture.add_argument("--theme", choices=("light", "dark"), default="light")
    picture.add_argument("--size", default="1280x800", help="width x height in pixels")
    picture.add_argument("--machine", default="", help="which machine to show")
    picture.add_argument("--compartment", default="", help="for compartment: which of its boxes")
    picture.add_argument("--file", type=Path, help="for results: a laboratory's file to preview")
    picture.add_argument(
        "--section",
        choices=SECTIONS,
        default="curves",
        help="for compartment: curves, true wear, hours left, or samples side by side; "
        "for sampling: visits, due, record, bottles, compliance, chance or crews; "
        "for results: queue, keying, mapping, else the preview of a file",
    )
    picture.add_argument(
        "--axis",
        choices=("hours", "fluid_hours", "date"),
        default="hours",
        help="for compartment: what the curves are held against",
    )
    add_database(picture, formats=False)
    picture.set_defaults(run=_picture)


def _picture(arguments: argparse.Namespace) -> int:
    os.environ["QT_QPA_PLATFORM"] = "offscreen"
    from fluiddesk.desktop.pictures import PictureWish, draw_page
    from fluiddesk.wiring import OpenFor, open_desk, sample_lab_files, sample_scratch_copy

    width, height = _size(arguments.size)
    lab_file = arguments.file
    if not arguments.database and lab_file is None:
        lab_file = next(iter(sample_lab_files()), None)
    wish = PictureWish(
        page=arguments.page,
        theme=arguments.theme,
        width=width,
        height=height,
        machine=arguments.machine,
        compartment=arguments.compartment,
        lab_file=lab_file,
        section=arguments.section,
        axis=arguments.axis,
    )
    opened = open_desk(arguments.database or str(sample_scratch_copy()), purpose=OpenFor.EITHER)
    try:
        draw_page(opened, wish, out=arguments.out)
    finally:
        opened.close()
    say(f"Wrote {arguments.out}.")
    return Exit.OK


def _size(text: str) -> tuple[int, int]:
    found = re.fullmatch(r"(\d{3,4})x(\d{3,4})", text.strip().lower())
    if not found:
        raise UsageError(f'--size "{text}" is not a size. Write width x height, such as 1280x800.')
    return int(found[1]), int(found[2])
