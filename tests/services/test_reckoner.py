"""The reckoner: published examples through typed text, units, and figures that cannot be."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.errors import OperatorError, UsageError
from fluiddesk.services.reckoner.facts import Answer, Field, MissingFigureError, Reckoning, Status
from fluiddesk.services.reckoner.reckonings import RECKONINGS, reckon, reckoning_named
from fluiddesk.services.reckoner.typed import TypedError, TypedFields, told


def values(answer: Answer) -> dict[str, object]:
    return {value.name: value.number for value in answer.values}


def example(name: str, **changed: str) -> dict[str, str]:
    return {**reckoning_named(name).example(), **changed}


def test_that_there_are_the_eight_reckonings() -> None:
    assert [one.name for one in RECKONINGS] == [
        "code", "vi", "viscosity", "blend", "grade", "freeze", "rate", "hours",
    ]  # fmt: skip


@pytest.mark.parametrize("one", RECKONINGS, ids=lambda one: one.name)
def test_that_every_answer_names_its_method_source_and_status(one) -> None:
    answer = one.work(one.example())
    assert answer.method
    assert answer.source
    assert answer.status in Status
    assert answer.values
    text = answer.as_text()
    for part in (answer.headline, f"Method: {answer.method}", f"Source: {answer.source}"):
        assert part in text


@pytest.mark.parametrize("one", RECKONINGS, ids=lambda one: one.name)
def test_that_a_place_on_the_command_line_belongs_to_a_field(one) -> None:
    assert set(one.in_order) <= {field.name for field in one.fields}


@pytest.mark.parametrize("one", RECKONINGS, ids=lambda one: one.name)
def test_that_nothing_typed_asks_for_what_is_missing(one) -> None:
    with pytest.raises(MissingFigureError, match=r"is missing\. Give it, such as \S"):
        one.work({})


@pytest.mark.parametrize("one", RECKONINGS, ids=lambda one: one.name)
@given(text=st.text(max_size=12), place=st.integers(0, 20))
def test_that_whatever_is_typed_is_answered_or_refused_in_words(one, text, place) -> None:
    field = one.fields[place % len(one.fields)].name
    answer = _answer_or_refusal(one, {**one.example(), field: text})
    if isinstance(answer, OperatorError):
        assert str(answer)
    else:
        numbers = [value.number for value in answer.values if isinstance(value.number, float)]
        assert all(math.isfinite(number) for number in numbers)


def _answer_or_refusal(one: Reckoning, typed: dict[str, str]) -> Answer | OperatorError:
    try:
        return one.work(typed)
    except OperatorError as refusal:
        return refusal


def test_that_an_unknown_reckoning_and_an_unknown_field_are_refused() -> None:
    with pytest.raises(UsageError, match=r'no reckoning "mass"\. Choose one of: code, vi'):
        reckon("mass", {})
    with pytest.raises(UsageError, match=r'"vi" has no field "kv50"\. Give one of: kv40, kv100'):
        reckon("vi", {"kv50": "3"})


# --- typed text ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "found"),
    [("73.30", 92), (" 73.3 mm2/s ", 92), ("73.3 cSt", 92), ("0.0000733 m2/s", 92)],
)
def test_that_a_figure_may_carry_its_unit(text: str, found: int) -> None:
    assert values(reckon("vi", {"kv40": text, "kv100": "8.86"}))["index"] == found


def test_that_saybolt_seconds_are_converted_and_told() -> None:
    answer = reckon("vi", {"kv40": "214.2 SUS", "kv100": "6.8"})
    assert "Viscosity at 40 °C: 214.2 SUS = 46 mm2/s" in answer.steps
    assert any("100 °F" in caution for caution in answer.cautions)


def test_that_degrees_fahrenheit_are_converted() -> None:
    # 176 °F is 80 °C by definition.
    answer = reckon("viscosity", example("viscosity", temperature="176 F"))
    assert answer.headline == "8.533 mm2/s at 80 °C"


@pytest.mark.parametrize(
    ("text", "told_as"),
    [
        ("nan", '"nan" is no number'),
        ("inf", '"inf" is no number'),
        ("1e999", "is too large"),
        ("-3", "-3 mm2/s must be above 0 mm2/s"),
        ("0", "0 mm2/s must be above 0 mm2/s"),
        ("4,6", '"4,6" is no number'),
        ("1.2.3", '"1.2.3" is no number'),
        ("46 ppm", 'is in a unit it is not measured in. Write it in mm2/s, m2/s, SUS'),
        ("46 furlongs", "is in a unit it is not measured in"),
    ],
)  # fmt: skip
def test_that_a_figure_that_cannot_be_is_refused_with_its_field(text: str, told_as: str) -> None:
    with pytest.raises(TypedError) as refused:
        reckon("vi", {"kv40": text, "kv100": "8.86"})
    assert str(refused.value).startswith("Viscosity at 40 °C: ")
    assert told_as in str(refused.value)


def test_that_blanks_between_thousands_and_a_long_minus_are_read() -> None:
    assert reckon("code", {"count_4um": "1 300"}).headline == "17/-/-"
    point = {"point": "\u221236", "glycol": "ethylene", "basis": "mass"}
    assert reckon("freeze", point).headline == "50.0 %"


def test_that_a_unit_the_table_does_not_hold_is_read_when_it_is_the_fields_own() -> None:
    assert reckon("rate", example("rate", loss="0.08 L/h")) == reckon("rate", example("rate"))
    with pytest.raises(TypedError, match=r"Write it in L/h\."):
        reckon("rate", example("rate", loss="0.08 L/d"))


@pytest.mark.parametrize(
    ("number", "text"), [(math.inf, "without end"), (-math.inf, "none"), (0.0, "0")]
)
def test_that_every_number_has_words(number: float, text: str) -> None:
    assert told(number) == text


def test_that_a_figure_without_an_example_is_asked_for_all_the_same() -> None:
    typed = TypedFields((Field(name="a", label="Litres", is_needed=False),), {})
    with pytest.raises(MissingFigureError, match=r"Litres is missing\. Give it\.$"):
        typed.number("a")


# --- particles ----------------------------------------------------------------------------------


def test_that_counts_in_a_volume_are_a_code_with_its_ranges() -> None:
    # 300 000, 50 000 and 700 particles in 100 mL: the table of ISO 4406.
    typed = {"count_4um": "300000", "count_6um": "50000", "count_14um": "700", "volume": "100"}
    answer = reckon("code", typed)
    assert answer.headline == "19/16/10"
    assert values(answer)["range_4um"] == "more than 2500, up to 5000"
    assert answer.steps[0] == "300000 particles of 4 µm(c) and more in 100 mL = 3000 per mL"
    assert values(answer)["as4059"] == "9A 8B 4C"


def test_that_few_particles_are_marked_and_explained() -> None:
    typed = {"count_4um": "900", "count_6um": "30", "count_14um": "6", "volume": "1"}
    answer = reckon("code", typed)
    assert answer.headline == "17/12/≥10"
    assert any("fewer than 20" in caution for caution in answer.cautions)


def test_that_a_microscope_gives_two_numbers() -> None:
    answer = reckon("code", {"count_4um": "-", "count_6um": "2000", "count_14um": "63"})
    assert answer.headline == "-/18/13"
    assert any("5 and 15 µm" in caution for caution in answer.cautions)


def test_that_counts_per_100_ml_are_converted() -> None:
    assert reckon("code", {"count_4um": "130000 /100 mL"}).headline == "17/-/-"


def test_that_a_code_tells_its_counts() -> None:
    for typed in ({"count_4um": "18/16/13"}, {"code": "18/16/13"}):
        found = values(reckon("code", typed))
        assert found["range_14um"] == "more than 40, up to 80"
        assert "as4059" not in found


def test_that_above_the_table_is_said_and_marked_from_memory() -> None:
    answer = reckon("code", {"count_4um": "9000000"})
    assert answer.headline == ">28/-/-"
    assert values(answer)["range_4um"] == "more than 2500000"
    assert any("from memory" in caution for caution in answer.cautions)


@pytest.mark.parametrize(
    ("target", "worst", "words"),
    [("18/16/13", 1, "1 above the target"), ("20/18/15", -1, "meets"), ("19/17/14", 0, "meets")],
)
def test_that_a_code_is_held_against_its_target(target: str, worst: int, words: str) -> None:
    answer = reckon("code", example("code", target=target))
    assert values(answer)["steps_over_target"] == worst
    assert words in answer.sentence


@pytest.mark.parametrize(
    ("typed", "told_as"),
    [
        ({"count_4um": "80", "count_6um": "320"}, "320 is more than was counted at a smaller"),
        ({"count_4um": "-5"}, "must be at least 0"),
        ({"count_4um": "80", "code": "18/16/13"}, "Both counts and a code"),
        ({"count_4um": "80 /mL", "volume": "10"}, "with a unit and a volume"),
        ({"count_4um": "80", "volume": "0"}, "must be above 0 mL"),
        ({"code": "13/16/18"}, "never rise with size"),
    ],
)
def test_that_particles_that_cannot_be_are_refused(typed: dict[str, str], told_as: str) -> None:
    with pytest.raises(OperatorError, match=told_as):
        reckon("code", typed)


# --- viscosities --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kv40", "kv100", "index"), [("73.30", "8.86", 92), ("22.83", "5.05", 156)]
)
def test_that_the_index_is_that_of_the_standards_examples(kv40, kv100, index) -> None:
    # ASTM D2270, worked examples of clauses 5 and 6.
    assert values(reckon("vi", {"kv40": kv40, "kv100": kv100}))["index"] == index


@pytest.mark.parametrize(
    ("kv40", "kv100", "told_as"),
    [("8", "46", "look for swapped"), ("5", "1.5", "below 2, where the viscosity index")],
)
def test_that_an_index_that_is_not_defined_is_refused(kv40, kv100, told_as) -> None:
    with pytest.raises(OperatorError, match=told_as):
        reckon("vi", {"kv40": kv40, "kv100": kv100})


def test_that_a_temperature_beyond_the_known_ones_is_answered_with_a_caution() -> None:
    inside = reckon("viscosity", example("viscosity"))
    beyond = reckon("viscosity", example("viscosity", temperature="-10"))
    assert not inside.cautions
    assert any("pour point" in caution for caution in beyond.cautions)


def test_that_a_blend_takes_two_or_three_fluids_and_fills_up_the_rest() -> None:
    # 3 % of 2.6 mm2/s in 110 mm2/s: the double logarithm by hand.
    two = {"viscosity_1": "110", "viscosity_2": "2.6", "share_2": "3"}
    answer = reckon("blend", two)
    assert answer.headline == "90.87 mm2/s"
    assert "Share of fluid 1: the rest, 97 %" in answer.steps
    assert answer.status is Status.MEMORY
    three = {**two, "share_1": "50", "viscosity_3": "110"}
    assert reckon("blend", three).headline == "90.87 mm2/s"


def test_that_an_observed_viscosity_tells_the_share_of_the_thinner_fluid() -> None:
    typed = {"viscosity_1": "14.5", "viscosity_2": "1.15", "observed": "12.31"}
    swapped = {**typed, "viscosity_1": "1.15", "viscosity_2": "14.5"}
    share = values(reckon("blend", typed))["share_of_thinner"]
    assert share == pytest.approx(4.0, abs=0.05)
    assert values(reckon("blend", swapped))["share_of_thinner"] == share


@pytest.mark.parametrize(
    ("changed", "told_as"),
    [
        ({"share_1": "60", "share_2": "60"}, "add up to 120 %, not to 100 %"),
        ({"share_1": "60", "share_2": "60", "viscosity_3": "3"}, "add up to 120 %, more than"),
        ({"share_1": "", "share_2": ""}, "Share of fluid 1, by volume or Share of fluid 2"),
        ({"share_3": "3"}, "Viscosity of fluid 3 is missing"),
        ({"share_1": "101"}, "must be at most 100 %"),
        ({"observed": "50"}, "no share and no third fluid"),
    ],
)
def test_that_a_blend_that_cannot_be_is_refused(changed: dict[str, str], told_as: str) -> None:
    with pytest.raises(OperatorError, match=told_as):
        reckon("blend", example("blend", **changed))


def test_that_grades_are_told_with_their_cautions() -> None:
    found = reckon("grade", {"kv40": "38", "kv100": "7.0"})
    assert values(found) == {"iso": None, "sae_engine": "12 or 16 or 20", "sae_gear": "75"}
    assert any("do not touch" in caution for caution in found.cautions)
    assert any("overlap" in caution for caution in found.cautions)
    memory = reckon("grade", {"kv40": "2200"})
    assert any("from memory" in caution for caution in memory.cautions)
    thin = reckon("grade", {"kv100": "3"})
    assert thin.headline == "no SAE engine grade, no SAE gear grade"


@pytest.mark.parametrize(
    ("kv100", "word"), [("12.4", "too thin"), ("12.5", "fits"), ("16.3", "too thick")]
)
def test_that_a_reading_is_held_against_the_grade_it_should_have(kv100: str, word: str) -> None:
    # SAE J300: 15W-40 has 12.5 to below 16.3 mm2/s at 100 °C.
    found = reckon("grade", {"kv100": kv100, "grade": "15W-40"})
    assert str(values(found)["fits"]).startswith(word)


def test_that_a_grade_asked_for_needs_the_viscosity_it_is_defined_by() -> None:
    with pytest.raises(MissingFigureError, match="Viscosity at 100 °C is missing"):
        reckon("grade", {"kv40": "100", "grade": "15W-40"})
    with pytest.raises(OperatorError, match="no grade of SAE J300"):
        reckon("grade", {"kv100": "14", "grade": "17W-43"})


# --- coolants -----------------------------------------------------------------------------------


def test_that_a_share_by_mass_and_by_volume_are_different_curves() -> None:
    typed = {"share": "50", "glycol": "ethylene"}
    assert reckon("freeze", {**typed, "basis": "mass"}).headline == "-36.0 °C"
    by_volume = reckon("freeze", {**typed, "basis": "volume"})
    assert by_volume.headline == "-37.1 °C"
    assert values(by_volume)["pints"] == 4.0
    assert "ASHRAE" in by_volume.source


def test_that_a_second_table_stands_beside_the_curve_where_it_reaches() -> None:
    # Lange's Handbook, 15th edition, table 5.13: 50 % propylene glycol freezes at -33.3 °C.
    typed = {"glycol": "propylene", "basis": "volume"}
    assert values(reckon("freeze", {**typed, "share": "50"}))["handbook"] == -33.3
    assert "handbook" not in values(reckon("freeze", {**typed, "share": "60"}))


def test_that_a_freeze_point_tells_the_share_a_refractometer_leaves_open() -> None:
    found = values(reckon("freeze", {"point": "-36", "glycol": "ethylene", "basis": "volume"}))
    assert found == {"share": 49.2, "share_low": 48.8, "share_high": 49.6}


def test_that_a_weak_coolant_is_answered_with_cautions() -> None:
    weak = reckon("freeze", {"share": "25", "glycol": "ethylene", "basis": "volume"})
    assert any(caution.startswith("Below 30 %") for caution in weak.cautions)


@pytest.mark.parametrize(
    ("changed", "told_as"),
    [
        ({"share": "65"}, "protection gets worse, not better"),
        ({"share": "130"}, "must be at most 100 %"),
        ({"point": "-20"}, "Both a share and a freeze point"),
        ({"share": "", "point": "4"}, "freeze point in °C: 4 must be"),
        ({"glycol": "glycerine"}, 'none of the choices. Choose ethylene or propylene'),
        ({"basis": ""}, "Share by is missing"),
    ],
)  # fmt: skip
def test_that_a_coolant_that_cannot_be_is_refused(changed: dict[str, str], told_as: str) -> None:
    with pytest.raises(OperatorError, match=told_as):
        reckon("freeze", example("freeze", **changed))


# --- wear rate ----------------------------------------------------------------------------------


def test_that_the_rate_of_a_fill_has_its_band() -> None:
    # The engine of the domain's worked example (common practice, no source).
    found = values(reckon("rate", example("rate")))
    assert found["rate"] == pytest.approx(11.212, abs=0.001)
    assert found["mg_per_hour"] == pytest.approx(24.386, abs=0.001)
    assert (found["low"], found["high"]) == pytest.approx((9.4, 13.0), abs=0.05)


def test_that_assumptions_and_the_level_of_rest_are_told() -> None:
    answer = reckon("rate", example("rate"))
    assert "Density: 0.87 kg/L, assumed" in answer.steps
    assert any("comes to rest at 351 mg/kg" in step for step in answer.steps)


def test_that_without_a_spread_there_is_no_band_and_it_is_said() -> None:
    exact = example("rate", sd_level="", sd_residue="", sd_loss="")
    answer = reckon("rate", exact)
    assert "low" not in values(answer)
    assert any("No band" in caution for caution in answer.cautions)


def test_that_dated_top_ups_raise_the_rate_and_are_not_counted_twice_in_silence() -> None:
    without = values(reckon("rate", example("rate", loss="0")))["rate"]
    topped = reckon("rate", example("rate", loss="0", top_ups="60 h 10 L; 120 8;"))
    assert float(str(values(topped)["rate"])) > float(str(without))
    assert not any("count twice" in caution for caution in topped.cautions)
    both = reckon("rate", example("rate", top_ups="60: 10"))
    assert any("count twice" in caution for caution in both.cautions)


def test_that_a_fall_is_told_as_negative_with_its_likely_causes() -> None:
    answer = reckon("rate", example("rate", end="1"))
    assert str(answer.headline).startswith("-")
    assert any("nobody recorded" in caution for caution in answer.cautions)
    assert not any("comes to rest" in step for step in answer.steps)


def test_that_a_rate_that_cannot_be_told_from_none_says_so() -> None:
    answer = reckon("rate", example("rate", end="6", sd_level="5"))
    assert any("below zero" in caution for caution in answer.cautions)


def test_that_a_box_that_loses_much_reads_low() -> None:
    # 0.2 L of 60 L an hour for 250 h: 32.2 % of the metal is gone (common practice, no source).
    answer = reckon("rate", example("rate", volume="60", loss="0.2"))
    assert any("32.2 % of the metal" in caution for caution in answer.cautions)


@pytest.mark.parametrize(
    ("changed", "told_as"),
    [
        ({"top_ups": "soon"}, '"soon" is no top-up'),
        ({"top_ups": "600 h 10 L"}, "at 600 h lies after the sample"),
        ({"residue": "110"}, "must be at most 100 %"),
        ({"hours": "0"}, "must be above 0 h"),
        ({"end": "-1"}, "must be at least 0 mg/kg"),
        ({"volume": ""}, "Oil in the box is missing"),
    ],
)
def test_that_a_fill_that_cannot_be_is_refused(changed: dict[str, str], told_as: str) -> None:
    with pytest.raises(OperatorError, match=told_as):
        reckon("rate", example("rate", **changed))


# --- hours --------------------------------------------------------------------------------------


def test_that_a_due_day_has_its_band() -> None:
    # Due in 160 h at 16 h a day, spread 5 h: 10.0 days, 8.7 to 11.3 (common practice, no source).
    typed = {
        "readings": "2026-11-20 9840",
        "due_at": "10000",
        "hours_per_day": "16",
        "spread": "5",
    }
    answer = reckon("hours", typed)
    found = values(answer)
    assert found["due_on"] == "2026-11-30"
    assert found["days"] == pytest.approx(10.0)
    assert (found["early_edge"], found["late_edge"]) == ("2026-11-28", "2026-12-02")
    assert "8.73 to 11.3" in answer.sentence


def test_that_hours_go_on_over_a_roll_over() -> None:
    found = values(reckon("hours", example("hours")))
    assert found["hours_since_new"] == 10180.0
    assert found["hours_left"] == 70.0


def test_that_hours_go_on_over_a_new_meter() -> None:
    readings = "2026-10-01 5000; 2026-10-15 5140; 2026-11-12 215"
    typed = {"readings": readings, "due_at": "5600", "new_meter": "2026-10-22 5210 5"}
    found = values(reckon("hours", typed))
    assert found["hours_since_new"] == 5420.0
    assert found["hours_per_day"] == pytest.approx(10.0)
    assert found["hours_left"] == 180.0


def test_that_the_hours_run_since_the_last_reading_count() -> None:
    typed = {"readings": "2026-11-10 900", "due_at": "1000", "hours_per_day": "8", "spread": "2"}
    assert values(reckon("hours", {**typed, "today": "2026-11-20"}))["hours_left"] == 20.0


def test_that_a_due_point_reached_or_passed_is_due_now() -> None:
    typed = {"readings": "2026-11-20 900", "due_at": "900", "hours_per_day": "8"}
    assert reckon("hours", typed).headline == "Due now"
    past = reckon("hours", {**typed, "due_at": "880"})
    assert past.headline == "Due since 20 h"
    assert values(past)["due_on"] == "2026-11-20"


def test_that_a_machine_that_stands_comes_due_on_no_day() -> None:
    typed = {"readings": "2026-11-20 900", "due_at": "1000", "hours_per_day": "0", "spread": "1"}
    answer = reckon("hours", typed)
    assert answer.headline == "No day can be given"
    assert values(answer)["due_on"] is None


def test_that_without_a_spread_no_band_is_given_and_it_is_said() -> None:
    typed = {"readings": "2026-11-20 900", "due_at": "1000", "hours_per_day": "8"}
    answer = reckon("hours", typed)
    assert "early_edge" not in values(answer)
    assert any("no band" in caution for caution in answer.cautions)


@pytest.mark.parametrize(
    ("changed", "told_as"),
    [
        ({"readings": "yesterday"}, '"yesterday" is no reading'),
        ({"readings": "2026-13-40 55"}, '"2026-13-40" is no day'),
        ({"readings": ";"}, "Meter readings, day and hours is missing"),
        ({"readings": "2026-11-01 55; 2026-11-20 180"}, "2 meter readings are not enough"),
        (
            {"readings": "2026-01-01 5; 2026-01-02 9; 2026-11-20 180"},
            "3 meter readings are not enough",
        ),
        ({"rolls_over_at": ""}, "showed 9935 h on 2026-10-23"),
        ({"new_meter": "soon"}, "cannot be read. Write the day"),
        ({"new_meter": "2026-01-01 5 0"}, "lies before the first reading"),
        ({"today": "2026-11-01"}, "lies before the last reading, 2026-11-20"),
        ({"today": "20th"}, '"20th" is no day'),
        ({"hours_per_day": "25"}, "must be at most 24 h"),
        ({"due_at": ""}, "Due at, hours since new is missing"),
    ],
)
def test_that_hours_that_cannot_be_are_refused(changed: dict[str, str], told_as: str) -> None:
    with pytest.raises(OperatorError, match=told_as):
        reckon("hours", example("hours", **changed))
