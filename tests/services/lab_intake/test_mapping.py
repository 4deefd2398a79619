"""Files no layout knows: looked at, mapped by a person's yes, saved, and read like any other."""

import csv
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from fluiddesk.domain.errors import OperatorError, UsageError
from fluiddesk.domain.severity import Severity
from fluiddesk.intake.layout_files import layout_from_text, layout_to_text
from fluiddesk.intake.looking import ReadingChoices, look_at
from fluiddesk.services.lab_intake.layout_titles import layout_titles
from fluiddesk.services.lab_intake.mapping import (
    MappedColumn,
    guess_file,
    layout_of,
    mapped_as_suggested,
    retire_layout,
    save_layout,
)
from fluiddesk.services.lab_intake.preview import layouts, preview_lab_file
from fluiddesk.services.lab_intake.take_in import take_in
from tests.fleets import LAST_DAY, NOW, Fleet


@pytest.fixture
def code(fleet: Fleet) -> str:
    return fleet.draw(fleet.boxes("engine", Severity.NORMAL)[0], 1)


def saved(fleet: Fleet, file: Path, name: str, **more) -> str:
    """Say yes to every sure suggestion and save the layout."""
    found = guess_file(fleet.place, file, more.pop("choices", None))
    mapped = mapped_as_suggested(found.guess, density_kg_l=more.pop("density_kg_l", None))
    layout = layout_of(found, mapped, name=name, laboratory="lab_north", **more)
    return save_layout(fleet.place, layout, title="North", moment=NOW)


def taken(fleet: Fleet, file: Path, name: str, code: str) -> dict[str, tuple[float | None, str]]:
    """Take a file in by a layout; the canonical and printed values of the bottle's sample."""
    preview = preview_lab_file(fleet.place, file, layout_name=name, today=LAST_DAY)
    result = take_in(fleet.place, preview, moment=NOW, today=LAST_DAY)
    assert result.taken_in == 1, [one.line for one in preview.problems]
    box = fleet.boxes("engine", Severity.NORMAL)[0].compartment_id
    with fleet.place.store.reading() as desk:
        compartment = desk.sampling.by_bottle([code])[code].compartment
        readings = desk.results.readings_of(compartment)
        sample = desk.sampling.by_bottle([code])[code].id
    assert box or compartment
    return {one.analyte: (one.value, one.printed) for one in readings if one.sample == sample}


def wide(folder: Path, code: str) -> Path:
    """Lines above the headings, a row of units, semicolons and decimal commas, Latin letters."""
    lines = [
        "Invented laboratory;;;;;;",
        "Report of the week;;;;;;",
        "",
        "Sample code;Certificate no;Date sampled;Iron;Water;Visc 100;Glycol test;Smell",
        ";;;mg/kg;%;cSt;;",
        f"{code};N-1;28.06.2026;112,5;0,05;14,40;neg;s\xfc\xdf",
    ]
    path = folder / "wide.csv"
    path.write_bytes("\r\n".join(lines).encode("cp1252"))
    return path


def long(folder: Path, code: str) -> Path:
    """One value in a row, the values of a sample apart from each other, signs in a column."""
    path = folder / "long.csv"
    with path.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.writer(stream)
        writer.writerow(
            ["Sample code", "Lab no", "Date sampled", "Parameter", "Qualifier", "Result", "Units"]
        )
        for name, sign, value, unit in (
            ("Iron", "", "112", "ppm"),
            ("Copper", "<", "1", "mg/kg"),
            ("Gold", "", "3", "mg/kg"),
            ("Water", "", "0.05", "wt %"),
        ):
            writer.writerow([code, "N-1", "2026-06-28", name, sign, value, unit])
    return path


def sheets(folder: Path, code: str) -> Path:
    """A workbook whose results stand on its second sheet."""
    import xlsxwriter

    path = folder / "sheets.xlsx"
    with xlsxwriter.Workbook(str(path)) as book:
        cover = book.add_worksheet("Cover")
        cover.write(0, 0, "Invented laboratory")
        cover.write(1, 0, "Two sheets, see the second")
        sheet = book.add_worksheet("Data")
        heads = ["Label", "Report number", "Fe (ppm)", "Cu (ppm)", "ISO 4406", "Ferrous index"]
        sheet.write_row(0, 0, heads)
        sheet.write_row(1, 0, [code, "N-1", 112, "<1", "20/18/15", 14])
    return path


# --- three unlike shapes -------------------------------------------------------------------------


def test_that_a_wide_file_is_mapped_and_read(fleet: Fleet, tmp_path: Path, code: str):
    file = wide(tmp_path, code)
    look = look_at(file)
    assert (look.encoding, look.delimiter, look.decimal_mark) == ("cp1252", ";", ",")
    assert look.header.number == 4
    assert look.units is not None
    got = taken(fleet, file, saved(fleet, file, "north"), code)
    assert got["iron"] == (112.5, "112,5")
    assert got["water"] == (pytest.approx(500.0), "0,05")
    assert got["viscosity_100c"] == (14.4, "14,40")
    assert got["glycol_test"] == (0.0, "neg")


def test_that_a_file_with_one_value_in_a_row_is_mapped_and_read(
    fleet: Fleet, tmp_path: Path, code: str
):
    file = long(tmp_path, code)
    found = guess_file(fleet.place, file)
    assert found.guess.is_long_form
    assert [one.chosen is not None for one in found.guess.names] == [True, True, False, True]
    got = taken(fleet, file, saved(fleet, file, "north"), code)
    assert got["iron"] == (112.0, "112")
    assert got["copper"] == (1.0, "<1")
    assert got["water"] == (pytest.approx(500.0), "0.05")


def test_that_a_sheet_of_a_workbook_is_mapped_and_read(fleet: Fleet, tmp_path: Path, code: str):
    file = sheets(tmp_path, code)
    choices = ReadingChoices(sheet="Data")
    assert look_at(file, choices).sheets == ("Cover", "Data")
    got = taken(fleet, file, saved(fleet, file, "north", choices=choices), code)
    assert got["iron"] == (112.0, "112")
    assert got["copper"] == (1.0, "<1")
    assert (got["iso4406_4um"][0], got["iso4406_14um"][0]) == (20.0, 15.0)
    assert got["ferrous_index"][0] == 14.0


# --- what a person decides -----------------------------------------------------------------------


def test_that_a_saved_layout_is_offered_and_chosen_by_itself(
    fleet: Fleet, tmp_path: Path, code: str
):
    file = wide(tmp_path, code)
    saved(fleet, file, "north")
    assert "north" in layout_titles(fleet.place)
    assert preview_lab_file(fleet.place, file, today=LAST_DAY).layout == "north"
    retire_layout(fleet.place, "north", moment=NOW)
    assert "north" not in {one.name for one in layouts(fleet.place)}
    with pytest.raises(UsageError, match='No layout "north"'):
        retire_layout(fleet.place, "north", moment=NOW)


def test_that_a_layout_saved_again_takes_the_place_of_the_first(
    fleet: Fleet, tmp_path: Path, code: str
):
    file = wide(tmp_path, code)
    saved(fleet, file, "north")
    found = guess_file(fleet.place, file)
    mapped = [
        replace(one, kind="ignored") if one.heading == "Iron" else one
        for one in mapped_as_suggested(found.guess)
    ]
    layout = layout_of(found, mapped, name="north", laboratory="lab_north")
    save_layout(fleet.place, layout, moment=NOW)
    [north] = [one for one in layouts(fleet.place) if one.name == "north"]
    assert not any("iron" in column.analytes for column in north.results)


def test_that_the_programs_own_layouts_are_not_written_over(
    fleet: Fleet, tmp_path: Path, code: str
):
    with pytest.raises(UsageError, match="came with the program"):
        saved(fleet, wide(tmp_path, code), "lab_a")


def test_that_a_layout_needs_whose_and_what(fleet: Fleet, tmp_path: Path, code: str):
    found = guess_file(fleet.place, wide(tmp_path, code))
    iron = MappedColumn(
        heading="Iron", kind="result", code="iron", unit="mg/kg", analytes=("iron",)
    )
    bottle = MappedColumn(heading="Sample code", kind="role", code="bottle")
    with pytest.raises(UsageError, match="whose sample"):
        layout_of(found, [iron], name="north", laboratory="lab_north")
    with pytest.raises(UsageError, match="No column holds results"):
        layout_of(found, [bottle], name="north", laboratory="lab_north")
    with pytest.raises(UsageError, match="cannot name a layout"):
        layout_of(found, [bottle, iron], name="North!", laboratory="lab_north")
    wrong = [
        replace(one, unit="mg KOH/g") if one.heading == "Iron" else one
        for one in mapped_as_suggested(found.guess)
    ]
    with pytest.raises(OperatorError, match="acid or base number"):
        layout_of(found, wrong, name="north", laboratory="lab_north")


def test_that_every_bundled_layout_is_written_and_read_back_the_same():
    for layout in layouts():
        assert layout_from_text(layout_to_text(layout), origin="again") == layout


def test_that_what_the_rules_find_can_be_changed(tmp_path: Path, code: str):
    file = wide(tmp_path, code)
    assert look_at(file, ReadingChoices(decimal_mark=".")).decimal_mark == "."
    assert look_at(file, ReadingChoices(header_row=6)).header.number == 6
    assert look_at(file, ReadingChoices(code_page="latin-1")).encoding == "latin-1"
    for wrong, told in (
        (ReadingChoices(header_row=99), "no row 99"),
        (ReadingChoices(code_page="klingon"), "not a code page"),
        (ReadingChoices(decimal_mark=";"), "decimal mark cannot be"),
        (ReadingChoices(code_page="utf-8"), "Choose another code page"),
    ):
        with pytest.raises(OperatorError, match=told):
            look_at(file, wrong)


def test_that_a_name_two_analytes_share_is_offered_and_not_chosen(
    fleet: Fleet, tmp_path: Path, code: str
):
    path = tmp_path / "shared.csv"
    path.write_text(f"Bottle,Report,Glycol\n{code},1,2\n", encoding="utf-8")
    guess = guess_file(fleet.place, path).guess
    glycol = guess.columns[2]
    assert glycol.chosen is None
    assert glycol.suggestions


def test_that_day_and_month_in_doubt_are_told(fleet: Fleet, tmp_path: Path, code: str):
    path = tmp_path / "days.csv"
    path.write_text(f"Bottle,Date sampled,Iron\n{code},03/04/2026,12\n", encoding="utf-8")
    notes = guess_file(fleet.place, path).guess.notes
    assert any("Day and month cannot be told apart" in note for note in notes)


def test_that_a_unit_by_volume_asks_for_the_density(fleet: Fleet, tmp_path: Path, code: str):
    path = tmp_path / "volume.csv"
    path.write_text(f"Bottle,Report,Sodium (mg/L)\n{code},1,87\n", encoding="utf-8")
    guess = guess_file(fleet.place, path).guess
    assert guess.columns[2].chosen is not None
    assert guess.columns[2].chosen.needs_density
    assert mapped_as_suggested(guess)[2].kind == "ignored"
    name = saved(fleet, path, "north", density_kg_l=0.87)
    got = taken(fleet, path, name, code)
    assert got["sodium"][0] == pytest.approx(100.0)


def test_that_a_value_twice_for_one_sample_is_told(fleet: Fleet, tmp_path: Path, code: str):
    file = long(tmp_path, code)
    with file.open("a", encoding="utf-8") as stream:
        stream.write(f"{code},N-1,2026-06-28,Iron,,113,ppm\n")
        stream.write(f"{code},N-1,2026-06-28,Lead,,1,pH\n")
    name = saved(fleet, file, "north")
    preview = preview_lab_file(fleet.place, file, layout_name=name, today=LAST_DAY)
    told = [one.text for one in preview.problems]
    assert any("stands in row 2 as well" in one for one in told)
    assert not any("Gold" in one for one in told), "a person said that it is not read"
    assert preview.to_take_in == 1


# --- a real laboratory's file nobody here made ---------------------------------------------------


def test_that_the_real_water_laboratory_is_mapped_and_read_as_past_results(
    fleet: Fleet, open_data: Path
):
    from fluiddesk.domain.samples import Sign
    from fluiddesk.intake.past_reading import read_past_file

    file = open_data / "usgs-inl-water-lab" / "samples_subset.csv"
    found = guess_file(fleet.place, file)
    assert found.guess.is_long_form
    carries = {one.heading: one.chosen.code for one in found.guess.columns if one.chosen}
    assert carries["parm_short_nm"] == "analyte"
    assert (carries["result_va"], carries["unit_cd"]) == ("value", "unit")
    assert (carries["remark_cd"], carries["sample_dt"]) == ("sign", "sampled_on")
    chosen = {one.heading: one.chosen.code for one in found.guess.names if one.chosen}
    assert chosen["Sodium, wf"] == "sodium"
    assert chosen["Aluminum, wf"] == "aluminium"
    assert "Arsenic, wf" not in chosen, "the catalogue has no arsenic: nothing is guessed"
    # The two whose units the laboratory words its own way are settled by a person.
    by_hand = {
        "Specific cond at 25C": ("conductivity", "uS/cm", "uS/cm @25C"),
        "pH": ("ph", "pH", "std units"),
    }
    mapped = [
        MappedColumn(
            heading=one.heading,
            kind="result",
            code=by_hand[one.heading][0],
            unit=by_hand[one.heading][1],
            printed_unit=by_hand[one.heading][2],
            analytes=(by_hand[one.heading][0],),
        )
        if one.heading in by_hand
        else one
        for one in mapped_as_suggested(found.guess, density_kg_l=1.0)
    ]
    layout = layout_of(found, mapped, name="water", laboratory="water_lab")
    report = read_past_file(
        file,
        layouts=[layout],
        analytes=fleet.place.catalogue.analytes,
        today=date(2026, 1, 1),
        layout_name="water",
    )
    readings = [one for row in report.rows for one in row.sheet.readings.values()]
    below = [one for one in readings if one.sign is Sign.BELOW]
    assert len(report.rows) > 1_000
    assert len(readings) > 9_000
    # "<" keeps its reporting level; the file's README counts 3,811 of them over all analytes.
    assert len(below) > 2_000
    assert all(one.value and one.value > 0 for one in below)
    sodium = next(one for one in readings if one.analyte == "sodium")
    assert sodium.printed_unit == "mg/L"
    assert sodium.value == pytest.approx(float(sodium.printed))
    iron = next(one for one in readings if one.analyte == "iron" and one.sign is Sign.PLAIN)
    assert iron.value == pytest.approx(float(iron.printed) / 1000.0)
