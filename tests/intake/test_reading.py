"""Whole files from the clerk's side: what is taken in, what is held, and what is said."""

import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

from fluiddesk.domain.errors import CancelledError, NotFoundError, OperatorError, UsageError
from fluiddesk.domain.samples import Sign
from fluiddesk.intake.problems import LabFileError, ProblemSeverity
from fluiddesk.intake.reading import read_lab_file
from tests.intake.bench import LAB_FILES, analytes, bench_layout, bottle, read, register

HEADINGS = (
    "Bottle;Report;Issue;Sampled;Received;Unit No;Meter;Fe;Visc 40 °C;Water;"
    "Glycol test;ISO 4406;Remark"
)


def written(folder: Path, *rows: str, name: str = "made.csv") -> Path:
    path = folder / name
    path.write_text("\n".join([HEADINGS, *rows]) + "\n", encoding="utf-8")
    return path


def row(bottle_code: str = "26K-0042-Z", *, issue: int = 1, iron: str = "12", **other: str) -> str:
    report, machine = other.get("report", "R-1"), other.get("machine", "14")
    sampled, meter = other.get("sampled", "03.05.2026"), other.get("meter", "8120")
    return f"{bottle_code};{report};{issue};{sampled};06.05.2026;{machine};{meter};{iron};45;;;;"


def lines(report) -> str:
    return "\n".join(problem.text() for problem in report.problems)


@pytest.mark.parametrize(
    "name",
    [
        "sound.csv",
        "sound_utf8.csv",
        "sound_utf8_mark.csv",
        "sound_utf16.csv",
        "sound_utf16_no_mark.csv",
        "lines_before.csv",
        "sep_line.csv",
    ],
)
def test_that_a_sound_file_is_read_whatever_its_encoding_and_its_signs_between_columns(name):
    report = read(name)
    assert report.held == []
    assert [sheet.bottle.bottle_code for sheet in report.accepted] == [
        "26K-0042-Z",
        "26K-0043-X",
        "26K-0044-V",
    ]
    first, second, third = (sheet.sheet for sheet in report.accepted)
    assert first.readings["iron"].value == 12
    assert first.readings["viscosity_40c"].value == 45.8
    assert first.readings["viscosity_40c"].decimals == 1
    assert first.readings["water"].value == 500
    assert first.readings["water"].printed == "0,05"
    assert first.readings["water"].printed_unit == "%"
    assert first.readings["glycol_test"].sign is Sign.ABSENT
    assert [first.readings[f"iso4406_{size}um"].value for size in (4, 6, 14)] == [20, 18, 15]
    assert first.remark == "dark"
    assert (first.report_number, first.issue) == ("R-1", 1)
    assert first.sampled_on_printed == date(2026, 5, 3)
    assert first.meter_printed == 8120
    assert second.readings["iron"].sign is Sign.BELOW
    assert second.readings["iron"].value == second.readings["iron"].detection_limit == 2
    assert second.readings["water"].sign is Sign.BELOW
    assert second.readings["water"].value == pytest.approx(100)
    assert second.readings["iso4406_6um"].sign is Sign.NOT_TESTED
    assert third.readings["iron"].sign is Sign.ABOVE
    assert third.readings["viscosity_40c"].sign is Sign.NOT_TESTED
    assert third.readings["viscosity_40c"].value is None
    assert third.readings["iso4406_4um"].sign is Sign.ABOVE
    assert third.readings["iso4406_14um"].sign is Sign.NOT_TESTED


def test_that_a_workbook_gives_the_same_readings_as_the_text_file():
    from_workbook, from_text = read("sound.xlsx"), read("sound.csv")
    assert from_workbook.held == []
    for one, other in zip(from_workbook.accepted, from_text.accepted[:2], strict=True):
        assert one.sheet.sampled_on_printed == other.sheet.sampled_on_printed
        for analyte, reading in one.sheet.readings.items():
            expected = other.sheet.readings[analyte]
            assert (reading.sign, reading.value) == (expected.sign, expected.value)
    stored = from_workbook.accepted[0].sheet.readings["viscosity_40c"]
    assert (stored.printed, stored.decimals) == ("45.8", None)


def test_that_every_mischief_of_a_file_is_told_in_one_pass_and_the_sound_row_goes_on():
    report = read("mischief.csv")
    assert [sheet.row for sheet in report.accepted] == [2]
    assert [held.row for held in report.held] == [3, 4, 5, 6, 7, 8, 9]
    told = lines(report)
    assert 'Row 3, column "Bottle": "26K-0043-Y" is not a bottle code' in told
    assert (
        'Row 4, column "Visc 40 °C": "12,4O" is not a number. Correct the cell, or hold the row.'
        in told
    )
    assert 'Row 5, column "Sampled": "31.11.2026" is not a date' in told
    assert 'Row 6, column "Fe": "-3" is negative, which Iron cannot be.' in told
    assert 'Row 7: "26K-0999-5" is a bottle nobody registered.' in told
    assert 'Row 8: "26K-0047-P" stands in row 9 as well' in told
    assert 'Row 9: "26K-0047-P" stands in row 8 as well' in told
    assert report.sentence() == (
        "mischief.csv: 1 sheet to take in, 7 rows held, 0 unchanged (layout bench)."
    )


def test_that_a_held_row_keeps_its_cells_as_printed():
    held = read("mischief.csv").held[1]
    assert held.cells[8] == "12,4O"
    assert held.reasons[0].severity is ProblemSeverity.HELD


def test_that_an_unknown_column_is_told_once_and_its_values_kept_out():
    report = read("unknown_column.csv")
    assert len(report.accepted) == 3
    (problem,) = report.problems
    assert problem.severity is ProblemSeverity.WARNING
    assert problem.text().startswith('Column "Smell": this column is not in the layout')


def test_that_a_quoted_remark_may_hold_the_sign_between_columns_and_lines():
    assert read("quoted.csv").accepted[0].sheet.remark == 'dark; two\nlines, "burnt"'


def test_that_a_row_whose_cells_are_shifted_or_cut_off_is_held():
    report = read("shifted.csv")
    assert report.accepted == []
    assert "right of the last heading" in lines(report)
    assert "the row has 8 cells where the headings have 13" in lines(report)


def test_that_a_value_the_spreadsheet_made_a_date_is_held():
    report = read("value_became_date.xlsx")
    assert [held.row for held in report.held] == [4]
    assert "is a date or a time, not a result" in lines(report)


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("empty.csv", "is empty"),
        ("blank.csv", "is empty"),
        ("headings_only.csv", "no rows below"),
        ("strange_headings.csv", "no layout fits its headings .it begins with: Probe, Wert"),
        ("two_iron_columns.csv", 'Columns 8 .."Fe".. and 14 .."Iron"..'),
        ("open_quote.csv", "row 3: a quotation mark is opened and not closed"),
        ("binary.csv", "is not text"),
        ("not_in_code_page.csv", "cannot be read as cp1252"),
        ("really_pdf.csv", "is a PDF document"),
        ("really_page.csv", "is a web page"),
        ("really_zip.csv", "is a ZIP archive"),
        ("really_text.xlsx", "is not a spreadsheet"),
        ("really_old.xlsx", "old or a password-protected spreadsheet"),
        ("no_workbook.xlsx", "without a workbook"),
        ("damaged.xlsx", "is damaged"),
        ("error_cell.xlsx", "error cells such as #N/A in I4"),
        ("README.md", 'ends in ".md"'),
    ],
)
def test_that_a_file_that_cannot_be_read_gets_one_message_with_its_remedy(name, said):
    with pytest.raises(OperatorError, match=said.replace('.."', '."').replace('"..', '".')) as told:
        read(name)
    assert told.value.exit_code == 65
    assert str(told.value).count(". ") >= 1


def test_that_a_folder_is_called_one(tmp_path):
    with pytest.raises(OperatorError, match=r"is a folder\. Choose a file in it"):
        read(tmp_path)


def test_that_a_missing_file_is_named(tmp_path):
    with pytest.raises(NotFoundError, match=r"nowhere\.csv is not there"):
        read(tmp_path / "nowhere.csv")


def test_that_the_same_file_again_changes_nothing_and_says_so():
    first = read("sound.csv")
    known = [
        bottle(
            sheet.bottle.bottle_code,
            newest_issue=sheet.sheet.issue,
            newest_report=sheet.sheet.report_number,
            newest_readings=sheet.sheet.readings,
        )
        for sheet in first.accepted
    ]
    again = read("sound.csv", *known)
    assert again.accepted == again.held == []
    assert [row.row for row in again.unchanged] == [2, 3, 4]
    assert again.sha256 == first.sha256
    assert again.sentence().endswith(
        "0 sheets to take in, 0 rows held, 3 unchanged (layout bench)."
    )


def known_bottle(*, issue: int = 1, folder: Path, **told: str):
    sheet = read(written(folder, row(issue=issue, **told), name="known.csv")).accepted[0].sheet
    return bottle(
        "26K-0042-Z",
        newest_issue=issue,
        newest_report=sheet.report_number,
        newest_readings=sheet.readings,
    )


def test_that_a_higher_issue_revises_the_sheet_taken_in(tmp_path):
    known = known_bottle(folder=tmp_path)
    report = read(written(tmp_path, row(issue=2, iron="15")), known)
    assert [(sheet.is_revision, sheet.sheet.issue) for sheet in report.accepted] == [(True, 2)]


def test_that_the_same_issue_with_other_values_is_held(tmp_path):
    known = known_bottle(folder=tmp_path)
    report = read(written(tmp_path, row(iron="15")), known)
    assert report.accepted == []
    assert "same issue number (1), other values" in lines(report)


def test_that_the_same_issue_with_another_sign_is_held(tmp_path):
    known = known_bottle(folder=tmp_path)
    assert "other values" in lines(read(written(tmp_path, row(iron="<12")), known))


def test_that_the_same_values_from_another_report_are_held(tmp_path):
    known = known_bottle(folder=tmp_path)
    report = read(written(tmp_path, row(report="R-9")), known)
    assert "taken in before from report R-1" in lines(report)


def test_that_an_older_issue_is_held(tmp_path):
    known = known_bottle(folder=tmp_path, issue=2)
    report = read(written(tmp_path, row(issue=1)), known)
    assert "issue 1 is older than issue 2" in lines(report)


def test_that_two_issues_of_one_bottle_in_a_file_are_taken_in_the_later_as_revision(tmp_path):
    report = read(written(tmp_path, row(issue=2, iron="15"), row(issue=1)))
    taken = [(sheet.sheet.issue, sheet.is_revision) for sheet in report.accepted]
    assert sorted(taken) == [(1, False), (2, True)]


def test_that_a_row_of_another_machine_is_held(tmp_path):
    report = read(written(tmp_path, row(machine="21")))
    assert 'Row 2: "21" is not the machine of bottle 26K-0042-Z (14).' in lines(report)
    assert report.held_count == 1


@pytest.mark.parametrize(("sampled", "warned"), [("06.05.2026", False), ("07.05.2026", True)])
def test_that_a_sampling_date_too_far_off_the_register_warns(tmp_path, sampled, warned):
    report = read(written(tmp_path, row(sampled=sampled)))
    assert len(report.accepted) == 1
    assert ("4 days off the register" in lines(report)) is warned


def test_that_dates_out_of_order_warn(tmp_path):
    path = written(tmp_path, row(sampled="09.05.2026"))
    assert "received on 2026-05-06, before it was sampled on 2026-05-09" in lines(read(path))


@pytest.mark.parametrize(("meter", "warned"), [("8145", False), ("8146", True), ("81146", True)])
def test_that_a_meter_too_far_off_the_register_warns(tmp_path, meter, warned):
    report = read(written(tmp_path, row(meter=meter)), bottle("26K-0042-Z", meter_value=8120))
    assert len(report.accepted) == 1
    assert ("off the register (8120)" in lines(report)) is warned


@pytest.mark.parametrize("meter", ["unreadable", "<5", "-4"])
def test_that_a_meter_that_is_no_number_only_warns(tmp_path, meter):
    report = read(written(tmp_path, row(meter=meter)))
    assert report.accepted[0].sheet.meter_printed is None
    assert "is not a meter reading" in lines(report)


@pytest.mark.parametrize("text", ["0", "x", "1,5", "-1", "123456"])
def test_that_an_issue_that_is_no_whole_number_holds_the_row(tmp_path, text):
    path = written(tmp_path, row().replace(";1;", f";{text};", 1))
    assert "is not an issue number" in lines(read(path))


def test_that_an_empty_issue_is_the_first(tmp_path):
    path = written(tmp_path, row().replace(";1;", ";;", 1))
    assert read(path).accepted[0].sheet.issue == 1


def test_that_a_missing_report_number_or_bottle_holds_the_row(tmp_path):
    told = lines(read(written(tmp_path, row(report=""), row(bottle_code=" "))))
    assert 'Row 2, column "Report": the report number is missing' in told
    assert 'Row 3, column "Bottle": the bottle code is missing' in told


def test_that_a_bottle_that_fills_a_file_is_told_without_end(tmp_path):
    report = read(written(tmp_path, *[row() for _ in range(200)]))
    assert report.accepted == []
    assert report.held_count == 200


def test_that_held_rows_beyond_the_room_are_counted_and_not_kept(tmp_path, monkeypatch):
    monkeypatch.setattr("fluiddesk.intake.problems.KEPT_IN_DETAIL", 3)
    report = read(written(tmp_path, *[row("26K-0999-5") for _ in range(8)]))
    assert (report.held_count, report.problem_count) == (8, 8)
    assert [held.row for held in report.held] == [2, 3, 4]
    assert len(report.problems) == 3


def test_that_blank_rows_are_passed_over(tmp_path):
    report = read(written(tmp_path, ";;;;;;;;;;;;", row(), ""))
    assert (report.rows_read, report.accepted[0].row) == (1, 3)


def test_that_progress_is_told_and_can_stop_the_reading(tmp_path):
    path = written(tmp_path, *[row() for _ in range(1_200)])
    seen = []

    def note(done: int, expected: int | None) -> bool:
        seen.append((done, expected))
        return True

    read(path, progress=note)
    assert seen == [(501, 1_202), (1_001, 1_202), (1_201, 1_202)]
    with pytest.raises(CancelledError, match="Nothing was taken in"):
        read(path, progress=lambda done, _: done < 1_000)


def test_that_a_layout_can_be_named_and_must_fit():
    assert read("sound.csv", layout_name="bench").layout == "bench"
    with pytest.raises(UsageError, match="Choose one of: bench"):
        read("sound.csv", layout_name="other")
    with pytest.raises(LabFileError, match="has not the headings of layout bench"):
        read("strange_headings.csv", layout_name="bench")


_MEASURE = """
import resource, sys
from pathlib import Path
from tests.intake.bench import analytes, bench_layout, register
from fluiddesk.intake.reading import read_lab_file

choices = {"analytes": analytes(), "layouts": [bench_layout()], "open_bottles": register()}
small, large = map(Path, sys.argv[1:])
read_lab_file(small, **choices)
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
report = read_lab_file(large, **choices)
grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
print(len(report.accepted), report.held_count, len(report.held), grown)
"""


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="measures memory by a POSIX call")
def test_that_a_million_rows_are_read_in_bounded_memory(tmp_path):
    small, large = tmp_path / "small.csv", tmp_path / "large.csv"
    head = "Bottle;Fe\n26K-0042-Z;12\n"
    small.write_text(head, encoding="utf-8")
    with large.open("w", encoding="utf-8") as stream:
        stream.write(head)
        for _ in range(1_000):
            stream.write("26K-0999-5;12\n" * 1_000)
    asked = [sys.executable, "-c", _MEASURE, str(small), str(large)]
    done = subprocess.run(asked, capture_output=True, text=True, check=True)
    taken_in, held, kept, kilobytes = map(int, done.stdout.split())
    assert (taken_in, held, kept) == (1, 1_000_000, 2_000)
    assert kilobytes < 30 * 1024


def test_that_the_register_is_asked_for_a_few_hundred_bottles_at_a_time(tmp_path):
    asked = []

    def open_bottles(codes):
        asked.append(len(codes))
        return register()(codes)

    path = written(tmp_path, *[row() for _ in range(600)], row("26K-0043-X"))
    read_lab_file(path, layouts=[bench_layout()], analytes=analytes(), open_bottles=open_bottles)
    assert asked == [1, 2]


def test_that_reading_leaves_the_file_as_it_is():
    path = LAB_FILES / "sound.csv"
    before = path.read_bytes()
    read("sound.csv")
    assert path.read_bytes() == before
