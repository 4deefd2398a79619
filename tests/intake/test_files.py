"""Opening files: places of cells, encodings, signs between columns, and workbooks that bite."""

import zipfile
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.intake.dialects import best_delimiter
from fluiddesk.intake.files import FileHints, open_lab_file
from fluiddesk.intake.problems import LabFileError
from fluiddesk.intake.spreadsheets import MOST_PARTS
from tests.intake.bench import LAB_FILES


def test_that_every_cell_keeps_its_place():
    table = open_lab_file(LAB_FILES / "sound.xlsx")
    row = table.head()[2]
    cell = row.cell(1)
    place = (cell.file, cell.sheet, cell.row, cell.column)
    assert place == ("sound.xlsx", "Results", 3, 2)
    assert cell.printed == "26K-0042-Z"
    assert row.cell(99).value == ""


def test_that_rows_are_counted_as_a_spreadsheet_shows_them():
    rows = open_lab_file(LAB_FILES / "lines_before.csv").head()
    assert [row.number for row in rows] == [1, 2, 3, 4, 5, 6, 7, 8]
    assert rows[2].is_blank
    assert rows[4].cell(0).printed == "Bottle"


def test_that_stored_numbers_and_days_print_in_their_shortest_form():
    row = open_lab_file(LAB_FILES / "sound.xlsx").head()[2]
    assert row.printed[3:9] == ("1", "2026-05-03", "2026-05-06", "14", "8120", "12")


@pytest.mark.parametrize(
    ("name", "encoding"),
    [
        ("sound.csv", None),
        ("sound_utf8.csv", "utf-8"),
        ("sound_utf8_mark.csv", "utf-8-sig"),
        ("sound_utf16.csv", "utf-16"),
        ("sound_utf16_no_mark.csv", "utf-16-le"),
    ],
)
def test_that_the_encoding_is_told_by_the_bytes_or_left_to_the_layout(name, encoding):
    assert open_lab_file(LAB_FILES / name).encoding == encoding


def test_that_big_endian_text_without_a_mark_is_read(tmp_path):
    path = tmp_path / "big.csv"
    path.write_bytes("Bottle;Fe\n26K-0042-Z;12\n".encode("utf-16-be"))
    assert open_lab_file(path).head()[1].printed == ("26K-0042-Z", "12")


def test_that_a_letter_cut_by_a_piece_of_reading_does_not_break_utf8(tmp_path):
    path = tmp_path / "long.csv"
    path.write_bytes(b"a" * ((1 << 20) - 1) + "é;1\n".encode())
    assert open_lab_file(path).encoding == "utf-8"


def test_that_utf8_cut_off_at_the_end_of_the_file_is_not_utf8(tmp_path):
    path = tmp_path / "cut.csv"
    path.write_bytes(b"Fe;1\n" + "é".encode()[:1])
    assert open_lab_file(path).encoding is None


def test_that_the_code_page_of_the_layout_is_used():
    table = open_lab_file(LAB_FILES / "sound.csv")
    assert "Visc 40 °C" in table.head()[0].printed
    assert "Visc 40 °C" not in table.head(FileHints(code_page="cp437"))[0].printed


@given(
    delimiter=st.sampled_from([",", ";", "\t", "|"]),
    rows=st.lists(st.lists(st.integers(0, 500), min_size=3, max_size=3), min_size=2, max_size=20),
)
def test_that_the_sign_between_columns_is_found(delimiter, rows):
    text = "".join(delimiter.join(map(str, row)) + "\n" for row in [["Bottle", "Fe", "Cu"], *rows])
    assert best_delimiter(text) == delimiter


def test_that_decimal_commas_do_not_pass_for_columns():
    text = "Bottle;Fe;Water\nA;12,4;0,05\nB;1,1;0,10\n"
    assert best_delimiter(text) == ";"


def test_that_a_text_without_any_sign_or_with_a_broken_quote_has_a_delimiter_all_the_same():
    assert best_delimiter("") == ","
    assert best_delimiter("Fe;Cu\n1;2\n3;" + '"x' * 70_000) == ";"


def packed(path, parts: dict[str, bytes]):
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return path


def test_that_a_workbook_that_unpacks_without_end_is_refused(tmp_path):
    bomb = packed(
        tmp_path / "bomb.xlsx",
        {"xl/workbook.xml": b"<workbook/>", "xl/worksheets/sheet1.xml": b" " * 30_000_000},
    )
    assert bomb.stat().st_size < 100_000
    with pytest.raises(LabFileError, match=r"unpacks to more than .* save the sheet as CSV"):
        open_lab_file(bomb)


@pytest.mark.slow
def test_that_a_workbook_of_more_than_200_mb_is_refused_whatever_its_ratio(tmp_path):
    # A third of the bytes do not shrink, so that the ratio stays far below 100 to 1.
    noise = bytes(range(256)) * 4096
    path = tmp_path / "large.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_STORED) as archive:
        archive.writestr("xl/workbook.xml", "<workbook/>")
        with archive.open("xl/worksheets/sheet1.xml", "w") as part:
            for _ in range(201):
                part.write(noise)
    with pytest.raises(LabFileError, match="unpacks to more than 200 MB"):
        open_lab_file(path)


def test_that_sizes_are_counted_and_not_believed(tmp_path):
    path = packed(
        tmp_path / "liar.xlsx",
        {"xl/workbook.xml": b"<workbook/>", "xl/worksheets/sheet1.xml": b" " * 1_000_000},
    )
    # Both places that state the unpacked size are made to say 10 bytes.
    true_size, said = (1_000_000).to_bytes(4, "little"), (10).to_bytes(4, "little")
    path.write_bytes(path.read_bytes().replace(true_size, said))
    with pytest.raises(LabFileError):
        open_lab_file(path)


def test_that_a_workbook_of_too_many_parts_is_refused(tmp_path):
    parts = {f"part{number}": b"" for number in range(MOST_PARTS)}
    path = packed(tmp_path / "parts.xlsx", {"xl/workbook.xml": b"<workbook/>", **parts})
    with pytest.raises(LabFileError, match="2001 parts"):
        open_lab_file(path)


def test_that_a_locked_part_is_refused(tmp_path):
    path = packed(tmp_path / "locked.xlsx", {"xl/workbook.xml": b"<workbook/>"})
    content = bytearray(path.read_bytes())
    content[6] |= 1
    content[content.index(b"PK\x01\x02") + 8] |= 1
    path.write_bytes(bytes(content))
    with pytest.raises(LabFileError, match="is locked"):
        open_lab_file(path)


def test_that_an_archive_that_only_looks_like_a_workbook_is_refused(tmp_path):
    path = packed(tmp_path / "hollow.xlsx", {"xl/workbook.xml": b"nothing"})
    with pytest.raises(LabFileError, match="cannot be read as a spreadsheet"):
        open_lab_file(path).head()


def test_that_a_sheet_can_be_named_and_must_be_there():
    table = open_lab_file(LAB_FILES / "sound.xlsx")
    assert table.head(FileHints(sheet="Cover")) == []
    with pytest.raises(LabFileError, match='no sheet "Data"; it has Cover, Results'):
        table.head(FileHints(sheet="Data"))


def test_that_a_workbook_without_any_cell_has_no_rows(tmp_path):
    import xlsxwriter

    path = tmp_path / "nothing.xlsx"
    with xlsxwriter.Workbook(path) as workbook:
        workbook.add_worksheet("Results")
    assert open_lab_file(path).head() == []


def test_that_a_file_the_disk_will_not_give_is_told(tmp_path, monkeypatch):
    path = tmp_path / "locked.csv"
    path.write_text("Bottle;Fe\n", encoding="utf-8")

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(type(path), "open", refuse)
    with pytest.raises(LabFileError, match="Permission denied"):
        open_lab_file(path)


def test_that_a_day_with_an_hour_prints_both(tmp_path):
    import xlsxwriter

    path = tmp_path / "hour.xlsx"
    with xlsxwriter.Workbook(path) as workbook:
        form = workbook.add_format({"num_format": "yyyy-mm-dd hh:mm"})
        workbook.add_worksheet().write_datetime(0, 0, date_with_hour(), form)
    assert open_lab_file(path).head()[0].printed == ("2026-05-03 14:30:00",)


def date_with_hour():
    from datetime import datetime, time

    return datetime.combine(date(2026, 5, 3), time(14, 30))
