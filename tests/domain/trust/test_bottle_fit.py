"""Whose report is this: the bottle it fits better, and when nobody may say."""

import numpy as np

from fluiddesk.domain.trust.bottle_fit import better_bottle
from fluiddesk.domain.trust.expectation import Expectation, traits
from tests.makers import make_analyte

WIDTH = 8
KNOWN = traits(
    [make_analyte(f"metal{at}", number=at, detection_limit=1.0) for at in range(1, WIDTH + 1)]
)


def boxes(*levels) -> Expectation:
    """Boxes by what each value is expected to be; NaN for tests a box never had."""
    centre = KNOWN.worked(np.array(levels, dtype=np.float64).reshape(-1, WIDTH))
    return Expectation(
        traits=KNOWN,
        centre=centre,
        spread=np.where(np.isfinite(centre), 0.2, np.nan),
        reports=np.isfinite(centre).astype(int) * 6,
    )


ENGINE = [30.0, 3.0, 8.0, 2_400.0, 600.0, 1_200.0, 1_100.0, 14.0]
GEARS = [400.0, 9.0, 40.0, 60.0, 10.0, 700.0, 500.0, 3.0]
COOLANT = [np.nan] * 6 + [4.0, 60.0]


def test_that_a_report_of_another_fluid_names_the_bottle_it_fits():
    found = better_bottle(np.array(GEARS), boxes(ENGINE), boxes(COOLANT, GEARS))
    assert found is not None
    assert found.row == 1
    assert found.lead > 6


def test_that_a_report_that_fits_its_own_bottle_names_no_other():
    assert better_bottle(np.array(ENGINE), boxes(ENGINE), boxes(GEARS, COOLANT)) is None


def test_that_nothing_is_said_without_other_bottles_or_with_few_values():
    assert better_bottle(np.array(GEARS), boxes(ENGINE), boxes()) is None
    few = np.array([400.0, 9.0, *[np.nan] * 6])
    assert better_bottle(few, boxes(ENGINE), boxes(GEARS)) is None


def test_that_tests_a_box_never_had_speak_for_the_box_that_has_them():
    """Hardly a number can be compared, but an oil box was never tested for what stands here."""
    oil = [30.0, *[np.nan] * 7]
    report = np.array([30.0, 3.0, 8.0, 2_400.0, 600.0, 1_200.0, 1_100.0, 14.0])
    wide = boxes(*[ENGINE] * 1)
    found = better_bottle(report, boxes(oil), wide)
    assert found is not None


def test_that_one_slipped_value_alone_moves_no_report():
    slipped = np.array(ENGINE)
    slipped[3] *= 10.0
    other = list(ENGINE)
    other[3] *= 10.0
    other[0] = 60.0
    assert better_bottle(slipped, boxes(ENGINE), boxes(other)) is None
