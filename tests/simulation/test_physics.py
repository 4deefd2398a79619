import numpy as np
import pytest

from fluiddesk.simulation.cleanliness import codes
from fluiddesk.simulation.families import FAMILIES
from fluiddesk.simulation.faults import (
    MODES,
    detectable_hours,
    failure_hours,
    mean_intensity,
    modes_of,
)
from fluiddesk.simulation.keying import transposed
from fluiddesk.simulation.laboratory import rounded
from fluiddesk.simulation.viscosity import blended


@pytest.mark.parametrize(
    ("counts", "code"),
    [
        # Trade article "ISO 4406 - how does it work": per 100 mL 300 000 / 50 000 / 700.
        ((3000.0, 500.0, 7.0), (19, 16, 10)),
        # From the table of ISO 4406:1999 as reproduced in the trade press: on and over an edge.
        ((640.0, 320.0, 80.0), (16, 15, 13)),
        ((640.1, 320.1, 80.1), (17, 16, 14)),
        ((2550.0, 1305.0, 81.0), (19, 18, 14)),
        ((10200.0, 1290.0, 1.29), (21, 17, 7)),
        ((5000.0, 1300.0, 160.0), (19, 17, 14)),
    ],
)
def test_that_counts_get_the_codes_of_the_table(
    counts: tuple[float, ...], code: tuple[int, ...]
) -> None:
    assert tuple(codes(np.array(counts))) == code


@pytest.mark.parametrize(
    ("oil", "other", "share", "blend"),
    [
        # Double logarithm of ASTM D341 with 0.7, blended as in D7152 (own calculation).
        (32.0, 100.0, 0.5, 54.48),
        (68.0, 220.0, 0.3, 93.98),
        (110.0, 2.6, 0.03, 90.87),
        (14.5, 1.2, 0.10, 9.87),
    ],
)
def test_that_a_blend_has_the_viscosity_of_the_double_logarithm(
    oil: float, other: float, share: float, blend: float
) -> None:
    found = blended(np.array([oil]), np.array([other]), np.array([share]))
    assert found[0] == pytest.approx(blend, abs=0.01)


def test_that_a_fault_doubles_until_the_part_fails_and_is_held_there() -> None:
    start, doubling = np.array([1000.0]), np.array([100.0])
    seen, broken = detectable_hours(start, doubling), failure_hours(start, doubling)
    assert (broken - seen)[0] == pytest.approx(400.0)
    at = [float(mean_intensity(start, doubling, seen + h, seen + h + 0.01)[0]) for h in (0, 100)]
    assert at == pytest.approx([1.0, 2.0], rel=1e-3)
    assert mean_intensity(start, doubling, broken + 50, broken + 60)[0] == pytest.approx(16.0)
    assert mean_intensity(start, doubling, np.array([0.0]), np.array([900.0]))[0] == 0.0


def test_that_every_family_has_ways_to_fail_and_every_way_names_its_own_states() -> None:
    for name, family in FAMILIES.items():
        assert modes_of(name)
        for mode in (MODES[place] for place in modes_of(name)):
            assert set(mode.adds) | set(mode.uses_up) <= set(family.states)


def test_that_significant_figures_are_coarser_than_decimals_only_where_they_must_be() -> None:
    values = np.array([1234.0, 56.4, 0.26])
    assert rounded(values, 0, 2).tolist() == [1200.0, 56.0, 0.0]
    assert rounded(values, 1, None).tolist() == [1234.0, 56.4, 0.3]


def test_that_two_digits_change_places() -> None:
    assert transposed(np.array([36.0, 12.0])).tolist() == [63.0, 21.0]
