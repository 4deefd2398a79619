"""One cell at a time: signs, words, marks, days, and what nobody may guess."""

import csv
import os
from datetime import date, datetime, time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.samples import Reading, Sign
from fluiddesk.domain.units import conversion
from fluiddesk.intake.particle_codes import parse_codes
from fluiddesk.intake.values import (
    Fault,
    SignedValue,
    ValueColumn,
    ValueRules,
    parse,
    read_date,
    read_value,
)
from tests.intake.bench import analytes

POINT, COMMA = ValueRules(), ValueRules(decimal_mark=",")


def column(code: str, unit: str | None = None, printed: str | None = None) -> ValueColumn:
    analyte = analytes()[code]
    unit = unit or analyte.unit
    return ValueColumn(
        header=code,
        analyte=analyte,
        printed_unit=unit if printed is None else printed,
        to_canonical=conversion(unit_from=unit, unit_to=analyte.unit),
    )


CODES = [column(f"iso4406_{size}um", printed="") for size in (4, 6, 14)]


def said(text: str, rules: ValueRules = COMMA) -> SignedValue | Fault:
    return read_value(text, rules=rules, unit="mg/kg")


def number(text: str, rules: ValueRules = COMMA) -> tuple[Sign, float | None, int | None]:
    found = said(text, rules)
    assert isinstance(found, SignedValue)
    return found.sign, found.number, found.decimals


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("12", (Sign.PLAIN, 12.0, 0)),
        (" 12,40 ", (Sign.PLAIN, 12.4, 2)),
        ("+3", (Sign.PLAIN, 3.0, 0)),
        ("-36,5", (Sign.PLAIN, -36.5, 1)),
        ("\u221236", (Sign.PLAIN, -36.0, 0)),
        ("1,2E+03", (Sign.PLAIN, 1200.0, None)),
        ("<2", (Sign.BELOW, 2.0, 0)),
        ("< 2,0", (Sign.BELOW, 2.0, 1)),
        ("<=2", (Sign.BELOW, 2.0, 0)),
        ("\u2264 0,5", (Sign.BELOW, 0.5, 1)),
        (">100", (Sign.ABOVE, 100.0, 0)),
        (">= 100", (Sign.ABOVE, 100.0, 0)),
        ("\u2265100", (Sign.ABOVE, 100.0, 0)),
        ("12 mg/kg", (Sign.PLAIN, 12.0, 0)),
        ("<1 ppm", (Sign.BELOW, 1.0, 0)),
        ("12\xa0MG/KG", (Sign.PLAIN, 12.0, 0)),
        ("", (Sign.NOT_TESTED, None, None)),
        ("\xa0 ", (Sign.NOT_TESTED, None, None)),
        ("N/A", (Sign.NOT_TESTED, None, None)),
        ("-", (Sign.NOT_TESTED, None, None)),
        ("not  tested", (Sign.NOT_TESTED, None, None)),
        ("i.s.", (Sign.NOT_ENOUGH, None, None)),
        ("Insufficient sample", (Sign.NOT_ENOUGH, None, None)),
    ],
)
def test_that_a_cell_says_sign_number_and_decimals(text, expected):
    assert number(text) == expected


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("12,4O", "is not a number"),
        ("l2", "is not a number"),
        ("12\u00b2", "is not a number"),
        ("\u0661\u0662", "is not a number"),
        ("1,2,3", "is not a number"),
        ("12 13", "is not a number"),
        ("<", "is not a number"),
        ("<>2", "is not a number"),
        ("~12", "is not a number"),
        ("n.d.", "is not a number"),
        ("trace", "is not a number"),
        ("neg", "is not a number"),
        ("1e999", "is too large to be a result"),
        ("12.4", 'has "." where this layout\'s decimal mark is ","'),
        ("1.234", 'has "." where this layout\'s decimal mark is ","'),
        ("1.234,5", "has a sign between the thousands"),
        ("1 234", "has a sign between the thousands"),
        ("1'234", "has a sign between the thousands"),
        ("12 % mass", "carries the unit % mass, but the column is in mg/kg"),
        ("12 h", "carries the unit h, but the column is in mg/kg"),
        ("12 furlong", "is not a number"),
    ],
)
def test_that_what_could_mean_two_things_or_none_is_never_guessed(text, wrong):
    found = said(text)
    assert isinstance(found, Fault)
    assert found.wrong.startswith(wrong)
    assert found.remedy.endswith(".")


def test_that_thousands_are_read_only_with_the_mark_the_layout_names():
    rules = ValueRules(decimal_mark=".", thousands_mark=",")
    assert number("12,345.6", rules) == (Sign.PLAIN, 12345.6, 1)
    assert number("345", rules) == (Sign.PLAIN, 345.0, 0)
    assert isinstance(said("12,34", rules), Fault)
    assert isinstance(said("12,345", POINT), Fault)


def test_that_a_unit_in_the_cell_of_a_column_without_one_is_a_fault():
    found = read_value("12 h", rules=POINT, unit="")
    assert isinstance(found, Fault)
    assert found.wrong.endswith("the column is in no unit")


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        ("neg", Sign.ABSENT),
        ("NEGATIVE", Sign.ABSENT),
        ("pos", Sign.PRESENT),
        ("trace", Sign.PRESENT),
        (False, Sign.ABSENT),
        (True, Sign.PRESENT),
        ("", Sign.NOT_TESTED),
        ("n/a", Sign.NOT_TESTED),
        ("i.s.", Sign.NOT_ENOUGH),
    ],
)
def test_that_a_presence_test_is_answered_by_words(value, expected):
    reading = parse(value, column=column("glycol_test"), rules=POINT)
    assert isinstance(reading, Reading)
    assert reading.sign is expected
    assert reading.value == {Sign.ABSENT: 0.0, Sign.PRESENT: 1.0}.get(expected)


@pytest.mark.parametrize("value", ["-", "0", "0.1", 0.1, "maybe", date(2026, 5, 3)])
def test_that_a_presence_test_takes_nothing_else(value):
    assert isinstance(parse(value, column=column("glycol_test"), rules=POINT), Fault)


def test_that_a_dash_is_negative_where_the_layout_says_so():
    rules = ValueRules(absent=("-",))
    assert parse("-", column=column("glycol_test"), rules=rules).sign is Sign.ABSENT


@pytest.mark.parametrize("value", [True, date(2026, 4, 12), datetime(2026, 4, 12), time(12, 4)])  # noqa: DTZ001 - as a spreadsheet stores it
def test_that_a_cell_of_another_kind_is_no_result(value):
    assert isinstance(parse(value, column=column("iron"), rules=POINT), Fault)


@pytest.mark.parametrize(
    ("code", "value", "wrong"),
    [
        ("iron", "-3", "is negative"),
        ("iron", -3.0, "is negative"),
        ("iron", "<0", "says below 0"),
        ("iron", "10001", "lies outside what is plausible for Iron (0 to 10000 mg/kg)"),
        ("iron", ">20000", "lies outside"),
        ("viscosity_40c", "1", "lies outside"),
        ("freeze_point", "-71", "lies outside"),
    ],
)
def test_that_an_impossible_value_is_a_fault(code, value, wrong):
    found = parse(value, column=column(code), rules=POINT)
    assert isinstance(found, Fault)
    assert found.wrong.startswith(wrong)


def test_that_a_freezing_point_may_be_negative():
    assert parse("-36", column=column("freeze_point"), rules=POINT).value == -36


def test_that_a_value_is_kept_as_printed_and_converted_once():
    reading = parse("< 0.010", column=column("water", "% mass", "%"), rules=POINT)
    assert (reading.printed, reading.printed_unit, reading.decimals) == ("< 0.010", "%", 3)
    assert (reading.sign, reading.value) == (Sign.BELOW, pytest.approx(100))
    assert reading.detection_limit == reading.value


# Form and order of the numbers: ISO 4406, "*" and "-" from memory.
@pytest.mark.parametrize(
    ("text", "signs", "values"),
    [
        ("20/18/15", "ppp", [20, 18, 15]),
        (" 20 / 18 / 15 ", "ppp", [20, 18, 15]),
        ("-/18/13", "npp", [None, 18, 13]),
        (">28/20/15", "app", [28, 20, 15]),
        ("16/14/>=7", "ppa", [16, 14, 7]),
        ("18/18/18", "ppp", [18, 18, 18]),
        ("n/a", "nnn", [None] * 3),
        ("", "nnn", [None] * 3),
        ("i.s.", "eee", [None] * 3),
    ],
)
def test_that_a_contamination_code_is_cut_into_its_sizes(text, signs, values):
    letters = {"p": Sign.PLAIN, "n": Sign.NOT_TESTED, "a": Sign.ABOVE, "e": Sign.NOT_ENOUGH}
    readings = parse_codes(text, columns=CODES, rules=POINT)
    assert [reading.sign for reading in readings] == [letters[sign] for sign in signs]
    assert [reading.value for reading in readings] == values
    assert {reading.printed for reading in readings} == {text}


@pytest.mark.parametrize(
    ("value", "wrong"),
    [
        ("15/18/20", "rises"),
        ("20/18", "is not a contamination code"),
        ("20/18/15/12", "is not a contamination code"),
        ("20/18/x", "is not a contamination code"),
        ("20//15", "is not a contamination code"),
        ("20/18.5/15", "is not a contamination code"),
        ("18", "is not a contamination code"),
        (18.0, "is not a contamination code"),
        ("*/18/15", "says too many particles"),
        ("99/18/15", "lies outside"),
        (date(2015, 8, 20), "is a date or a time"),
    ],
)
def test_that_a_wrong_contamination_code_is_a_fault(value, wrong):
    found = parse_codes(value, columns=CODES, rules=POINT)
    assert isinstance(found, Fault)
    assert found.wrong.startswith(wrong)


DAYS = ValueRules(date_formats=("%d.%m.%Y", "%Y-%m-%d"))


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        ("03.05.2026", date(2026, 5, 3)),
        (" 2026-05-03 ", date(2026, 5, 3)),
        (date(2026, 5, 3), date(2026, 5, 3)),
        (datetime(2026, 5, 3, 14, 30), date(2026, 5, 3)),  # noqa: DTZ001 - as a spreadsheet stores it
        ("29.02.2028", date(2028, 2, 29)),
        ("", None),
    ],
)
def test_that_a_day_is_read_by_the_forms_of_the_layout(value, expected):
    assert read_date(value, DAYS) == expected


@pytest.mark.parametrize(
    "value", ["31.11.2026", "29.02.2026", "05/03/2026", "soon", 46145.0, True, "03.05.0226"]
)
def test_that_an_impossible_or_strange_day_is_a_fault(value):
    assert isinstance(read_date(value, DAYS), Fault)


def test_that_the_empty_day_of_a_spreadsheet_is_no_day():
    assert isinstance(read_date(date(1899, 12, 31), DAYS), Fault)


texts = st.text() | st.from_regex(r"[<>≤≥]?\s?-?[0-9 .,'/]{0,8}[a-zA-Z%/*]{0,6}", fullmatch=True)
rules_used = st.sampled_from([POINT, COMMA, DAYS, ValueRules(thousands_mark=" ")])
stored = st.floats(allow_nan=False) | st.booleans() | st.dates() | st.datetimes() | st.times()


@given(value=texts | stored, rules=rules_used, code=st.sampled_from(sorted(analytes())))
def test_that_any_cell_gives_a_reading_or_a_fault(value, rules, code):
    assert isinstance(parse(value, column=column(code), rules=rules), Reading | Fault)


@given(value=texts | stored, rules=rules_used)
def test_that_any_cell_gives_codes_or_a_fault_and_a_day_or_a_fault(value, rules):
    codes = parse_codes(value, columns=CODES, rules=rules)
    assert isinstance(codes, Fault) or [type(code) for code in codes] == [Reading] * 3
    assert read_date(value, rules) is None or isinstance(read_date(value, rules), date | Fault)


@given(
    units=st.integers(0, 10**9),
    places=st.integers(0, 6),
    mark=st.sampled_from(".,"),
    sign=st.sampled_from([("", Sign.PLAIN), ("<", Sign.BELOW), (">", Sign.ABOVE)]),
)
def test_that_a_number_comes_back_through_either_decimal_mark(units, places, mark, sign):
    value = units / 10**places
    text = sign[0] + f"{value:.{places}f}".replace(".", mark)
    assert number(text, ValueRules(decimal_mark=mark)) == (sign[1], value, places)


@given(
    value=st.integers(1, 100),
    written=st.sampled_from([("<", Sign.BELOW), ("", Sign.PLAIN), (">", Sign.ABOVE)]),
    unit=st.sampled_from(["mg/kg", "% mass", "mg/g"]),
)
def test_that_the_sign_survives_the_conversion(value, written, unit):
    printed = f"{written[0]}{value / 1000}"
    reading = parse(printed, column=column("water", unit), rules=POINT)
    assert (reading.sign, reading.printed) == (written[1], printed)


def test_that_a_water_laboratory_keeps_its_less_than_marks():
    """Open results of a water laboratory: 13,302 rows, 3,811 of them with "<" (its own count)."""
    home = os.environ.get("FLUIDDESK_OPEN_DATA")
    if not home:
        pytest.skip("FLUIDDESK_OPEN_DATA is not set")
    path = Path(home) / "usgs-inl-water-lab" / "samples_subset.csv"
    signs = []
    with path.open(encoding="utf-8", newline="") as stream:
        for record in csv.DictReader(stream):
            mark = "<" if record["remark_cd"] == "<" else ""
            found = read_value(mark + record["result_va"], rules=POINT, unit=record["unit_cd"])
            assert isinstance(found, SignedValue)
            assert found.number == float(record["result_va"])
            signs.append(found.sign)
    assert (len(signs), signs.count(Sign.BELOW)) == (13_302, 3_811)
    assert set(signs) == {Sign.PLAIN, Sign.BELOW}


def test_that_saybolt_seconds_become_mm2_s_and_are_a_fault_below_their_scale():
    # 214.2 s are 46 mm2/s by the equation of ASTM D2161.
    seconds = column("viscosity_40c", unit="SUS")
    found = parse("214.2", column=seconds, rules=POINT)
    assert isinstance(found, Reading)
    assert found.value == pytest.approx(46.0, abs=0.01)
    fault = parse("14.5", column=seconds, rules=POINT)
    assert isinstance(fault, Fault)
    assert "Saybolt" in fault.wrong
