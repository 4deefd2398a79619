"""Which box and machine printed words mean; words of the trade are common practice, no source."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.services.past_results.fleet_names import is_one_slip
from fluiddesk.services.past_results.words import BoxWords, box_words, position_score
from tests.fleets import the_catalogue


@pytest.fixture(scope="module")
def words() -> BoxWords:
    kinds = the_catalogue().compartment_kinds.values()
    return box_words({kind.code: (kind.name, kind.short) for kind in kinds})


@pytest.mark.parametrize(
    ("printed", "kind", "position"),
    [
        ("Engine oil", "engine", ""),
        ("ENG", "engine", ""),
        ("Final drive left", "final_drive", "left"),
        ("L/H FINAL DRIVE", "final_drive", "left"),
        ("FD-RH", "final_drive", "right"),
        ("Hyd. tank", "hydraulic", ""),
        ("trans", "transmission", ""),
        ("Coolant", "engine_coolant", ""),
        ("diff, rear", "differential", "rear"),
        ("Wheel LF", "wheel_end", "front_left"),
        ("slew", "swing_drive", ""),
        ("fuel", "fuel_tank", ""),
    ],
)
def test_that_usual_words_name_one_kind_and_side(words, printed, kind, position):
    left, named = words.read(printed)
    scores = {code: words.kind_score(left, code) for code in words.kinds}
    assert scores[kind] == 1.0
    assert [code for code, score in scores.items() if score == 1.0] == [kind]
    assert position_score(named, position, alike=2) == 1.0


def test_that_every_name_of_the_catalogue_means_its_own_kind_best(words):
    for kind in the_catalogue().compartment_kinds.values():
        for name in (kind.name, kind.short):
            left, _ = words.read(name)
            scores = {code: words.kind_score(left, code) for code in words.kinds}
            assert max(scores, key=lambda code: scores[code]) == kind.code
            assert sorted(scores.values())[-2] <= 0.5


def test_that_no_phrase_stands_for_two_kinds(words):
    owners: dict[tuple[str, ...], set[str]] = {}
    for kind, names in words.kinds.items():
        for name in names:
            owners.setdefault(name, set()).add(kind)
    assert {name: kinds for name, kinds in owners.items() if len(kinds) > 1} == {}


@pytest.mark.parametrize(
    ("printed", "position", "alike", "score"),
    [
        ("", "left", 2, 0.5),
        ("", "left", 1, 0.85),
        ("left", "", 1, 0.7),
        ("left", "right", 2, 0.0),
        ("front", "front_left", 4, 0.6),
        ("left front", "front_left", 4, 1.0),
    ],
)
def test_that_a_side_left_out_or_wrong_lowers_the_score(words, printed, position, alike, score):
    _, named = words.read(printed)
    assert position_score(named, position, alike=alike) == score


@given(
    st.text(alphabet="ex0123", min_size=4, max_size=8), st.integers(0, 7), st.sampled_from("ex9")
)
def test_that_one_sign_wrong_missing_or_exchanged_is_one_slip(code, at, sign):
    at %= len(code)
    wrong = code[:at] + sign + code[at + 1 :]
    missing = code[:at] + code[at + 1 :]
    exchanged = code[:at] + code[at : at + 2][::-1] + code[at + 2 :]
    for slip in (wrong, missing, exchanged):
        assert is_one_slip(code, slip) == (slip != code)
        assert is_one_slip(slip, code) == (slip != code)


def test_that_two_slips_are_not_one():
    assert not is_one_slip("ex101", "ex212")
    assert not is_one_slip("ex101", "ex10122")
