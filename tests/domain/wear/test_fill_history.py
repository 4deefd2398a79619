"""Fills found in the samples of boxes, and the rate of each."""

import numpy as np
import pytest

from fluiddesk.domain.analytes import Analyte, AnalyteFamily, Precision
from fluiddesk.domain.samples import SampleColumns, Sign
from fluiddesk.domain.severity import Trust
from fluiddesk.domain.wear.fill_history import (
    BoxTraits,
    fills_of,
    level_sd,
    levels_of,
    rates_of,
    starts_of,
)
from fluiddesk.domain.wear.mass_balance import mass_balance, start_after_change


def analyte(number=1, family=AnalyteFamily.WEAR, *, precision=True):
    return Analyte(
        number=number, code=f"a{number}", name="", symbol="", family=family, unit="mg/kg",
        decimals=0, harmful="up", method="", order=number,
        reproducibility=Precision(form="power", a=0.52, b=0.8, source="") if precision else None,
    )  # fmt: skip


def samples(values, *, fluid_hours, fill, box=None, trust=None, signs=None, hours=None):
    values = np.array(values, dtype=np.float64)
    values = values[:, None] if values.ndim == 1 else values
    n, m = values.shape
    return SampleColumns(
        analytes=tuple(range(1, m + 1)),
        compartment=np.array(box if box is not None else [0] * n, dtype=np.int32),
        sample_id=np.arange(16 * n, dtype=np.uint8).reshape(n, 16),
        taken_on=np.arange(n, dtype=np.int32) + 739000,
        hours=np.array(hours if hours is not None else np.arange(n) * 250.0),
        fluid_hours=np.array(fluid_hours, dtype=np.float64),
        fill=np.array(fill, dtype=np.int32),
        trust=np.array(trust if trust is not None else [Trust.GOOD] * n, dtype=np.int8),
        severity=np.zeros(n, dtype=np.int8),
        digest=np.zeros(n, dtype=np.uint64),
        reference=np.zeros(n, dtype=np.int16),
        values=values,
        signs=np.array(
            signs if signs is not None else np.full((n, m), Sign.PLAIN), dtype=np.uint8
        ).reshape(n, m),
    )


def traits(loss=0.0, boxes=1, residue=0.10):
    return BoxTraits(
        volume_l=np.full(boxes, 250.0),
        density_kg_l=np.full(boxes, 0.87),
        residue_share=np.full(boxes, residue),
        loss_l_per_h=np.full(boxes, loss),
    )


def fresh(columns, value=1.0):
    return np.full(columns.values.shape, value)


def test_that_the_rate_of_a_fill_is_that_of_the_mass_balance_with_what_the_old_oil_left():
    # Worked example, own calculation: 45 before, 10 % left, 32 after 250 h, 0.08 L/h lost.
    columns = samples([45.0, 32.0], fluid_hours=[250, 250], fill=[0, 1])
    fills = fills_of(columns, fresh(columns))
    found = rates_of(fills, traits(0.08), [analyte()])
    assert found.rate[1, 0] * 100 == pytest.approx(11.212, abs=0.0005)
    start = start_after_change(before=45.0, residue_share=0.10, fresh=1.0)
    assert starts_of(fills, traits(), [analyte()])[0][1, 0] == pytest.approx(start)
    assert not found.is_bound.any()


def test_that_the_loss_of_a_fill_goes_before_that_of_the_box():
    columns = samples([45.0, 32.0], fluid_hours=[250, 250], fill=[0, 1])
    fills = fills_of(columns, fresh(columns))
    own = rates_of(fills, traits(0.0), [analyte()], loss_l_per_h=np.array([0.0, 0.08]))
    assert own.rate[1, 0] * 100 == pytest.approx(11.212, abs=0.0005)


def test_that_each_box_has_its_own_fills_and_the_first_of_each_starts_by_its_own_end():
    columns = samples([30, 40, 20, 22], fluid_hours=[250] * 4, fill=[0, 1, 0, 1], box=[0, 0, 1, 1])
    fills = fills_of(columns, fresh(columns))
    assert fills.box.tolist() == [0, 0, 1, 1]
    assert fills.is_first.tolist() == [True, False, True, False]
    assert np.isnan(fills.before[2, 0]), "the box before it is another one"
    start, sd = starts_of(fills, traits(boxes=2), [analyte()])
    assert start[2, 0] == pytest.approx(0.1 * 20 + 0.9 * 1)
    assert sd[2, 0] > 0


def test_that_the_last_believed_sample_ends_a_fill():
    columns = samples(
        [10, 20, 99], fluid_hours=[100, 200, 250], fill=[1, 1, 1],
        trust=[Trust.GOOD, Trust.SUSPECT, Trust.REJECTED],
    )  # fmt: skip
    [end] = fills_of(columns, fresh(columns)).end[:, 0]
    assert end == 20.0


def test_that_rejected_samples_alone_make_no_fill():
    columns = samples([10.0], fluid_hours=[100], fill=[0], trust=[Trust.REJECTED])
    fills = fills_of(columns, fresh(columns))
    assert len(fills) == 0
    assert rates_of(fills, traits(), [analyte()]).rate.shape == (0, 1)


def test_that_a_sample_drawn_soon_after_the_change_or_without_hours_tells_no_rate():
    columns = samples([9.0, 9.0], fluid_hours=[10, np.nan], fill=[0, 1])
    found = rates_of(fills_of(columns, fresh(columns)), traits(), [analyte()])
    assert np.isnan(found.rate).all()


def test_that_below_detection_counts_as_half_its_bound_and_says_so():
    columns = samples([[2.0, 50.0]], fluid_hours=[250], fill=[0], signs=[[Sign.BELOW, Sign.ABOVE]])
    level, is_bound = levels_of(columns)
    assert level[0, 0] == 1.0
    assert np.isnan(level[0, 1]), "above a bound is no level"
    assert is_bound.tolist() == [[True, False]]
    fills = fills_of(columns, fresh(columns, 0.0))
    found = rates_of(fills, traits(), [analyte(1), analyte(2)])
    assert found.is_bound.tolist() == [[True, False]]


def test_that_a_wear_metal_without_a_reference_is_taken_as_absent_from_new_oil_and_others_are_not():
    columns = samples([[30.0, 300.0]], fluid_hours=[250], fill=[0])
    fills = fills_of(columns, fresh(columns, np.nan))
    found = rates_of(fills, traits(residue=0.0), [analyte(1), analyte(2, AnalyteFamily.ADDITIVE)])
    assert found.rate[0, 0] * 250 == pytest.approx(30.0)
    assert np.isnan(found.rate[0, 1])


def test_that_the_error_of_a_level_is_that_of_the_method_and_of_its_last_place():
    level = np.array([[32.0, 32.0, 32.0]])
    found = level_sd(level, np.zeros((1, 3), bool), [analyte(), analyte(2, precision=False), None])
    # ASTM D5185 iron, from memory: R = 0.52 X^0.8; divided by 2.77.
    assert found[0, 0] == pytest.approx(np.hypot(0.52 * 32**0.8 / 2.77, 1 / np.sqrt(12)))
    assert found[0, 1] == pytest.approx(np.hypot(3.2, 1 / np.sqrt(12)))
    assert found[0, 2] == found[0, 1]
    assert level_sd(np.array([[1.0]]), np.array([[True]]), [None])[0, 0] == pytest.approx(
        1 / np.sqrt(3), abs=1e-6
    )


def test_that_the_columns_of_a_fleet_agree_with_the_balance_of_each_fill():
    rng = np.random.default_rng(4)
    values = rng.uniform(5, 60, 12)
    columns = samples(
        values, fluid_hours=[250.0] * 12, fill=list(range(6)) * 2, box=[0] * 6 + [1] * 6
    )
    fills = fills_of(columns, fresh(columns))
    found = rates_of(fills, traits(0.05, boxes=2), [analyte()])
    start, _ = starts_of(fills, traits(boxes=2), [analyte()])
    for row in range(12):
        alone = mass_balance(
            start=float(start[row, 0]), end=float(values[row]), hours=250.0, volume_l=250.0,
            density_kg_l=0.87, fresh=1.0, loss_l_per_h=0.05,
        )  # fmt: skip
        assert found.rate[row, 0] == pytest.approx(alone.ppm_per_hour)
