"""Reasons as people read them and as they are stored."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.limits.fired import FiredRule
from fluiddesk.domain.limits.limit_set import LimitKind
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.severity import Severity
from fluiddesk.services.reassess.wording import (
    headline,
    reason_text,
    reason_title,
    reasons_from_text,
    reasons_to_text,
)
from tests.makers import make_analyte

ANALYTES = {
    one.code: one
    for one in (
        make_analyte("iron"),
        make_analyte("water_crackle", unit="absent/present"),
        make_analyte("oxidation", unit="A/cm", decimals=0),
        make_analyte("viscosity_100c", unit="mm2/s", decimals=2),
        make_analyte("ph", unit="pH", decimals=1),
    )
}


def rule(analyte="iron", **changes):
    given = {
        "analyte": analyte,
        "kind": LimitKind.LEVEL,
        "direction": "up",
        "severity": Severity.ACT,
        "sign": Sign.PLAIN,
        "value": 112.0,
        "reference": None,
        "compared": 112.0,
        "bound": 100.0,
        "scope": "engine",
        "source": "invented for a test",
        "set_by": "a test",
    }
    return FiredRule(**(given | changes))


OXIDATION = rule("oxidation", kind=LimitKind.CHANGE, value=22.0, reference=5.0, compared=17.0,
                 bound=10.0, severity=Severity.WATCH)  # fmt: skip
THINNED = rule("viscosity_100c", kind=LimitKind.CHANGE_PERCENT, direction="down", value=12.3,
               reference=14.5, compared=-15.2, bound=-15.0)  # fmt: skip
CRACKLE = rule("water_crackle", sign=Sign.PRESENT, value=1.0, compared=1.0, bound=1.0)
ACID = rule("ph", direction="down", value=8.4, compared=8.4, bound=8.5)


@pytest.mark.parametrize(
    ("fired", "title", "text"),
    [
        (rule(), "Iron above the Act limit", "112 mg/kg, limit 100"),
        (rule(sign=Sign.ABOVE), "Iron above the Act limit", ">112 mg/kg, limit 100"),
        (ACID, "Ph below the Act limit", "8.4, limit 8.5"),
        (
            OXIDATION,
            "Oxidation risen past the Watch limit",
            "22 A/cm, 17 over new fluid, limit +10",
        ),
        (
            THINNED,
            "Viscosity 100c fallen past the Act limit",
            "12.30 mm2/s, 15.2 % below new fluid, limit -15 %",
        ),
        (CRACKLE, "Water crackle positive", "present"),
        (
            rule("ph", direction="down", sign=Sign.BELOW, value=7.0, bound=8.5),
            "Ph below the Act limit",
            "<7.0, limit 8.5",
        ),
    ],
)
def test_that_a_reason_is_told_in_words_with_its_numbers(fired, title, text):
    assert reason_title(fired, ANALYTES) == title
    assert reason_text(fired, ANALYTES) == text


def test_that_the_headline_is_the_leading_reason_and_the_number_of_further_analytes():
    assert headline([rule()], ANALYTES) == "Iron 112 mg/kg, limit 100"
    several = [rule(), rule(kind=LimitKind.CHANGE, compared=90.0), CRACKLE, OXIDATION]
    assert headline(several, ANALYTES) == "Iron 112 mg/kg, limit 100; 2 more"


def test_that_two_limits_of_one_analyte_are_one_analyte_in_the_headline():
    both = [rule(), rule(kind=LimitKind.CHANGE, compared=90.0)]
    assert headline(both, ANALYTES) == "Iron 112 mg/kg, limit 100"


def test_that_without_a_reason_there_is_no_headline():
    assert headline([], ANALYTES) == ""


numbers = st.floats(allow_nan=False, allow_infinity=False)
rules = st.builds(
    rule,
    st.sampled_from(sorted(ANALYTES)),
    kind=st.sampled_from(LimitKind),
    direction=st.sampled_from(["up", "down"]),
    severity=st.sampled_from(Severity),
    sign=st.sampled_from(Sign),
    value=numbers,
    reference=st.none() | numbers,
    compared=numbers,
    bound=numbers,
    scope=st.text(),
    source=st.text(),
    set_by=st.text(),
)


@given(st.lists(rules, max_size=5))
def test_that_stored_reasons_come_back_as_they_were(fired):
    assert list(reasons_from_text(reasons_to_text(fired))) == fired


@pytest.mark.parametrize("text", [None, "", "[]"])
def test_that_an_empty_text_holds_no_reasons(text):
    assert reasons_from_text(text) == ()
