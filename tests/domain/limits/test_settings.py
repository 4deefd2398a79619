"""The numbers of the combining rules, read from a limit set and written back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.limits.limit_set import LimitError
from fluiddesk.domain.limits.settings import (
    USUAL,
    JudgingSettings,
    settings_as_mapping,
    settings_of,
)


def test_that_nothing_told_is_usual():
    assert settings_of({}) == USUAL
    assert settings_as_mapping(USUAL) == {}


@given(
    clears_at=st.floats(0.5, 1.0),
    run_in=st.lists(st.floats(1.0, 5.0), max_size=3),
    least_earlier=st.integers(3, 30),
)
def test_that_settings_are_read_as_they_were_written(clears_at, run_in, least_earlier):
    settings = JudgingSettings(
        clears_at=clears_at, run_in=tuple(run_in), least_earlier=least_earlier
    )
    assert settings_of(settings_as_mapping(settings)) == settings


@pytest.mark.parametrize(
    "told",
    [
        {"clear_at": 0.85},
        {"clears_at": 1.2},
        {"clears_at": "0.85"},
        {"clears_at": True},
        {"run_in": 2.0},
        {"run_in": [0.5]},
        {"run_in": ["two"]},
    ],
)
def test_that_an_unknown_name_or_a_value_out_of_its_span_is_refused(told):
    with pytest.raises(LimitError, match=r"clears_at|run_in"):
        settings_of(told)
