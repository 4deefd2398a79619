"""Reads the published worked examples that stand beside this file."""

import csv
from pathlib import Path

FOLDER = Path(__file__).parent


def worked_examples(name: str) -> list[dict[str, str]]:
    """The rows of one file, each with its source; fails on a row without one."""
    with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert rows
    assert all(row["source"] and None not in row.values() for row in rows)
    return rows


def row_name(row: dict[str, str]) -> str:
    """What the row is called in a list of tests."""
    return " ".join(text for key, text in row.items() if key not in ("source", "tolerance"))
