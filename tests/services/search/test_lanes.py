"""Texts end to end: what a word finds, in what order, and that nothing is found across texts."""

from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.services.plain_text import plain_code
from fluiddesk.services.search.facts import HitKind
from fluiddesk.services.search.lanes import (
    CONTAINS,
    EXACT,
    STARTS,
    Lane,
    LaneMaker,
    query_words,
)

WORDS = st.text(alphabet="ab1-\N{LATIN SMALL LETTER E WITH ACUTE} ", max_size=6)


def lane(*codes: str) -> Lane:
    maker = LaneMaker(HitKind.BOTTLE)
    maker.add_codes(codes, range(len(codes)), [at.to_bytes(16, "big") for at in range(len(codes))])
    return maker.made()


def found(texts: Lane, typed: str, limit: int = 10) -> list[tuple[int, int]]:
    return texts.matches(query_words(typed), limit=limit)


def test_that_the_exact_code_comes_before_longer_ones_and_parts():
    codes = lane("126K-7", "26K-77", "26K-7", "9")
    assert found(codes, "26k7") == [(EXACT, 2), (STARTS, 1), (CONTAINS, 0)]


def test_that_no_word_is_found_across_two_texts():
    assert found(lane("AB", "CD"), "bc") == []


def test_that_every_word_must_be_in_the_text():
    codes = lane("EX-01", "EX-02")
    assert found(codes, "ex 2") == [(STARTS, 1)]
    assert found(codes, "ex 3") == []


def test_that_a_common_word_is_cut_off_but_codes_that_start_with_it_stay_in_view():
    codes = lane(*(f"X{number:05}9" for number in range(6000)), "9-LAST")
    rows = found(codes, "9", limit=20)
    assert rows[0] == (STARTS, 6000)
    assert len(rows) == 20


def test_that_written_text_and_sample_belong_to_the_row():
    codes = lane("26K-0042-Z", "\N{LATIN CAPITAL LETTER E WITH ACUTE}X-1")
    assert [codes.written(row) for row in range(2)] == [
        "26K-0042-Z",
        "\N{LATIN CAPITAL LETTER E WITH ACUTE}X-1",
    ]
    assert found(codes, "ex1") == [(EXACT, 1)]
    assert codes.sample(1) == (1).to_bytes(16, "big")


def test_that_an_empty_lane_finds_nothing():
    assert found(LaneMaker(HitKind.REPORT).made(), "a") == []


@given(st.lists(WORDS, max_size=8), WORDS)
def test_that_exactly_the_texts_holding_the_word_are_found(texts, word):
    plain = plain_code(word)
    if not plain:
        return
    codes = lane(*texts)
    rows = {row for _, row in found(codes, plain, limit=100)}
    assert rows == {row for row, text in enumerate(texts) if plain in plain_code(text)}
