import itertools
import uuid

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.identity import (
    BottleCodeError,
    bottle_code,
    check_character,
    new_row_id,
    new_row_ids,
    normal_bottle_code,
)

ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
bodies = st.text(ALPHABET, min_size=4, max_size=12)


def test_that_the_check_character_is_that_of_the_standards_example():
    # ISO/IEC 7064, MOD 37,36, from memory, unconfirmed.
    assert check_character("A12425GABC1234002") == "M"


@given(body=bodies, place=st.integers(0, 12), other=st.sampled_from(ALPHABET))
def test_that_every_single_wrong_character_is_found(body, place, other):
    code = body + check_character(body)
    place %= len(code)
    wrong = code[:place] + other + code[place + 1 :]
    if wrong == code:
        assert normal_bottle_code(wrong) == bottle_code(body)
        return
    with pytest.raises(BottleCodeError):
        normal_bottle_code(wrong)


@given(body=bodies, place=st.integers(0, 12))
def test_that_an_exchange_of_characters_not_next_in_the_alphabet_is_found(body, place):
    code = body + check_character(body)
    place %= len(code) - 1
    first, second = code[place], code[place + 1]
    swapped = code[:place] + second + first + code[place + 2 :]
    if (ALPHABET.index(first) - ALPHABET.index(second)) % 36 not in (0, 1, 35):
        with pytest.raises(BottleCodeError):
            normal_bottle_code(swapped)


def test_that_one_exchange_of_neighbours_in_630_is_missed_and_no_more():
    # Worked out over every pair of characters and every carry that can stand before them
    # (36 leading characters give all 36 carries).
    missed = [
        lead + first + second
        for lead in ALPHABET
        for first, second in itertools.combinations(ALPHABET, 2)
        if check_character(lead + first + second) == check_character(lead + second + first)
    ]
    assert len(missed) * 630 == 36 * 36 * 35 // 2
    apart = {ALPHABET.index(text[2]) - ALPHABET.index(text[1]) for text in missed}
    assert apart == {1, 35}


@given(body=bodies, lower=st.booleans(), spaces=st.booleans())
def test_that_a_code_is_read_back_however_it_is_typed(body, lower, spaces):
    made = bottle_code(body)
    typed = made.lower() if lower else made
    typed = " ".join(typed.replace("-", "")) if spaces else f" {typed} "
    assert normal_bottle_code(typed) == made


@pytest.mark.parametrize(
    "typed", ["", "-", "26K", "26KN", "26K-0042-Y", "26K-0O42-Z", "26K_0042_Z", "ÄÖÜ-1"]
)
def test_that_what_is_no_bottle_code_is_refused_by_name(typed):
    with pytest.raises(BottleCodeError, match=f'"{typed}" is not a bottle code'):
        normal_bottle_code(typed)


def test_that_a_row_identifier_has_the_layout_of_the_published_example():
    # RFC 9562, appendix A.6, from memory, unconfirmed: 22 February 2022, 19:22:22 UTC.
    made = new_row_id(milliseconds=0x017F22E279B0, random=bytes.fromhex("0cc318c4dc0c0c07398f"))
    assert str(uuid.UUID(bytes=made)) == "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"


@given(early=st.integers(0, 2**48 - 1), late=st.integers(0, 2**48 - 1))
def test_that_row_identifiers_sort_by_their_moment(early, late):
    first, second = new_row_id(milliseconds=early), new_row_id(milliseconds=late)
    assert uuid.UUID(bytes=first).version == 7
    assert uuid.UUID(bytes=first).variant == uuid.RFC_4122
    assert early == late or (first < second) == (early < late)


def test_that_row_identifiers_of_one_millisecond_differ():
    assert len({new_row_id(milliseconds=5) for _ in range(1_000)}) == 1_000


def test_that_many_row_identifiers_of_one_moment_rise_and_differ():
    made = new_row_ids(500, milliseconds=5)
    assert made == sorted(set(made))
    assert len(made) == 500
    assert {one[:6] for one in made} == {(5).to_bytes(6, "big")}
    assert new_row_ids(0, milliseconds=5) == []
