"""Limits laid out against analyte columns."""

import numpy as np
import pytest

from fluiddesk.domain.limits.limit_set import LimitKind, Scope
from fluiddesk.domain.limits.limit_table import limit_table
from tests.makers import make_analyte, make_limit

ANALYTES = {
    "iron": make_analyte("iron", number=1),
    "copper": make_analyte("copper", number=5, decimals=1),
}


def test_that_each_limit_points_at_the_column_of_its_analyte():
    chosen = [make_limit("copper", (10, None, 30)), make_limit("iron")]
    table = limit_table(chosen, analytes=ANALYTES, numbers=(1, 3, 5))
    assert table.limits == tuple(chosen)
    assert table.column.tolist() == [2, 0]
    assert np.array_equal(table.bounds, [[10, np.nan, 30], [60, 100, 150]], equal_nan=True)


@pytest.mark.parametrize(
    "limit",
    [
        make_limit("copper"),
        make_limit("unobtainium"),
    ],
)
def test_that_limits_that_cannot_be_judged_here_are_left_out(limit):
    table = limit_table([limit], analytes=ANALYTES, numbers=(1,))
    assert table.limits == ()
    assert table.bounds.shape == table.clears.shape == (0, 3)


def test_that_a_missing_test_is_kept_though_nothing_was_ever_tested_for_it():
    limit = make_limit("copper", (1, None, None), kind=LimitKind.MISSING_TEST)
    table = limit_table([limit], analytes=ANALYTES, numbers=(1,))
    assert (table.limits, table.column.tolist()) == ((limit,), [-1])


@pytest.mark.parametrize(
    ("chosen", "clears"),
    [
        ([make_limit(bounds=(60, 100, None))], [51, 85, np.nan]),
        ([make_limit(bounds=(-10, -20, None), direction="down")], [-8.5, -17, np.nan]),
        ([make_limit(bounds=(40, 20, None), direction="down")], [46, 23, np.nan]),
        ([make_limit(bounds=(-30, -20, None))], [-34.5, -23, np.nan]),
        ([make_limit(bounds=(1, None, None), kind=LimitKind.MISSING_TEST)], [1, np.nan, np.nan]),
        (
            [
                make_limit(bounds=(10, None, None)),
                make_limit(bounds=(8, 7, None), direction="down"),
            ],
            [10, np.nan, np.nan],
        ),
    ],
    ids=["rising", "falling below zero", "falling", "rising below zero", "missing", "both sides"],
)
def test_that_a_band_clears_short_of_its_bound(chosen, clears):
    table = limit_table(chosen, analytes=ANALYTES, numbers=(1,))
    assert np.array_equal(table.clears[0], clears, equal_nan=True)


@pytest.mark.parametrize(
    ("limit", "places"),
    [
        (make_limit("iron"), 0),
        (make_limit("iron", (60, 100.25, None)), 2),
        (make_limit("copper"), 1),
        (make_limit("copper", (None, 0.125, None)), 3),
        (make_limit("iron", (10, 20, None), kind=LimitKind.CHANGE), 0),
        (make_limit("iron", (10, 20, None), kind=LimitKind.CHANGE_PERCENT), 1),
        (make_limit("iron", (10, 20.05, None), kind=LimitKind.CHANGE_PERCENT), 2),
    ],
)
def test_that_values_are_compared_at_the_finest_places_of_method_and_bounds(limit, places):
    table = limit_table([limit], analytes=ANALYTES, numbers=(1, 5))
    assert table.places.tolist() == [places]


@pytest.mark.parametrize(
    "changes",
    [
        {"analyte": "copper"},
        {"kind": LimitKind.CHANGE},
        {"direction": "down", "bounds": (150, 100, 60)},
        {"bounds": (60, 100, 151)},
        {"bounds": (60, 100, None)},
        {"boundary": "beyond"},
        {"scope": Scope(compartment_kind="engine")},
        {"source": "another"},
        {"set_by": "somebody else"},
    ],
)
def test_that_every_change_that_a_reader_would_see_changes_the_fingerprint(changes):
    chosen = [make_limit("iron"), make_limit(**({"analyte": "iron"} | changes))]
    first, second = limit_table(chosen, analytes=ANALYTES, numbers=(1, 5)).weight
    assert (first != second).any()


def test_that_a_fingerprint_is_the_same_in_every_run():
    # Stored with assessments: a changed fingerprint would rewrite every verdict of a fleet.
    table = limit_table([make_limit("iron")], analytes=ANALYTES, numbers=(1,))
    again = limit_table([make_limit("iron")], analytes=ANALYTES, numbers=(1, 5))
    assert table.weight.tolist() == again.weight.tolist() == [FINGERPRINTS]


FINGERPRINTS = [0, 677942030837219501, 5117510200197839735, 13282956312834804091]
