"""Worked examples: own calculation from the mass balance, by hand; see each comment."""

import numpy as np
import pytest

from fluiddesk.domain.wear import balance


def one(value: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return np.array([value])


def test_that_an_engine_that_is_topped_up_has_made_more_metal_than_it_shows() -> None:
    # Worked example, own calculation: 250 L of 0.87 kg/L, residue 0.10 of 45 mg/kg, fresh oil 1,
    # 0.08 L/h made up, 32 mg/kg after 250 h.
    loss = one(0.08 / 250)
    start = balance.after_change(one(45.0), one(1.0), one(0.10))
    made = balance.made_per_hour(start, one(32.0), fresh=loss * 1.0, loss=loss, hours=one(250.0))
    assert start[0] == pytest.approx(5.4)
    assert 100 * made[0] == pytest.approx(11.212, abs=0.001)
    assert 250 * 0.87 * made[0] == pytest.approx(24.386, abs=0.001)
    assert start[0] + 250 * made[0] == pytest.approx(33.43, abs=0.01)
    assert (made[0] + loss[0]) / loss[0] == pytest.approx(351.4, abs=0.1)


@pytest.mark.parametrize(("residue", "rate"), [(0.05, 12.06), (0.20, 9.52)])
def test_that_the_oil_left_behind_by_a_change_counts(residue: float, rate: float) -> None:
    # Worked example, own calculation: as above with another residue.
    loss = one(0.08 / 250)
    start = balance.after_change(one(45.0), one(1.0), one(residue))
    made = balance.made_per_hour(start, one(32.0), fresh=loss * 1.0, loss=loss, hours=one(250.0))
    assert 100 * made[0] == pytest.approx(rate, abs=0.01)


def test_that_a_burst_hose_hides_half_of_the_wear() -> None:
    # Worked example, own calculation: 10 mg/kg, 300 h, a third of the oil replaced by fresh oil of
    # 0.5 mg/kg, another 200 h to 15 mg/kg: 2.0417 mg/kg per 100 h, 16.125 before, 10.917 after.
    made, nothing = one(0.020417), one(0.0)
    before = balance.after(one(10.0), made=made, fresh=nothing, loss=nothing, hours=one(300.0))
    after = balance.after_change(before, one(0.5), one(2 / 3))
    end = balance.after(after, made=made, fresh=nothing, loss=nothing, hours=one(200.0))
    assert before[0] == pytest.approx(16.125, abs=0.001)
    assert after[0] == pytest.approx(10.917, abs=0.001)
    assert end[0] == pytest.approx(15.0, abs=0.001)


def test_that_a_base_number_runs_down_slower_where_fresh_oil_is_added() -> None:
    # Worked example, own calculation: 9.4 to 7.4 in 250 h, 0.032 % of the oil made up per hour with
    # a base number of 10: consumption 0.008516 per hour, 727.1 h in all to 4.0.
    loss = one(0.00032)
    used = -balance.made_per_hour(one(9.4), one(7.4), fresh=loss * 10, loss=loss, hours=one(250.0))
    left = balance.after(one(9.4), made=-used, fresh=loss * 10, loss=loss, hours=one(727.1))
    assert used[0] == pytest.approx(0.008516, abs=1e-6)
    assert left[0] == pytest.approx(4.0, abs=0.001)


def test_that_metal_levels_off_where_oil_is_lost() -> None:
    # Worked example, own calculation: 0.2 L/h of 60 L, 0.12 mg/kg per hour: 36 in the end, half of
    # it after 207.9 h.
    loss = one(0.2 / 60)
    half = balance.after(one(0.0), made=one(0.12), fresh=one(0.0), loss=loss, hours=one(207.9))
    late = balance.after(one(0.0), made=one(0.12), fresh=one(0.0), loss=loss, hours=one(1e5))
    assert half[0] == pytest.approx(18.0, abs=0.01)
    assert late[0] == pytest.approx(36.0, abs=0.01)


def test_that_a_level_is_reached_again_by_the_rate_made_for_it() -> None:
    loss, hours = one(0.004), one(500.0)
    made = balance.made_for_level(one(40.0), loss=loss, hours=hours)
    reached = balance.after(one(0.0), made=made, fresh=one(0.0), loss=loss, hours=hours)
    assert reached[0] == pytest.approx(40.0)
