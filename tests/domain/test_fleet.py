from datetime import date, timedelta

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.fleet import Compartment, Meter, true_hours
from fluiddesk.domain.identity import CompartmentId, MachineId, SiteId

START = date(2024, 1, 1)


def hours(meters, *readings):
    days = np.array([day.toordinal() for day, _ in readings])
    values = np.array([value for _, value in readings], dtype=np.float64)
    return true_hours(meters, read_on=days, values=values).tolist()


def meter(months=0, **given):
    return Meter(**({"fitted_on": START + timedelta(30 * months), "start_value": 0.0,
                     "hours_before": 0.0} | given))  # fmt: skip


def test_that_the_age_goes_on_over_a_meter_replacement():
    meters = [meter(), meter(10, start_value=12.0, hours_before=4_100.0)]
    change = meters[1].fitted_on
    assert hours(
        meters,
        (change - timedelta(1), 4_090.0),
        (change, 12.0),
        (change + timedelta(5), 62.0),
    ) == [4_090.0, 4_100.0, 4_150.0]


def test_that_a_reading_before_the_first_meter_counts_on_the_first():
    assert hours([meter(start_value=100.0)], (START - timedelta(9), 130.0)) == [30.0]


def test_that_a_meter_that_rolled_over_goes_on():
    rolling = meter(start_value=9_500.0, hours_before=9_500.0, rolls_over_at=10_000.0)
    assert hours([rolling], (START, 9_990.0), (START + timedelta(9), 40.0)) == [9_990.0, 10_040.0]


def test_that_a_meter_that_cannot_roll_over_runs_backwards_in_plain_sight():
    fixed = meter(start_value=9_500.0, hours_before=9_500.0)
    assert hours([fixed], (START, 9_400.0)) == [9_400.0]


def test_that_sixteen_kilometres_count_as_one_hour():
    # US Army TB 43-0211, para 6-4: where there is no hour meter, 16 km are 1 h.
    assert hours([meter(unit="km", hours_before=100.0)], (START, 1_600.0)) == [200.0]


def test_that_a_kilometre_meter_and_its_successor_in_hours_add_up():
    meters = [meter(unit="km"), meter(1, hours_before=1_000.0)]
    assert hours(meters, (START, 8_000.0), (meters[1].fitted_on, 7.0)) == [500.0, 1_007.0]


@given(
    steps=st.lists(st.tuples(st.integers(0, 40), st.integers(0, 600)), min_size=1, max_size=12),
    replaced=st.lists(st.integers(0, 400), max_size=3, unique=True),
    start=st.sampled_from([0.0, 37.0, 9_000.0]),
    unit=st.sampled_from(["h", "km"]),
)
def test_that_the_age_never_falls_while_the_meters_rise(steps, replaced, start, unit):
    per_hour = 16.0 if unit == "km" else 1.0
    days = np.cumsum([days for days, _ in steps]) + START.toordinal()
    ages = np.cumsum([ran for _, ran in steps]).astype(float)
    fitted = [START.toordinal(), *sorted(START.toordinal() + 1 + day for day in replaced)]
    meters, values = [], np.empty(len(days))
    for place, day in enumerate(fitted):
        before = float(ages[days < day].max(initial=0.0))
        meters.append(
            Meter(
                fitted_on=date.fromordinal(day),
                start_value=start,
                hours_before=before,
                unit=unit,
                rolls_over_at=9_999_999.0 if place % 2 else 10_000.0 * per_hour,
            )
        )
        mine = days >= day
        shown = start + (ages[mine] - before) * per_hour
        values[mine] = shown % meters[-1].rolls_over_at
    found = true_hours(meters, read_on=days, values=values)
    assert (np.diff(found) >= 0).all()
    assert np.allclose(found, ages)


def test_that_a_box_is_named_by_kind_and_position():
    box = Compartment(
        site=SiteId(1),
        id=CompartmentId(bytes(16)),
        machine=MachineId(bytes(16)),
        kind="final_drive",
        position="left",
        fluid="gear_oil",
        capacity_l=30.0,
        residue_share=0.1,
        interval_hours=500.0,
        interval_days=None,
    )
    assert box.name("Final drive") == "Final drive, left"
