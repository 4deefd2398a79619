"""The same box on the other side of the machine, and its sample nearest in time."""

import numpy as np
import pytest

from fluiddesk.domain.samples import Sign
from fluiddesk.domain.severity import Trust
from fluiddesk.services.reassess.sides import Sides, other_side
from tests.makers import make_columns

OTHER = np.array([1, 0, -1], dtype=np.int32)


def beside(days, other_days, *, hours=None, other_hours=None, trust=Trust.GOOD, number=1):
    own = make_columns(
        [100.0 + place for place in range(len(days))],
        compartment=0,
        taken_on=days,
        fluid_hours=hours or [200.0] * len(days),
    )
    other = make_columns(
        [10.0 + place for place in range(len(other_days))],
        compartment=1,
        taken_on=other_days,
        fluid_hours=other_hours or [200.0] * len(other_days),
        trust=trust,
    )
    values, signs = Sides([own, other], OTHER).of_group(0)(number)
    return values.tolist(), signs.tolist()


@pytest.mark.parametrize(
    ("position", "turned"),
    [("left", "right"), ("front_right", "front_left"), ("centre", ""), ("", "")],
)
def test_that_a_position_is_turned_round(position, turned):
    assert other_side(position) == turned


def test_that_the_nearest_sample_within_a_week_is_taken():
    assert beside([100], [90, 98, 103])[0] == [11.0]
    assert beside([100], [95, 103])[0] == [11.0]
    assert beside([100], [107])[0] == [10.0]


def test_that_of_two_as_near_the_earlier_one_is_taken():
    assert beside([100], [97, 103])[0] == [10.0]


@pytest.mark.parametrize(
    "given",
    [
        {"other_days": [92]},
        {"other_days": [108]},
        {"other_days": [100], "trust": Trust.SUSPECT},
        {"other_days": [100], "other_hours": [149.0]},
        {"other_days": [100], "other_hours": [268.0]},
        {"other_days": [100], "other_hours": [float("nan")]},
        {"other_days": [100], "number": 9},
    ],
    ids=["too early", "too late", "in doubt", "younger", "older", "unknown hours", "not tested"],
)
def test_that_what_does_not_compare_is_left_out(given):
    values, signs = beside([100], **given)
    assert np.isnan(values).all()
    assert signs == [Sign.NOT_TESTED]


def test_that_a_box_without_another_side_has_none():
    alone = make_columns([5.0], compartment=2, taken_on=100, fluid_hours=200.0)
    values, _ = Sides([alone], OTHER).of_group(0)(1)
    assert np.isnan(values).all()
