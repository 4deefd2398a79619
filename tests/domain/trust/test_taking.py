"""Doubts from the visit sheet: common practice, no source."""

import pytest

from fluiddesk.domain.samples import DrawMethod
from fluiddesk.domain.severity import Trust
from fluiddesk.domain.trust.taking import Drawing, FillLevel, notes_on_taking, trust_of_taking

PROBE = DrawMethod.VALVE_PROBE


@pytest.mark.parametrize(
    ("drawing", "doubted"),
    [
        (Drawing(method=PROBE), False),
        (Drawing(method=PROBE, flushed=True, warm=True, mixed=True, cap_marked=True), False),
        (Drawing(method=PROBE, flushed=False), True),
        (Drawing(method=PROBE, cap_marked=False), True),
        (Drawing(method=PROBE, warm=False), True),
        (Drawing(method=PROBE, warm=False, mixed=True), False),
        (Drawing(method=PROBE, warm=False, mixed=True, needs_mixing=True), False),
        (Drawing(method=PROBE, mixed=False, needs_mixing=True), True),
        (Drawing(method=DrawMethod.DRAIN_STREAM, flushed=True), True),
    ],
)
def test_that_what_was_left_out_at_the_machine_is_doubted(drawing: Drawing, doubted: bool) -> None:  # noqa: FBT001
    trust, why = trust_of_taking(drawing)
    assert (trust is Trust.SUSPECT) == doubted
    assert bool(why) == doubted


def test_that_every_doubt_is_told() -> None:
    drawing = Drawing(method=DrawMethod.DRAIN_STREAM, flushed=False, cap_marked=False)
    assert trust_of_taking(drawing)[1].count(";") == 2


@pytest.mark.parametrize(
    ("level", "words"),
    [
        (FillLevel.BELOW_LINE, "no second run"),
        (FillLevel.ABOVE_NECK, "may leak"),
        (FillLevel.ABOVE_LINE, ""),
        (FillLevel.UNKNOWN, ""),
    ],
)
def test_that_the_fill_level_is_noted_and_doubts_nothing(level: FillLevel, words: str) -> None:
    drawing = Drawing(method=PROBE, fill_level=level)
    assert trust_of_taking(drawing)[0] is Trust.GOOD
    assert words in "".join(notes_on_taking(drawing))
