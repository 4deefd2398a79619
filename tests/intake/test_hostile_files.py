"""Odd, broken and hostile files: told and refused, or read; never a crash, never without bound."""

import os
import subprocess
import sys
import zipfile
from datetime import date
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fluiddesk import assets
from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.identity import SampleId, bottle_code
from fluiddesk.domain.samples import OpenBottle
from fluiddesk.intake.guessing import guess_mapping
from fluiddesk.intake.layout_files import layout_from_text, load_layouts
from fluiddesk.intake.looking import look_at
from fluiddesk.intake.past_reading import read_past_file
from fluiddesk.intake.problems import IntakeReport
from fluiddesk.intake.reading import read_lab_file
from fluiddesk.services.catalogue import load_catalogue
from fluiddesk.services.lab_intake.mapping import heading_words

ANALYTES = load_catalogue().analytes
LAYOUTS = load_layouts(assets.resource("lab_layouts"))
CODE = bottle_code("26T00001")
LONG = layout_from_text(
    """
name = "long"
laboratory = "lab_long"
[columns]
bottle = "bottle"
report = "report"
machine = "machine"
sampled_on = "sampled on"
[long]
analyte = "test"
value = "result"
unit = "unit"
sign = "sign"
[[results]]
headers = "Iron"
analyte = "iron"
unit = "mg/kg"
""",
    origin="a test",
)
QUICK = settings(suppress_health_check=[HealthCheck.function_scoped_fixture])


def bottles(codes):
    return [
        OpenBottle(
            bottle_code=code,
            sample=SampleId(bytes(16)),
            site_name="North",
            machine="EX-01",
            compartment="Engine",
            taken_on=None,
        )
        for code in codes
        if code == CODE
    ]


def read(path: Path, layout: str = "plain") -> IntakeReport:
    return read_lab_file(
        path,
        layouts=[*LAYOUTS, LONG],
        analytes=ANALYTES,
        open_bottles=bottles,
        layout_name=layout,
    )


def try_everything(path: Path) -> list[str]:
    """Every way a file is read; what was refused, in words. Anything else than that is a crash."""
    refused = []

    def attempt(work) -> None:
        try:
            work()
        except OperatorError as fault:
            refused.append(str(fault))

    attempt(lambda: guess_mapping(look_at(path), analytes=ANALYTES, words=heading_words()))
    for layout in ("plain", "lab_a", "lab_b", "long"):
        attempt(lambda layout=layout: read(path, layout))
    attempt(
        lambda: read_past_file(
            path,
            layouts=[*LAYOUTS, LONG],
            analytes=ANALYTES,
            today=date(2026, 6, 30),
            layout_name="plain",
        )
    )
    assert all(one.strip() for one in refused)
    return refused


# --- anything at all -----------------------------------------------------------------------------

cells = st.one_of(
    st.text(max_size=12),
    st.sampled_from(
        ["iron [mg/kg]", "bottle", "report", "test", "result", CODE, "<2", "1,5", "1.234,5", "=1+1",
         '"', "'", ";", "\r", "\n", "\x00", "\ufeff", "n/a", "31.11.2026", "1e999", "-0", "½", "٣"]
    ),
    st.floats().map(str),
    st.integers().map(str),
)  # fmt: skip


@given(rows=st.lists(st.lists(cells, max_size=6), max_size=12), sign=st.sampled_from(";,\t|"))
@QUICK
def test_that_any_table_of_text_is_read_or_refused(tmp_path, rows, sign):
    path = tmp_path / "any.csv"
    text = "\r\n".join(sign.join(row) for row in rows)
    path.write_text(text, encoding="utf-8", newline="")
    try_everything(path)


@given(
    rows=st.lists(st.lists(cells, min_size=2, max_size=4), min_size=1, max_size=12),
    heads=st.permutations(["bottle", "report", "iron [mg/kg]", "copper [mg/kg]"]),
)
@QUICK
def test_that_any_rows_under_sound_headings_are_taken_in_held_or_unchanged(tmp_path, rows, heads):
    import csv

    path = tmp_path / "rows.csv"
    with path.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.writer(stream)
        writer.writerow(heads)
        writer.writerows(rows)
    try:
        report = read(path)
    except OperatorError:
        return
    told = len(report.accepted) + report.held_count + len(report.unchanged)
    assert told == report.rows_read
    assert all(held.reasons for held in report.held), "no row is held without a reason"


@given(content=st.binary(max_size=400), ending=st.sampled_from([".csv", ".xlsx", ".txt"]))
@QUICK
def test_that_any_bytes_are_read_or_refused(tmp_path, content, ending):
    path = tmp_path / f"bytes{ending}"
    path.write_bytes(content)
    try_everything(path)


@given(
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252", "latin-1"]),
    value=st.integers(0, 9_999),
    remark=st.sampled_from(["süß", "plain", 'a "quoted" word', "two\nlines", "semi;colon"]),
)
@QUICK
def test_that_every_encoding_and_quote_gives_the_same_value(tmp_path, encoding, value, remark):
    quoted = remark.replace('"', '""')
    text = f'bottle,report,iron [mg/kg],remark\n{CODE},R-1,{value},"{quoted}"\n'
    path = tmp_path / "encoded.csv"
    path.write_bytes(text.encode(encoding))
    report = read(path)
    assert report.held_count == 0, [one.text() for one in report.problems]
    [matched] = report.accepted
    assert matched.sheet.readings["iron"].value == value
    assert matched.sheet.remark == remark.replace("\n", "\n")


# --- workbooks -----------------------------------------------------------------------------------


def workbook(path: Path) -> Path:
    """Merged cells, a formula with its result, a hidden sheet, a day stored as a number."""
    import xlsxwriter

    with xlsxwriter.Workbook(str(path)) as book:
        sheet = book.add_worksheet("Results")
        sheet.write_row(0, 0, ["bottle", "report", "iron [mg/kg]", "sampled on", "remark"])
        sheet.write_row(1, 0, [CODE, "R-1"])
        sheet.write_formula(1, 2, "=6*7", None, 42)
        sheet.write_number(1, 3, 46_201)
        sheet.merge_range(2, 0, 2, 4, "merged over the table")
        sheet.write_string(1, 4, '=HYPERLINK("x")')
        hidden = book.add_worksheet("Hidden")
        hidden.hide()
        hidden.write_row(0, 0, ["bottle", "iron [mg/kg]"])
    return path


def test_that_a_formula_is_read_by_its_result_and_a_day_as_a_number_is_told(tmp_path):
    report = read(workbook(tmp_path / "book.xlsx"))
    [first, merged] = report.held
    told = " ".join(problem.text() for problem in first.reasons)
    assert '"46201" is a number where a date belongs' in told
    assert merged.row == 3
    assert report.rows_read == 2


def test_that_hidden_sheets_are_listed(tmp_path):
    assert look_at(workbook(tmp_path / "book.xlsx")).sheets == ("Results", "Hidden")


def test_that_a_workbook_cut_off_anywhere_is_refused_or_read(tmp_path):
    whole = workbook(tmp_path / "book.xlsx").read_bytes()
    for cut in range(0, len(whole), max(1, len(whole) // 40)):
        path = tmp_path / "cut.xlsx"
        path.write_bytes(whole[:cut])
        assert try_everything(path)


@given(at=st.integers(0, 4_000), wrong=st.binary(min_size=1, max_size=8))
@QUICK
def test_that_a_workbook_with_wrong_bytes_is_refused_or_read(tmp_path, at, wrong):
    path = tmp_path / "whole.xlsx"
    if not path.exists():
        workbook(path)
    whole = bytearray(path.read_bytes())
    whole[at : at + len(wrong)] = wrong
    broken = tmp_path / "broken.xlsx"
    broken.write_bytes(bytes(whole))
    try_everything(broken)


def test_that_an_archive_that_inflates_without_end_is_refused(tmp_path):
    path = tmp_path / "bomb.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/workbook.xml", b"<workbook/>")
        archive.writestr("xl/worksheets/sheet1.xml", b"\x00" * (50 << 20))
    told = try_everything(path)
    assert all("unpacks to more than" in one for one in told)


def test_that_an_archive_of_very_many_parts_is_refused(tmp_path):
    path = tmp_path / "parts.xlsx"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("xl/workbook.xml", b"<workbook/>")
        for number in range(2_100):
            archive.writestr(f"xl/part{number}", b"")
    assert all("parts inside" in one for one in try_everything(path))


# --- all problems, and no end of rows ------------------------------------------------------------


def test_that_every_problem_of_a_file_is_listed(tmp_path):
    wrong = ["12,4O", "-3", "=1+1", "1.2.3", "##", "31.11."]
    rows = [f"{bottle_code(f'26T{at:05}')};R-{at};{text}" for at, text in enumerate(wrong, 1)]
    path = tmp_path / "wrong.csv"
    path.write_text("\n".join(["bottle;report;iron [mg/kg]", *rows]), encoding="utf-8")
    report = read(path)
    told = [one.printed for one in report.problems if one.column == "iron [mg/kg]"]
    assert told == wrong


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="asks the system for the memory used")
@pytest.mark.parametrize("layout", ["plain", "long"])
def test_that_a_million_rows_do_not_fill_the_memory(tmp_path, layout):
    path = tmp_path / "million.csv"
    heads = {
        "plain": "bottle,report,iron [mg/kg],copper [mg/kg]\n",
        "long": "bottle,report,test,result,unit\n",
    }
    line = {"plain": "26T-99999-9,R-{0},12,<2\n", "long": "X,R-{1},Iron,12,mg/kg\n"}[layout]
    with path.open("w", encoding="utf-8") as stream:
        stream.write(heads[layout])
        for number in range(0, 1_000_000, 1_000):
            stream.write("".join(line.format(number + at, number) for at in range(1_000)))
    script = f"""
import resource, sys
sys.path.insert(0, {str(Path(__file__).parents[2])!r})
from pathlib import Path
from tests.intake import test_hostile_files as here
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
report = here.read(Path({str(path)!r}), {layout!r})
after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
print(report.rows_read, len(report.held), (after - before) // 1024)
"""
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True, env=os.environ
    )
    rows, kept, megabytes = map(int, done.stdout.split())
    assert rows == (1_000_000 if layout == "plain" else 1_000)
    assert kept <= 2_000
    assert megabytes < 400
