"""How commands print: aligned text, JSON or CSV on standard output, messages on standard error."""

import csv
import io
import json
import sys
from collections.abc import Mapping, Sequence
from enum import IntEnum
from typing import Any

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\0")


class Exit(IntEnum):
    """Exit codes, after the ones of sysexits; 1 says that the answer itself needs attention."""

    OK = 0
    ATTENTION = 1
    USAGE = 64
    BAD_DATA = 65
    NO_INPUT = 66
    UNAVAILABLE = 69
    INTERNAL = 70
    CANNOT_CREATE = 73
    INPUT_OUTPUT = 74
    TRY_AGAIN = 75
    NO_PERMISSION = 77
    CONFIG = 78
    STOPPED = 130


def say(message: str) -> None:
    """Tell the person something, beside the data."""
    print(message, file=sys.stderr)


def speak_any_script() -> None:
    """Let no name stop a command: a letter the terminal lacks is printed as its code."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def counted(number: int, thing: str) -> str:
    """A number and its noun: "1 problem", "2 problems"."""
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def print_json(answer: Any) -> None:
    """Print one JSON value, in plain ASCII where the output is not UTF-8."""
    is_utf8 = (sys.stdout.encoding or "").lower().replace("-", "") == "utf8"
    print(json.dumps(answer, ensure_ascii=not is_utf8, indent=1, default=str, allow_nan=False))


def print_rows(rows: Sequence[Mapping[str, Any]], *, form: str, columns: Sequence[str]) -> None:
    """Print rows in the form asked for.

    Args:
        rows: one mapping a line; JSON prints every key, text and CSV the named columns.
        form: "text", "json" or "csv".
        columns: what text and CSV show, in order.
    """
    if form == "json":
        print_json(list(rows))
    elif form == "csv":
        writer = csv.writer(sys.stdout, lineterminator="\n")
        writer.writerow(columns)
        writer.writerows([csv_cell(row.get(column)) for column in columns] for row in rows)
    else:
        _print_table(rows, columns)


def _print_table(rows: Sequence[Mapping[str, Any]], columns: Sequence[str]) -> None:
    cells = [[_text(row.get(column)) for column in columns] for row in rows]
    heads = [column.replace("_", " ") for column in columns]
    widths = [max(map(len, column)) for column in zip(heads, *cells, strict=True)]
    for line in (heads, *cells):
        padded = (cell.ljust(width) for cell, width in zip(line, widths, strict=True))
        print("  ".join(padded).rstrip())


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, list | tuple):
        return "; ".join(map(_text, value))
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)


def csv_cell(value: Any) -> Any:
    """A cell for spreadsheets: text that would be read as a formula is marked as text."""
    if isinstance(value, int | float):
        return value
    text = _text(value)
    return f"'{text}" if text.startswith(_FORMULA_STARTS) else text
