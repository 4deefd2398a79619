"""Values that fell as after a fluid change: the odds, and what is no sign of one."""

import numpy as np
import pytest

from fluiddesk.domain.analytes import AnalyteFamily
from fluiddesk.domain.trust.expectation import Expectation, traits
from fluiddesk.domain.trust.unlogged_change import LEAST_ODDS, Gap, change_odds
from tests.makers import make_analyte

WEAR = ("iron", "copper", "lead", "aluminium")
ADDED = ("zinc", "calcium")
KNOWN = traits(
    [make_analyte(code, number=at, detection_limit=1.0) for at, code in enumerate(WEAR, 1)]
    + [
        make_analyte(code, number=at, family=AnalyteFamily.ADDITIVE, detection_limit=1.0)
        for at, code in enumerate(ADDED, 10)
    ]
)
BEFORE = np.array([60.0, 14.0, 9.0, 12.0, 900.0, 1_900.0])
FRESH = np.array([1.0, 0.0, 0.0, 0.0, 1_200.0, 2_400.0])
GOES_ON = np.array([66.0, 15.0, 10.0, 13.0, 890.0, 1_890.0])


def odds(now, **given) -> float:
    expected = given.get("going_on", GOES_ON)
    centre = KNOWN.worked(np.array([expected]))
    going_on = Expectation(
        traits=KNOWN,
        centre=centre,
        spread=np.where(KNOWN.from_fresh, 0.08, 0.3)[np.newaxis] + np.zeros_like(centre),
        reports=np.full(centre.shape, 8),
    )
    gap = Gap(
        before=given.get("before", BEFORE),
        now=np.array(now, dtype=np.float64),
        fresh=given.get("fresh", FRESH),
        residue_share=0.1,
    )
    return change_odds(gap, going_on)


def changed(share: float = 0.5):
    """What a change halfway would leave: a tenth of the old fluid, and half of the wear since."""
    mixed = 0.1 * BEFORE + 0.9 * FRESH
    return mixed + share * np.where(KNOWN.from_fresh, 0.0, GOES_ON - BEFORE)


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_that_a_change_without_a_record_is_worth_a_question(share):
    assert odds(changed(share)) > LEAST_ODDS


def test_that_a_fill_that_goes_on_is_not():
    assert odds(GOES_ON) < 1.0


def test_that_a_top_up_is_no_change():
    topped = 0.75 * GOES_ON + 0.25 * FRESH
    assert odds(topped) < LEAST_ODDS


def test_that_wear_alone_still_asks_where_the_new_fluid_is_unknown():
    unknown = np.full(6, np.nan)
    assert odds(changed(), fresh=unknown) > LEAST_ODDS


def test_that_too_few_values_and_rising_wear_ask_nothing():
    few = np.where(np.arange(6) < 2, changed(), np.nan)
    assert odds(few) == 0.0
    assert odds(BEFORE * 1.2) == 0.0
    assert odds(changed(), before=np.full(6, np.nan)) == 0.0
