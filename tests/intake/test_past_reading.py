"""Files of past results: rows without our bottle codes, read by the same layouts."""

from datetime import date
from pathlib import Path

import pytest

from fluiddesk import assets
from fluiddesk.domain.errors import CancelledError
from fluiddesk.intake.layout_files import layout_from_text, load_layouts
from fluiddesk.intake.past_reading import PastReport, read_past_file
from fluiddesk.intake.problems import LabFileError, ProblemSeverity
from tests.intake.bench import analytes

TODAY = date(2026, 6, 30)
HEAD = "site,machine,compartment,sampled on,meter,fluid hours,report,issue,iron [mg/kg]\n"


def read(folder: Path, text: str, **told: object) -> PastReport:
    file = folder / "past.csv"
    file.write_text(text, encoding="utf-8")
    choices: dict[str, object] = {
        "layouts": load_layouts(assets.resource("lab_layouts")),
        "analytes": analytes(),
        "today": TODAY,
    }
    return read_past_file(file, **(choices | told))  # type: ignore[arg-type]


def test_that_a_row_tells_whose_sample_it_was_and_what_was_measured(tmp_path):
    report = read(tmp_path, HEAD + "North,EX-01,Engine,2024-05-03,1200,250,A1,2,<3\n")
    [row] = report.rows
    assert (row.site, row.machine, row.compartment) == ("North", "EX-01", "Engine")
    assert (row.sampled_on, row.fluid_hours) == (date(2024, 5, 3), 250.0)
    assert (row.sheet.report_number, row.sheet.issue, row.sheet.meter_printed) == ("A1", 2, 1200.0)
    assert row.sheet.readings["iron"].printed == "<3"
    assert row.sheet.bottle_code == ""
    assert report.held == []


def test_that_a_row_without_a_report_number_is_named_by_machine_box_and_day(tmp_path):
    [row] = read(tmp_path, HEAD + ",EX-01,Engine,2024-05-03,,,,,4\n").rows
    assert row.sheet.report_number == "EX-01 Engine 2024-05-03"


def test_that_the_laboratory_s_own_bottle_numbers_do_no_harm(tmp_path):
    text = "bottle,machine,sampled on,iron [mg/kg]\nL-55501,EX-01,2024-05-03,4\n"
    assert len(read(tmp_path, text).rows) == 1


def test_that_bad_hours_only_warn_and_are_kept_out(tmp_path):
    report = read(tmp_path, HEAD + ",EX-01,Engine,2024-05-03,lots,-5,A1,,4\n")
    [row] = report.rows
    assert (row.sheet.meter_printed, row.fluid_hours) == (None, None)
    assert [one.severity for one in report.problems] == [ProblemSeverity.WARNING] * 2


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (",,Engine,2024-05-03,,,A1,,4", "the machine is missing"),
        (",EX-01,Engine,,,,A1,,4", "the day the sample was drawn is missing"),
        (",EX-01,Engine,2026-07-01,,,A1,,4", "lies after today"),
        (",EX-01,Engine,03.05.2024,,,A1,,4", "03.05.2024"),
        (",EX-01,Engine,2024-05-03,,,A1,,", "no results"),
        (",EX-01,Engine,2024-05-03,,,A1,,4O", "4O"),
    ],
)
def test_that_a_row_that_says_too_little_is_held_with_its_cells(tmp_path, row, said):
    report = read(tmp_path, HEAD + row + "\n")
    assert report.rows == []
    [held] = report.held
    assert held.cells[1:3] == tuple(row.split(",")[1:3])
    assert any(said in reason.text() for reason in held.reasons)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("machine,iron [mg/kg]\nEX-01,4\n", "no column of sampling dates"),
        ("sampled on,iron [mg/kg]\n2024-05-03,4\n", "no layout fits"),
        (HEAD, "no rows below"),
    ],
)
def test_that_a_file_that_cannot_be_matched_at_all_is_refused(tmp_path, text, said):
    with pytest.raises(LabFileError, match=said):
        read(tmp_path, text)


def test_that_reading_stops_when_asked(tmp_path):
    with pytest.raises(CancelledError, match="Nothing was taken in"):
        read(tmp_path, HEAD + ",EX-01,Engine,2024-05-03,,,A1,,4\n", progress=lambda *_: False)


def test_that_a_file_too_long_is_asked_for_in_parts(tmp_path, monkeypatch):
    monkeypatch.setattr("fluiddesk.intake.past_reading.MOST_ROWS", 1)
    rows = ",EX-01,Engine,2024-05-03,,,A1,,4\n" * 2
    with pytest.raises(LabFileError, match="by parts"):
        read(tmp_path, HEAD + rows)


def test_that_a_layout_may_name_a_machine_instead_of_a_bottle(tmp_path):
    text = """
name = "old"
laboratory = "old"
[columns]
machine = "Unit"
sampled_on = "Drawn"
[[results]]
headers = "Fe"
analyte = "iron"
unit = "mg/kg"
"""
    layout = layout_from_text(text, origin="old.toml")
    report = read(
        tmp_path, "Unit,Drawn,Fe\nEX-01,2024-05-03,4\n", layouts=[layout], layout_name="old"
    )
    assert len(report.rows) == 1
