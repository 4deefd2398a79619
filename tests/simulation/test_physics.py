import numpy as np
import pytest

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
