"""The bundled layouts from headings to readings, on files as their laboratories write them."""

from datetime import date, datetime, time

import pytest

from fluiddesk.assets import resource
from fluiddesk.domain.samples import Sign
from fluiddesk.intake import rows
from fluiddesk.intake.layout_files import load_layouts
from tests.intake.bench import bottle, read

LAYOUTS = load_layouts(resource("lab_layouts"))

LAB_A = {
    "Bottle": ("", "26K-0042-Z"),
    "Report": ("", "A26-10431"),
    "Issue": ("", "2"),
    "Sampled": ("", "03.05.2026"),
    "Received": ("", "06.05.2026"),
    "Reported": ("", "07.05.2026"),
    "Unit No": ("", "14"),
    "Compartment": ("", "engine"),
    "Meter": ("h", "8120,5"),
    "Fe": ("mg/kg", "12"),
    "Cu": ("mg/kg", "<1"),
    "Visc 100 °C": ("mm2/s", "14,52"),
    "Water": ("%", "0,05"),
    "Glycol test": ("", "pos"),
    "Fuel": ("%", "< 0,5"),
    "Soot": ("%", "i.s."),
    "Oxidation": ("A/cm", "12,1"),
    "Ferrous index": ("", "18"),
    "Particles 4 µm": ("1/mL", ">15000"),
    "Remark": ("", "dark"),
}


def lab_a_file(folder):
    path = folder / "a.csv"
    columns = [LAB_A.keys(), *zip(*LAB_A.values(), strict=True)]
    path.write_bytes("".join(";".join(row) + "\r\n" for row in columns).encode("cp1252"))
    return path


def test_that_the_first_laboratory_is_recognised_and_read(tmp_path):
    report = read(lab_a_file(tmp_path), layouts=LAYOUTS)
    assert (report.layout, report.problems) == ("lab_a", [])
    (taken,) = report.accepted
    assert taken.row == 3
    sheet = taken.sheet
    assert (sheet.report_number, sheet.issue, sheet.meter_printed) == ("A26-10431", 2, 8120.5)
    assert (sheet.received_on, sheet.issued_on) == (date(2026, 5, 6), date(2026, 5, 7))
    found = {code: (reading.sign, reading.value) for code, reading in sheet.readings.items()}
    assert found == {
        "iron": (Sign.PLAIN, 12),
        "copper": (Sign.BELOW, 1),
        "viscosity_100c": (Sign.PLAIN, 14.52),
        "water": (Sign.PLAIN, 500),
        "glycol_test": (Sign.PRESENT, 1),
        "fuel": (Sign.BELOW, 0.5),
        "soot": (Sign.NOT_ENOUGH, None),
        "oxidation": (Sign.PLAIN, 12.1),
        "ferrous_index": (Sign.PLAIN, 18),
        "particles_4um": (Sign.ABOVE, 15_000),
    }


LAB_B = {
    "Bottle code": "26K-0042-Z",
    "Report no": "B-77120",
    "Issue": 1,
    "Replaces": "",
    "Date sampled": date(2026, 5, 3),
    "Date received": date(2026, 5, 6),
    "Date issued": date(2026, 5, 8),
    "Machine": 14,
    "Compartment": "cooling system",
    "Meter (h)": 8120,
    "Iron mg/kg": 4,
    "Copper mg/kg": "<1",
    "Ferrous index": 18,
    "ISO 4406": "20/18/15",
    "Glycol vol %": 48.5,
    "Freeze point C": -36,
    "pH": 8.4,
    "Reserve alkalinity mL": 5.2,
    "Conductivity uS/cm": "n/a",
    "Remarks": "",
}


def lab_b_file(folder):
    import xlsxwriter

    path = folder / "b.xlsx"
    with xlsxwriter.Workbook(path) as workbook:
        sheet = workbook.add_worksheet("Results")
        form = workbook.add_format({"num_format": "yyyy-mm-dd"})
        for column, (name, value) in enumerate(LAB_B.items()):
            sheet.write_string(0, column, name)
            if isinstance(value, date):
                sheet.write_datetime(1, column, datetime.combine(value, time()), form)
            else:
                sheet.write(1, column, value)
    return path


def test_that_the_second_laboratory_is_recognised_and_read(tmp_path):
    report = read(lab_b_file(tmp_path), layouts=LAYOUTS)
    assert (report.layout, report.problems) == ("lab_b", [])
    (taken,) = report.accepted
    sheet = taken.sheet
    assert (taken.row, sheet.report_number, sheet.issue) == (2, "B-77120", 1)
    assert (sheet.sampled_on_printed, sheet.issued_on) == (date(2026, 5, 3), date(2026, 5, 8))
    found = {code: (reading.sign, reading.value) for code, reading in sheet.readings.items()}
    assert found == {
        "iron": (Sign.PLAIN, 4),
        "copper": (Sign.BELOW, 1),
        "ferrous_index": (Sign.PLAIN, 18),
        "iso4406_4um": (Sign.PLAIN, 20),
        "iso4406_6um": (Sign.PLAIN, 18),
        "iso4406_14um": (Sign.PLAIN, 15),
        "coolant_glycol": (Sign.PLAIN, 48.5),
        "freeze_point": (Sign.PLAIN, -36),
        "ph": (Sign.PLAIN, 8.4),
        "reserve_alkalinity": (Sign.PLAIN, 5.2),
        "conductivity": (Sign.NOT_TESTED, None),
    }


def test_that_our_own_layout_is_read_without_report_or_issue(tmp_path):
    path = tmp_path / "own.csv"
    path.write_text("bottle,iron [mg/kg],water [% mass]\n26K-0042-Z,12,0.05\n", encoding="utf-8")
    (taken,) = read(path, layouts=LAYOUTS).accepted
    assert (taken.sheet.report_number, taken.sheet.issue) == ("26K-0042-Z", 1)
    assert taken.sheet.readings["water"].value == 500
    assert taken.is_revision is False


@pytest.mark.parametrize("issue", [1, 2])
def test_that_taking_in_a_known_sheet_of_any_issue_again_changes_nothing(tmp_path, issue):
    path = lab_a_file(tmp_path)
    path.write_bytes(path.read_bytes().replace(b"A26-10431;2;", b"A26-10431;%d;" % issue))
    (first,) = read(path, layouts=LAYOUTS).accepted
    known = bottle(
        "26K-0042-Z",
        newest_issue=issue,
        newest_report="A26-10431",
        newest_readings=first.sheet.readings,
    )
    again = read(path, known, layouts=LAYOUTS)
    assert (again.accepted, again.held, len(again.unchanged)) == ([], [], 1)


def test_that_sheets_do_not_depend_on_how_many_texts_are_remembered(tmp_path, monkeypatch):
    text = "bottle,iron [mg/kg]\n26K-0042-Z,12\n26K-0043-X,13\n26K-0044-V,12\n26K-0045-T,x\n"
    path = tmp_path / "own.csv"
    path.write_text(text, encoding="utf-8")
    remembered = read(path, layouts=LAYOUTS)
    monkeypatch.setattr(rows, "_KNOWN_TEXTS", 0)
    forgotten = read(path, layouts=LAYOUTS)
    assert forgotten == remembered
    assert [sheet.sheet.readings["iron"].value for sheet in forgotten.accepted] == [12, 13, 12]
