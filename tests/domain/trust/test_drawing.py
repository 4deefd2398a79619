"""How far a sample is believed by its way into the bottle."""

import pytest

from fluiddesk.domain.samples import DrawMethod
from fluiddesk.domain.severity import Trust
from fluiddesk.domain.trust.drawing import trust_of_drawing


def test_that_a_sample_from_the_drain_stream_is_suspect_and_says_why() -> None:
    # The first fluid runs off before a sample is caught: US Army TM 38-301-1.
    trust, reason = trust_of_drawing(DrawMethod.DRAIN_STREAM)
    assert trust is Trust.SUSPECT
    assert "drain stream" in reason
    assert "settled debris" in reason


@pytest.mark.parametrize(
    "method", [one for one in DrawMethod if one is not DrawMethod.DRAIN_STREAM]
)
def test_that_every_other_way_is_good_and_needs_no_words(method: DrawMethod) -> None:
    assert trust_of_drawing(method) == (Trust.GOOD, "")


def test_that_a_suspect_sample_is_never_rejected_by_its_drawing_alone() -> None:
    found = {trust_of_drawing(method)[0] for method in DrawMethod}
    assert Trust.REJECTED not in found
