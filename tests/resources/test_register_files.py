"""The description of the register files says what the program reads."""

import re

from fluiddesk import assets
from fluiddesk.services.register_files.cells import written
from fluiddesk.services.register_files.columns import FILE_KINDS
from tests.fleets import the_catalogue

README = assets.resource("register_files") / "README.md"


def described() -> dict[str, dict[str, str]]:
    """For each list, its columns and whether they are needed."""
    found: dict[str, dict[str, str]] = {}
    for part in README.read_text(encoding="utf-8").split("\n## ")[2:]:
        name = part.split(".csv", 1)[0]
        rows = re.findall(r"^\| ([^|]+) \| ([^|]*)\| ", part, flags=re.MULTILINE)
        found[name] = {column: told.strip() for column, told in rows if column != "column"}
    return found


def test_that_every_file_and_column_is_described_in_the_order_of_the_export():
    told = described()
    assert list(told) == [kind.name for kind in FILE_KINDS]
    for kind in FILE_KINDS:
        columns = [one for one in told[kind.name] if "," not in one]
        assert columns == [column.name for column in kind.columns], kind.name


def test_that_the_description_says_which_columns_are_needed_and_what_an_empty_cell_means():
    told = described()
    for kind in FILE_KINDS:
        for column in kind.columns:
            said = told[kind.name][column.name]
            assert (said == "needed") == column.needed, (kind.name, column.name)
            if column.default not in (None, ""):
                assert said == written(column.default), (kind.name, column.name)


def test_that_the_analytes_named_as_columns_are_analytes():
    [columns] = [one for one in described()["fluid_references"] if "," in one]
    named = [one for one in columns.split(", ") if one != "..."]
    assert set(named) <= set(the_catalogue().analytes)
