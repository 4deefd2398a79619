from fluiddesk.domain.samples import Sign
from tests.makers import make_columns


def test_that_a_number_stands_behind_plain_below_and_above_alone():
    assert [sign.name for sign in Sign if sign.has_number] == ["PLAIN", "BELOW", "ABOVE"]


def test_that_columns_are_as_long_as_their_samples():
    assert len(make_columns([1.0, 2.0, 3.0])) == 3
    assert len(make_columns([])) == 0
