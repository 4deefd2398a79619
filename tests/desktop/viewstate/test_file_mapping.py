from pathlib import Path

import pytest

from fluiddesk.desktop.viewstate.file_mapping import (
    MappingState,
    Offer,
    name_for,
    suggestion_words,
)
from fluiddesk.services.lab_intake.mapping import guess_file
from tests.desktop.makers_fleet import workplace

WIDE = """Bottle code;Report no;Iron (mg/kg);Copper ppm;Order
26K-01032-8;A-1;20,5;3;x
26K-01033-6;A-2;21,5;4;y
"""
LONG = """Bottle code\tAnalyte\tValue\tUnit
26K-01032-8\tIron\t20\tmg/kg
26K-01032-8\tCopper\t3\tmg/kg
26K-01032-8\tSilicon\t<5\tmg/kg
"""


def state_of(folder: Path, text: str) -> MappingState:
    path = folder / "some file.csv"
    path.write_text(text, encoding="utf-8")
    return MappingState(guess_file(workplace(), path))


def row_of(state: MappingState, title: str) -> int:
    return next(at for at, row in enumerate(state.rows) if row.title == title)


def test_that_sure_suggestions_are_taken_and_the_rest_is_not_used(tmp_path: Path) -> None:
    state = state_of(tmp_path, WIDE)
    assert state.carries(row_of(state, "Bottle code")) == "Bottle code"
    iron = row_of(state, "Iron (mg/kg)")
    assert (state.carries(iron), state.column(iron).unit) == ("Iron", "mg/kg")
    assert state.sure(iron).endswith(" %")
    assert state.examples(iron) == "20,5, 21,5"
    order = row_of(state, "Order")
    assert (state.carries(order), state.sure(order)) == ("not used", "")
    assert state.sentence == "one sample a row, 2 results recognised, 1 column not used."


def test_that_a_person_overrules_a_suggestion(tmp_path: Path) -> None:
    state = state_of(tmp_path, WIDE)
    order, iron = row_of(state, "Order"), row_of(state, "Iron (mg/kg)")
    state.choose_offer(order, Offer(kind="role", code="remark", words="Remark"))
    assert (state.carries(order), state.sure(order)) == ("Remark", "chosen")
    state.choose_offer(iron, Offer(kind="ignored", code="", words="not used"))
    assert state.column(iron).kind == "ignored"
    state.choose(iron, state.guess(iron).suggestions[0])
    assert state.column(iron).code == "iron"
    state.choose_offer(order, Offer(kind="result", code="silicon", words="Silicon"))
    assert state.column(order).unit == "mg/kg"
    state.set_unit(order, " % ")
    assert state.column(order).unit == "%"


def test_that_choices_stay_when_the_file_is_read_otherwise(tmp_path: Path) -> None:
    before = state_of(tmp_path, WIDE)
    before.choose_offer(row_of(before, "Order"), Offer(kind="role", code="remark", words="Remark"))
    after = state_of(tmp_path, WIDE)
    after.take_over(before)
    assert after.carries(row_of(after, "Order")) == "Remark"


def test_that_a_list_of_values_shows_its_names_under_a_heading(tmp_path: Path) -> None:
    state = state_of(tmp_path, LONG)
    assert [row.title for row in state.rows if row.guess is None] == [
        "Columns",
        "Names of the values",
    ]
    assert state.carries(row_of(state, "Analyte")) == "Name of the value"
    assert state.carries(row_of(state, "Iron")) == "Iron"
    assert state.sentence.startswith("one value a row, 3 results recognised")
    assert any(offer.kind == "long" for offer in state.offers())


def test_that_days_of_a_column_chosen_by_hand_find_their_form(tmp_path: Path) -> None:
    state = state_of(tmp_path, WIDE.replace(";x", ";31.05.2026").replace(";y", ";01.06.2026"))
    assert state.date_forms == ()
    order = row_of(state, "Order")
    state.choose_offer(order, Offer(kind="role", code="sampled_on", words="Sampled on"))
    assert state.date_forms == ("%d.%m.%Y",)


def test_that_the_units_offered_are_those_the_analyte_can_be_in(tmp_path: Path) -> None:
    state = state_of(tmp_path, WIDE)
    offered = state.units(row_of(state, "Iron (mg/kg)"))
    assert {"mg/kg", "% mass", "mg/L"} <= set(offered)
    assert "mm2/s" not in offered
    assert state.units(row_of(state, "Bottle code")) == ()


@pytest.mark.parametrize(("unit", "density"), [("mg/L", 0.87), ("g/L", 0.87), ("1/mL", None)])
def test_that_a_mass_in_a_volume_asks_for_the_density(
    tmp_path: Path, unit: str, density: float | None
) -> None:
    state = state_of(tmp_path, WIDE)
    iron = row_of(state, "Iron (mg/kg)")
    state.set_unit(iron, unit)
    assert state.needs_density is (density is not None)
    state.set_density(0.87)
    assert state.column(iron).density_kg_l == density


def test_that_a_suggestion_says_what_it_is_and_how_sure(tmp_path: Path) -> None:
    state = state_of(tmp_path, WIDE)
    iron = row_of(state, "Iron (mg/kg)")
    words = suggestion_words(state.found, state.guess(iron).suggestions[0])
    assert words.startswith("Iron, mg/kg  ")
    assert words.endswith(" %")


@pytest.mark.parametrize(
    ("file", "name"), [("2026-06.csv", "laboratory"), ("North Works 12.xlsx", "north_works")]
)
def test_that_a_layout_is_named_after_its_file(file: str, name: str) -> None:
    assert name_for(Path(file)) == name
