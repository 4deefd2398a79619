"""Reasons as people read them and as they are stored."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.limits.combining import Why
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


WATCH, ACT, URGENT = Severity.WATCH, Severity.ACT, Severity.URGENT


@pytest.mark.parametrize(
    ("fired", "title", "text"),
    [
        (
            rule(kind=LimitKind.RATE_PER_100H, compared=22.4, bound=20.0,
                 inputs=(("start", 56.0), ("hours", 250.0))),
            "Iron made faster than the Act limit",
            "112 mg/kg from 56: 22.4 mg/kg per 100 h over 250 h, limit 20",
        ),
        (
            rule(kind=LimitKind.LEFT_RIGHT_RATIO, compared=2.8, bound=2.5,
                 inputs=(("other_side", 40.0),)),
            "Iron above the other side (Act limit)",
            "112 mg/kg, 2.80 times the other side (40), limit 2.5",
        ),
        (
            rule(kind=LimitKind.COMPANION_RATIO, companion="oxidation", compared=2.1, bound=2.0),
            "Iron risen against oxidation (Act limit)",
            "112 mg/kg, 2.10 times the usual ratio, limit 2",
        ),
        (
            rule(kind=LimitKind.PLAIN_RATIO, companion="oxidation", compared=0.3, bound=0.25),
            "Iron to oxidation above the Act limit",
            "112 mg/kg, ratio 0.30, limit 0.25",
        ),
        (
            rule(kind=LimitKind.OWN_STEP, compared=4.2, bound=4.0, inputs=(("expected", 61.2),)),
            "Iron risen from its own history (Act limit)",
            "112 mg/kg, 4.2 spreads off the expected 61.2, limit 4",
        ),
        (
            rule(kind=LimitKind.PERCENTILE),
            "Iron above what like boxes show (Act limit)",
            "112 mg/kg, limit 100",
        ),
        (
            rule("viscosity_100c", kind=LimitKind.OFF_GRADE, direction="down", value=11.9,
                 compared=-4.8, bound=-3.0, inputs=(("edge", 12.5),)),
            "Viscosity 100c below its grade (Act limit)",
            "11.90 mm2/s, 4.8 % past the edge of its grade (12.5), limit -3 %",
        ),
        (
            rule(kind=LimitKind.MISSING_TEST, severity=WATCH, value=float("nan"), compared=1.0,
                 bound=1.0),
            "Iron not tested: incomplete",
            "ordered, no result",
        ),
    ],
    ids=lambda one: one.kind.value if isinstance(one, FiredRule) else None,
)  # fmt: skip
def test_that_every_kind_tells_the_numbers_of_its_comparison(fired, title, text):
    assert reason_title(fired, ANALYTES) == title
    assert reason_text(fired, ANALYTES) == text


@pytest.mark.parametrize(
    ("fired", "title", "end"),
    [
        (
            rule(severity=URGENT, alone=Severity.NORMAL, why=Why.MASKED, value=10.0, compared=10.0),
            "Iron at Urgent not cleared",
            "; masked by the fluid change",
        ),
        (
            rule(severity=URGENT, alone=Severity.NORMAL, why=Why.HELD, value=10.0, compared=10.0),
            "Iron at Urgent not cleared",
            "; two clear samples in a row clear it",
        ),
        (
            rule(severity=URGENT, alone=ACT, why=Why.RAISED, beside=("oxidation",)),
            "Iron above the Act limit",
            "; raised to Urgent by oxidation",
        ),
        (
            rule(severity=ACT, alone=WATCH, why=Why.AGREED),
            "Iron above the Watch limit",
            "; raised to Act: two kinds of evidence agree",
        ),
        (
            rule(severity=WATCH, why=Why.STOPPED),
            "Iron above the Watch limit",
            "; unusual, but within what the method can tell apart",
        ),
        (
            rule(severity=WATCH, alone=URGENT, why=Why.CAPPED),
            "Iron above the Urgent limit",
            "; sample in doubt: resample before acting",
        ),
        (
            rule(severity=WATCH, why=Why.LACKS),
            "Iron above the Watch limit",
            "; lowered: its companions did not move",
        ),
        (rule(factor=2.0, why=Why.RUN_IN), "Iron above the Act limit", " (x2 while running in)"),
        (
            rule(alone=Severity.NO_VERDICT, why=Why.HELD, value=float("nan"),
                 compared=float("nan")),
            "Iron at Act not cleared",
            "not tested in this sample; two clear samples in a row clear it",
        ),
    ],
    ids=lambda one: str(one.why) if isinstance(one, FiredRule) else None,
)  # fmt: skip
def test_that_what_changed_the_band_is_told(fired, title, end):
    assert reason_title(fired, ANALYTES) == title
    assert reason_text(fired, ANALYTES).endswith(end)


def test_that_what_changed_the_band_comes_back_as_it_was_stored():
    fired = [
        rule(severity=URGENT, alone=ACT, why=int(Why.RAISED | Why.RUN_IN), factor=1.5,
             companion="oxidation", inputs=(("hours", 250.0),), beside=("oxidation",)),
        rule(),
    ]  # fmt: skip
    text = reasons_to_text(fired)
    assert list(reasons_from_text(text)) == fired
    assert "alone" not in text.split("},{")[-1], "what says nothing is not stored"


def test_that_reasons_are_spelled_as_json_without_spaces():
    fired = [
        rule(source='by "hand", 10 µm\\', scope="engine", reference=2.5, bound=7, value=1e-7),
        rule(why=int(Why.RAISED), inputs=(("hours", 250.0),), beside=("oxidation",)),
    ]
    text = reasons_to_text(fired)
    assert text == json.dumps(json.loads(text), separators=(",", ":"))
    assert list(reasons_from_text(text)) == fired
    assert reasons_to_text([]) == "[]"


def test_that_a_value_that_is_not_there_is_stored_as_none():
    [back] = reasons_from_text(reasons_to_text([rule(value=float("nan"))]))
    assert back.value != back.value


def test_that_reasons_of_an_older_program_are_read():
    old = (
        '[{"analyte":"iron","kind":"level","direction":"up","severity":2,"sign":0,"value":112.0,'
        '"reference":null,"compared":112.0,"bound":100.0,"scope":"engine",'
        '"source":"invented for a test","set_by":"a test"}]'
    )
    assert reasons_from_text(old) == (rule(),)
