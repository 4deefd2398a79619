"""Writes and reads the sample fleet's laboratory files, to keep them in step with the story.

``python -m tests.simulation.lab_file_writing`` writes them anew after the story was changed.
"""

import csv
import io
import tomllib
from datetime import date, datetime
from functools import cache
from pathlib import Path
from typing import Any

import xlsxwriter

from fluiddesk.simulation.lab_files import Cell, LabFile
from fluiddesk.simulation.story import PlayedStory, Story, play_story, read_story
from tests.simulation.catalogue_setting import catalogue_setting

SAMPLE_DB = Path(__file__).parents[2] / "sample_db"
LAB_FILES = SAMPLE_DB / "lab_files"
CSV_ENCODING = "cp1252"


@cache
def the_story() -> Story:
    """The story of the shipped sample fleet."""
    return read_story(tomllib.loads((SAMPLE_DB / "story.toml").read_text(encoding="utf-8")))


@cache
def the_played_story() -> PlayedStory:
    """The shipped sample fleet, played."""
    return play_story(catalogue_setting(), the_story())


def csv_bytes(file: LabFile) -> bytes:
    """The file as lab A sends it: semicolons, CRLF, the code page of Western Europe."""
    text = io.StringIO(newline="")
    csv.writer(text, delimiter=";", lineterminator="\r\n").writerows(file.rows)
    return text.getvalue().encode(CSV_ENCODING)


def write_workbook(file: LabFile, path: Path) -> None:
    """The file as lab B sends it: one sheet, numbers as numbers, dates as dates."""
    with xlsxwriter.Workbook(path) as book:
        book.set_properties({"created": datetime(2026, 11, 19, 12, 0)})  # noqa: DTZ001
        sheet = book.add_worksheet("Results")
        day = book.add_format({"num_format": "yyyy-mm-dd"})
        for line, row in enumerate(file.rows):
            for column, cell in enumerate(row):
                if isinstance(cell, date):
                    sheet.write_datetime(line, column, datetime(*cell.timetuple()[:3]), day)  # noqa: DTZ001
                elif cell is not None:
                    sheet.write(line, column, cell)


def workbook_rows(path: Path) -> list[list[Any]]:
    """The cells of a workbook's first sheet, None where blank, numbers as floats."""
    from python_calamine import CalamineWorkbook

    sheet = CalamineWorkbook.from_path(path).get_sheet_by_index(0)
    return [[None if cell == "" else cell for cell in row] for row in sheet.to_python()]


def comparable(rows: list[list[Cell]]) -> list[list[Any]]:
    """Rows as a workbook gives them back: every number a float."""
    return [[float(c) if isinstance(c, (int, float)) else c for c in row] for row in rows]


def main() -> None:
    """Write all waiting laboratory files of the story."""
    LAB_FILES.mkdir(exist_ok=True)
    for file in the_played_story().lab_files:
        if file.layout == "lab_b":
            write_workbook(file, LAB_FILES / file.name)
        else:
            (LAB_FILES / file.name).write_bytes(csv_bytes(file))


if __name__ == "__main__":
    main()
