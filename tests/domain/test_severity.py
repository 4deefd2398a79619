import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.severity import Severity, Trust, worst


def test_that_severities_are_ordered_from_no_verdict_to_urgent():
    assert [one.word for one in sorted(Severity)] == [
        "No verdict", "Normal", "Watch", "Act", "Urgent",
    ]  # fmt: skip


def test_that_trust_has_its_own_words():
    assert [one.word for one in Trust] == ["Good", "Suspect", "Rejected"]


@given(rows=st.lists(st.lists(st.sampled_from(Severity), min_size=3, max_size=3), min_size=1))
def test_that_the_worst_of_several_judgements_counts(rows):
    assert worst(np.array(rows, dtype=np.int8)).tolist() == [max(row) for row in rows]


@pytest.mark.parametrize("shape", [(2, 0), (0, 0), (0, 3), (2, 3, 0)])
def test_that_without_a_judgement_there_is_no_verdict(shape):
    combined = worst(np.empty(shape, dtype=np.int8))
    assert combined.shape == shape[:-1]
    assert combined.dtype == np.int8
    assert (combined == Severity.NO_VERDICT).all()
