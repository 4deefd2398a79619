"""What columns seem to carry: by their headings, by what stands below, and how sure that is."""

from pathlib import Path

import pytest

from fluiddesk.domain.identity import bottle_code
from fluiddesk.intake.guessing import guess_mapping, plain_heading
from fluiddesk.intake.looking import look_at
from fluiddesk.intake.problems import LabFileError
from fluiddesk.intake.suggestions import CHOSEN_FROM, MappingGuess
from fluiddesk.services.lab_intake.mapping import heading_words
from tests.intake.bench import analytes

CODES = [bottle_code(f"26T{at:05}") for at in range(1, 6)]


def guessed(folder: Path, *lines: str) -> MappingGuess:
    path = folder / "file.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    return guess_mapping(look_at(path), analytes=analytes(), words=heading_words())


def carries(guess: MappingGuess) -> list[str]:
    return [one.chosen.code if one.chosen else "" for one in guess.columns]


def column(folder: Path, heading: str, *cells: str):
    """The guess for one column beside a column of bottles."""
    lines = [f"{code}\t{cell}" for code, cell in zip(CODES, cells, strict=False)]
    return guessed(folder, f"Bottle\t{heading}", *lines).columns[1]


@pytest.mark.parametrize(
    ("heading", "cell", "code", "unit"),
    [
        ("Fe", "12", "iron", "mg/kg"),
        ("Iron (ppm)", "12", "iron", "mg/kg"),
        ("Iron, ppm", "12", "iron", "mg/kg"),
        ("IRON content [mg/kg]", "12", "iron", "mg/kg"),
        ("Visc100 mm2/s", "14.4", "viscosity_100c", "mm2/s"),
        ("Viscosity 40 °C (cSt)", "108", "viscosity_40c", "mm2/s"),
        ("Particles 4 µm", "1200", "particles_4um", "1/mL"),
        ("Water %", "0.05", "water", "% mass"),
    ],
)
def test_that_a_usual_heading_is_known_with_its_unit(tmp_path, heading, cell, code, unit):
    chosen = column(tmp_path, heading, cell).chosen
    assert chosen is not None
    assert (chosen.code, chosen.unit) == (code, unit)


def test_that_a_likeness_of_spelling_is_offered_and_never_chosen(tmp_path):
    found = column(tmp_path, "Alumnium", "3")
    assert found.chosen is None
    assert found.suggestions[0].code == "aluminium"
    assert found.suggestions[0].score < CHOSEN_FROM


def test_that_a_heading_nobody_knows_gets_no_suggestion(tmp_path):
    assert column(tmp_path, "Smell", "fishy").suggestions == ()


def test_that_values_an_analyte_cannot_have_speak_against_it(tmp_path):
    found = column(tmp_path, "pH", "740", "880", "910")
    assert found.chosen is None
    assert all("only 0 % of the values" in one.why for one in found.suggestions)


def test_that_words_under_a_number_speak_against_it(tmp_path):
    assert column(tmp_path, "Iron", "high", "low").chosen is None


def test_that_a_unit_of_another_kind_is_told(tmp_path):
    found = column(tmp_path, "Iron (mm2/s)", "12")
    assert found.chosen is None
    assert "mm2/s is no unit of Iron" in found.suggestions[0].why


def test_that_a_unit_nobody_knows_is_told(tmp_path):
    guess = guessed(tmp_path, "Bottle;Iron;Copper;Tin", ";mg/kg;furlong;ppm", f"{CODES[0]};12;3;1")
    assert "furlong" in guess.columns[2].suggestions[0].why


def test_that_bottle_codes_are_known_by_their_check_character(tmp_path):
    guess = guessed(tmp_path, "Ident,Iron", *(f"{code},12" for code in CODES))
    assert carries(guess)[0] == "bottle"
    assert "check character" in guess.columns[0].suggestions[0].why


def test_that_a_column_of_bottles_without_our_codes_says_so(tmp_path):
    guess = guessed(tmp_path, "Bottle,Iron", "17,12", "18,13")
    assert "no cell is a code of ours" in guess.columns[0].suggestions[0].why


def test_that_a_date_heading_over_no_dates_is_not_chosen(tmp_path):
    found = column(tmp_path, "Date sampled", "soon", "later")
    assert found.chosen is None


def test_that_each_thing_stands_in_one_column(tmp_path):
    guess = guessed(tmp_path, "Bottle,Iron,Fe (ppm),Iron [mg/kg]", f"{CODES[0]},12,12,12")
    assert carries(guess) == ["bottle", "", "iron", ""]
    assert guess.columns[1].suggestions[0].code == "iron"


def test_that_contamination_codes_are_known_by_their_form(tmp_path):
    chosen = column(tmp_path, "Cleanliness", "20/18/15", ">21/19/16").chosen
    assert chosen is not None
    assert chosen.analytes == ("iso4406_4um", "iso4406_6um", "iso4406_14um")


def test_that_words_of_presence_choose_the_test_and_numbers_do_not(tmp_path):
    assert column(tmp_path, "Glycol test", "neg", "pos").chosen is not None
    assert column(tmp_path, "Glycol test", "12", "13").chosen is None


def test_that_a_column_of_names_without_known_names_makes_no_long_form(tmp_path):
    guess = guessed(
        tmp_path, "Bottle,Parameter,Result", f"{CODES[0]},Smell,3", f"{CODES[1]},Taste,4"
    )
    assert not guess.is_long_form


def test_that_a_file_without_headings_is_refused_with_what_to_choose(tmp_path):
    path = tmp_path / "numbers.csv"
    path.write_text("1,2,3\n4,5,6\n", encoding="utf-8")
    with pytest.raises(LabFileError, match="no row looks like headings"):
        look_at(path)


def test_that_thousands_are_found_with_their_mark(tmp_path):
    path = tmp_path / "thousands.csv"
    path.write_text("Bottle;Calcium;Iron\nA;1.234,5;12,5\n", encoding="utf-8")
    look = look_at(path)
    assert (look.decimal_mark, look.thousands_mark) == (",", ".")


def test_that_headings_are_compared_without_what_laboratories_vary():
    assert plain_heading("Particles 4 µm") == plain_heading("PARTICLES_4 um")
    assert plain_heading("Visc100") == "visc 100"
