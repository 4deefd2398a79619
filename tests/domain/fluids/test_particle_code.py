"""ISO 4406 codes: published examples, the form of a code, and what cannot be."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.fluids.particle_code import (
    ABOVE_TABLE,
    NOT_COUNTED,
    ContaminationCode,
    ParticleCountError,
    code_from_text,
    code_steps_over,
    contamination_code,
    counts_for_code,
    scale_number,
)
from tests.domain.reference.reading import row_name, worked_examples

COUNTS = st.floats(0.0, 1e8)
CODES = st.tuples(*[st.none() | st.integers(0, ABOVE_TABLE)] * 3).map(
    lambda numbers: tuple(
        sorted((n for n in numbers if n is not None), reverse=True) + [None] * numbers.count(None)
    )
)


def number(text):
    return float(text) if text else None


@pytest.mark.parametrize("row", worked_examples("contamination_code"), ids=row_name)
def test_that_counts_get_the_published_code(row):
    counts = [number(row[name]) for name in ("count_4um", "count_6um", "count_14um")]
    volume = number(row["volume_ml"])
    assert str(contamination_code(*counts, volume_ml=volume)) == row["expected"]
    columns = [None if count is None else np.array([count, 0.0]) for count in counts]
    codes = contamination_code(*columns, volume_ml=volume)
    assert codes.texts()[0] == str(codes[0]) == row["expected"]
    assert len(codes) == 2


@pytest.mark.parametrize("row", worked_examples("scale_number"), ids=row_name)
def test_that_the_table_rules_and_not_the_logarithm(row):
    assert scale_number(float(row["count_per_ml"])) == int(row["expected"])


@pytest.mark.parametrize("row", worked_examples("counts_for_code"), ids=row_name)
def test_that_a_code_means_the_published_counts(row):
    found = "; ".join(f"{low:g} to {high:g}" for low, high in counts_for_code(row["code"]))
    assert found == row["expected"]


def test_that_a_size_not_counted_has_no_counts():
    assert counts_for_code("-/18/13")[0] is None
    assert counts_for_code(code_from_text(">28/18/13"))[0] == (2_500_000.0, float("inf"))


@given(count=COUNTS)
def test_that_a_count_lies_in_the_range_of_its_own_number(count):
    low, high = counts_for_code(scale_number(count))
    assert low <= count <= high * (1 + 1e-9)


@given(count=COUNTS, more=COUNTS)
def test_that_more_particles_never_lower_the_code(count, more):
    assert scale_number(count + more) >= scale_number(count)


@given(counts=st.lists(COUNTS, min_size=1, max_size=20), volume=st.floats(0.1, 1000.0))
def test_that_a_column_is_coded_like_its_values(counts, volume):
    column = np.array(counts)
    codes = contamination_code(column, column / 2, column / 100, volume_ml=volume)
    single = [contamination_code(c, c / 2, c / 100, volume_ml=volume) for c in counts]
    assert [codes[place] for place in range(len(codes))] == single
    assert codes.texts().tolist() == [str(code) for code in single]
    assert scale_number(column).tolist() == [scale_number(count) for count in counts]


@pytest.mark.parametrize("volume", [0.1, 0.3, 7.0, 25.0, 100.0])
@pytest.mark.parametrize("code", range(29))
def test_that_a_limit_belongs_to_the_lower_code_whatever_volume_was_counted(code, volume):
    counted = counts_for_code(code).up_to * volume
    assert scale_number(counted / volume) == code
    assert contamination_code(counted, 0, 0, volume_ml=volume).numbers[0] == code


def test_that_fewer_than_twenty_counted_are_marked_only_where_the_volume_is_known():
    assert str(contamination_code(1000, 20, 19, volume_ml=1)) == "17/11/≥11"
    assert str(contamination_code(1000, 20, 19)) == "17/11/11"


def test_that_columns_keep_which_size_was_not_counted():
    codes = contamination_code(None, np.array([2000.0, 100.0]), np.array([63.0, 1.0]))
    assert codes.numbers[:, 0].tolist() == [NOT_COUNTED, NOT_COUNTED]
    assert codes[0].numbers == (None, 18, 13)


@given(numbers=CODES.filter(lambda numbers: numbers[0] is not None), few=st.booleans())
def test_that_a_written_code_is_read_back(numbers, few):
    code = ContaminationCode(numbers, (few, False, few))
    assert code_from_text(str(code)) == code


def test_that_codes_are_read_as_people_write_them():
    assert code_from_text(" 18 / 16 / 13 ").numbers == (18, 16, 13)
    assert code_from_text("18/13").numbers == (None, 18, 13)
    assert code_from_text(">28/18/>=5").too_few == (False, False, True)


@pytest.mark.parametrize("text", ["", "18", "18/16/13/10", "a/b/c", "*/18/13", "18-16-13"])
def test_that_a_text_that_is_no_code_is_refused(text):
    with pytest.raises(ParticleCountError, match="is no contamination code"):
        code_from_text(text)


@pytest.mark.parametrize("text", ["13/16/18", "30/16/13", "-/-/-", "18/-/19"])
def test_that_a_code_that_cannot_be_is_refused(text):
    with pytest.raises(ParticleCountError, match="cannot be"):
        code_from_text(text)


@pytest.mark.parametrize("counts", [(100, 101, 1), (100, 10, 11), (None, 10, 11), (100, None, 101)])
def test_that_counts_rising_with_size_are_refused(counts):
    with pytest.raises(ParticleCountError, match="counted at a smaller size"):
        contamination_code(*counts)


@pytest.mark.parametrize("bad", [-1.0, float("nan"), float("inf")])
def test_that_a_count_or_volume_that_cannot_be_is_refused(bad):
    with pytest.raises(ParticleCountError, match=r"14 µm\(c\)"):
        contamination_code(100, 10, bad)
    with pytest.raises(ParticleCountError, match="per mL"):
        scale_number(bad)
    with pytest.raises(ParticleCountError, match="place 2"):
        contamination_code(np.array([9.0, 9.0]), np.array([1.0, bad]), np.array([0.0, 0.0]))
    with pytest.raises(ParticleCountError, match="volume"):
        contamination_code(100, 10, 1, volume_ml=bad)


def test_that_no_volume_and_no_size_are_refused():
    with pytest.raises(ParticleCountError, match="above 0"):
        contamination_code(100, 10, 1, volume_ml=0)
    with pytest.raises(ParticleCountError, match="None of the three"):
        contamination_code(None, None, None)


@pytest.mark.parametrize("code", [-1, 30])
def test_that_a_number_outside_the_scale_is_refused(code):
    with pytest.raises(ParticleCountError, match=f"{code} is no scale number"):
        counts_for_code(code)
    with pytest.raises(ParticleCountError, match="observed scale number"):
        code_steps_over(18, code)


def test_that_steps_over_are_counted_at_each_size():
    steps = code_steps_over("18/16/13", contamination_code(9_000, 640, 30))
    assert steps == (2, 0, -1)
    assert steps.worst == 2
    assert code_steps_over("18/16/13", "-/17/13") == (None, 1, 0)
    assert code_steps_over("18/16/13", "17/15/11").worst == -1
    assert code_steps_over(18, np.array([17, 18, 29], dtype=np.int8)).tolist() == [-1, 0, 11]
    assert code_steps_over(18, 20) == 2


def test_that_codes_without_a_size_in_common_cannot_be_compared():
    with pytest.raises(ParticleCountError, match="no size in common"):
        code_steps_over("18/-/-", "-/17/13")
