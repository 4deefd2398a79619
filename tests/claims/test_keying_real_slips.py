"""The checks while typing on real laboratory data: slips that are really in them.

The slips are those that the README beside the data lists; nobody marked them in the source.
"""

import os
from pathlib import Path

import numpy as np
import pytest

from fluiddesk.domain.trust.scale_slip import scale_slip
from fluiddesk.domain.trust.typing_slips import unlikely_bounds, unusual
from fluiddesk.services.catalogue import load_catalogue
from tests.claims.reports import write_report
from tests.claims.water_laboratory import REGULAR, Foretold, foretold, sheets

ENOUGH = 3


@pytest.fixture(scope="module")
def water() -> Foretold:
    home = os.environ.get("FLUIDDESK_OPEN_DATA")
    if not home:
        pytest.skip("FLUIDDESK_OPEN_DATA is not set")
    return foretold(sheets(Path(home)), load_catalogue().analytes)


def odd(water: Foretold):
    plain = np.where(water.below, np.nan, water.values)
    bounds = np.where(water.below, water.values, np.nan)
    return unusual(plain, water.expected) | unlikely_bounds(bounds, water.below, water.expected)


def test_that_a_conductance_a_thousand_times_too_low_is_read_in_its_unit(water: Foretold):
    """Sample 394: 1.88 where its replicate says 1,880."""
    at = water.at(394, "conductivity")
    assert odd(water)[at]
    expected = water.expected.at(0.0)[at]
    spread = (water.expected.at(1.0)[at] - water.expected.at(-1.0)[at]) / 2.0
    slip = scale_slip(1.88, unit="uS/cm", expected=float(expected), spread=float(spread))
    assert slip is not None
    assert slip.written_in == "mS/cm"
    assert slip.value == pytest.approx(1_880.0)


@pytest.mark.parametrize("code", ["chloride", "conductivity"])
def test_that_a_sample_from_somewhere_else_is_asked_about(water: Foretold, code: str):
    """Sample 396: chloride 86.7 and conductance 711, three hours later 416 and 1,690."""
    assert odd(water)[water.at(396, code)]
    assert not odd(water)[water.at(398, code)]


def test_that_less_than_two_where_167_is_usual_is_asked_about(water: Foretold):
    """Sample 398: sodium <2.0 where chloride is normal."""
    assert odd(water)[water.at(398, "sodium")]


def test_that_a_well_reading_on_a_blank_fits_the_well_and_cannot_be_told(water: Foretold):
    """Blanks 486 and 1439 carry the conductance of the well: its own history has nothing to say."""
    for number in (486, 1439):
        assert not odd(water)[water.at(number, "conductivity")]


def test_that_real_fields_are_seldom_asked_about(water: Foretold):
    regular = np.array([one.kind == REGULAR for one in water.sheets])
    known = water.expected.reports >= ENOUGH
    among = np.isfinite(water.values) & known & regular[:, np.newaxis]
    asked = odd(water) & among
    share = 100.0 * asked.sum() / among.sum()
    write_report(
        "keying_real_laboratory",
        {"fields": int(among.sum()), "asked": int(asked.sum()), "percent": round(share, 3)},
    )
    assert among.sum() > 7_000
    assert share < 0.5
