"""Files with one value in a row: gathered by sample, each cell at its own row, wrong units out."""

from pathlib import Path

import pytest

from fluiddesk.domain.samples import Sign
from fluiddesk.intake import long_form
from fluiddesk.intake.columns import form_columns
from fluiddesk.intake.files import open_lab_file
from fluiddesk.intake.layout_files import layout_from_text, layout_to_text
from fluiddesk.intake.layouts import LayoutError
from fluiddesk.intake.problems import LabFileError
from fluiddesk.intake.reading import layout_table, read_lab_file
from tests.intake.bench import analytes, register

FIRST, SECOND = "26K-0042-Z", "26K-0043-X"
LAYOUT = """
name = "list"
laboratory = "lab_list"
ignored = ["Smell"]
[values]
decimal_mark = "."
[columns]
bottle = "Bottle"
report = "Report"
remark = "Remark"
[long]
analyte = "Test"
value = "Result"
unit = "Unit"
sign = "Sign"
[[results]]
headers = "Iron"
analyte = "iron"
unit = "mg/kg"
[[results]]
headers = "Water"
analyte = "water"
unit = "% mass"
printed_unit = "wt %"
"""
HEAD = "Bottle,Report,Test,Sign,Result,Unit,Remark"


def layout(text: str = LAYOUT):
    return layout_from_text(text, origin="a test")


def file(folder: Path, *lines: str, head: str = HEAD) -> Path:
    path = folder / "list.csv"
    path.write_text("\n".join([head, *lines]) + "\n", encoding="utf-8")
    return path


def read(path: Path, text: str = LAYOUT):
    return read_lab_file(path, layouts=[layout(text)], analytes=analytes(), open_bottles=register())


def test_that_the_values_of_a_sample_are_gathered_wherever_they_stand(tmp_path):
    path = file(
        tmp_path,
        f"{FIRST},R-1,Iron,,12,mg/kg,one",
        f"{SECOND},R-2,Iron,<,2,mg/kg,",
        f"{FIRST},R-1,Water,,0.05,wt %,two",
        f"{FIRST},R-1,Smell,,none,,",
    )
    report = read(path)
    first, second = report.accepted
    assert first.sheet.readings["iron"].value == 12
    assert first.sheet.readings["water"].value == pytest.approx(500)
    assert second.sheet.readings["iron"].sign is Sign.BELOW
    assert second.sheet.readings["iron"].printed == "<2"
    assert report.problems == []
    assert report.rows_read == 2


def test_that_a_unit_of_the_same_kind_is_converted_and_another_kept_out(tmp_path):
    path = file(
        tmp_path,
        f"{FIRST},R-1,Iron,,0.0012,% mass,",
        f"{FIRST},R-1,Water,,5,pH,",
        f"{SECOND},R-2,Iron,,12,furlong,",
        f"{SECOND},R-2,Water,,0.05,wt %,",
    )
    report = read(path)
    assert report.accepted[0].sheet.readings["iron"].value == pytest.approx(12)
    told = [one.text() for one in report.problems]
    assert any("Water pH" in one and "unit of the layout" in one for one in told)
    assert any("Iron furlong" in one for one in told)


def test_that_a_cell_is_told_at_the_row_it_stands_in(tmp_path):
    path = file(tmp_path, f"{FIRST},R-1,Iron,,12,mg/kg,", f"{FIRST},R-1,Water,,0.0.5,wt %,")
    report = read(path)
    [held] = report.held
    [problem] = held.reasons
    assert (problem.row, problem.printed) == (3, "0.0.5")


def test_that_a_name_the_layout_does_not_know_is_told_once(tmp_path):
    path = file(
        tmp_path,
        f"{FIRST},R-1,Gold,,12,mg/kg,",
        f"{SECOND},R-2,Gold,,12,mg/kg,",
        f"{FIRST},R-1,Iron,,12,mg/kg,",
        f"{SECOND},R-2,Iron,,12,mg/kg,",
        f"{SECOND},R-2,,,12,mg/kg,",
    )
    told = [one.text() for one in read(path).problems]
    assert len([one for one in told if "Gold" in one]) == 1


def test_that_problems_without_end_are_kept_within_bounds(tmp_path):
    lines = [f"{FIRST},R-1,Name {at},,12,mg/kg," for at in range(500)]
    report = read(file(tmp_path, *lines, f"{FIRST},R-1,Iron,,12,mg/kg,"))
    assert 100 < len(report.problems) <= 201


def test_that_more_values_than_can_be_held_are_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(long_form, "MOST_VALUES", 2)
    path = file(tmp_path, *[f"{FIRST},R-1,Iron,,12,mg/kg,"] * 3)
    with pytest.raises(LabFileError, match="by parts"):
        read(path)


def test_that_a_file_without_a_column_of_values_is_refused(tmp_path):
    path = file(tmp_path, f"{FIRST},R-1,Iron,12", head="Bottle,Report,Test,Outcome")
    with pytest.raises(LabFileError, match="no layout fits"):
        read(path)
    text = LAYOUT.replace('value = "Result"', 'value = ["Result", "Nothing"]')
    whole = file(tmp_path, f"{FIRST},R-1,Iron,,12,mg/kg,", head=HEAD.replace("Result", "Outcome"))
    with pytest.raises(LabFileError, match="has not the headings"):
        read_lab_file(
            whole,
            layouts=[layout(text)],
            analytes=analytes(),
            open_bottles=register(),
            layout_name="list",
        )


def test_that_a_gathered_row_knows_no_cell_beyond_its_end(tmp_path):
    path = file(tmp_path, f"{FIRST},R-1,Iron,,12,mg/kg,")
    _, rows = layout_table(open_lab_file(path), layout(), analytes())
    [row] = rows
    assert row.cell(99).printed == ""
    assert row.cell(99).row == row.number


def test_that_a_layout_of_a_list_is_written_and_read_back_the_same():
    assert layout(layout_to_text(layout())) == layout()


def test_that_a_list_without_a_column_of_names_is_no_layout():
    with pytest.raises(LayoutError, match="'analyte' is missing"):
        layout(LAYOUT.replace('analyte = "Test"\nvalue', "value"))


def test_that_a_mass_in_a_volume_needs_a_density_above_0():
    text = LAYOUT.replace(
        'unit = "% mass"\nprinted_unit = "wt %"', 'unit = "mg/L"\nfluid_density = 0.0'
    )
    wrong = layout(text)
    with pytest.raises(LayoutError, match="not above 0"):
        form_columns(wrong, analytes())
