from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.fleet import (
    Compartment,
    Meter,
    MeterReadingError,
    allowed_band,
    meter_doubts,
    meter_faults,
    refuse_bad_readings,
    true_hours,
)
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


def test_that_a_meter_may_roll_over_many_times():
    rolling = meter(start_value=900.0, hours_before=900.0, rolls_over_at=1_000.0)
    shown = [950.0, 20.0, 700.0, 100.0, 640.0, 90.0]
    readings = [(START + timedelta(60 * turn), value) for turn, value in enumerate(shown)]
    assert hours([rolling], *readings) == [950.0, 1_020.0, 1_700.0, 2_100.0, 2_640.0, 3_090.0]


def test_that_readings_may_come_in_any_order():
    rolling = meter(rolls_over_at=1_000.0)
    readings = [(START + timedelta(90), 50.0), (START, 100.0), (START + timedelta(45), 800.0)]
    assert hours([rolling], *readings) == [1_050.0, 100.0, 800.0]


def test_that_a_small_fall_is_no_roll_over():
    rolling = meter(rolls_over_at=10_000.0)
    assert hours([rolling], (START, 500.0), (START + timedelta(9), 490.0)) == [500.0, 490.0]


def test_that_no_reading_is_no_hour():
    assert hours([meter()]) == []


@given(
    ran=st.lists(st.integers(0, 480), min_size=1, max_size=40),
    start=st.integers(0, 999),
)
def test_that_hours_add_up_over_any_number_of_roll_overs(ran, start):
    ages = np.cumsum(ran).astype(float)
    rolling = meter(start_value=float(start), rolls_over_at=1_000.0)
    readings = [
        (START + timedelta(30 * turn), (start + age) % 1_000.0) for turn, age in enumerate(ages)
    ]
    assert hours([rolling], *readings) == ages.tolist()


def faults(meters, *readings):
    return meter_faults(
        meters,
        read_on=np.array([day.toordinal() for day, _ in readings], dtype=np.int64),
        values=np.array([value for _, value in readings], dtype=np.float64),
        place="Machine 7",
    )


def doubts(meters, *readings):
    return meter_doubts(
        meters,
        read_on=np.array([day.toordinal() for day, _ in readings], dtype=np.int64),
        values=np.array([value for _, value in readings], dtype=np.float64),
    )


def test_that_a_meter_that_runs_backwards_is_told_with_value_place_and_remedy():
    found = faults([meter()], (START, 20.0), (START + timedelta(9), 120.0),
                   (START + timedelta(20), 110.0), (START + timedelta(30), 200.0))  # fmt: skip
    assert [(fault.row, fault.value) for fault in found] == [(2, 110.0)]
    assert found[0].text == (
        "Machine 7, row 3: the meter shows 110 h on 2024-01-21 but showed 120 h on 2024-01-10. "
        "Correct the reading, or record a meter replacement."
    )


def test_that_a_meter_that_runs_faster_than_the_clock_is_told_and_the_slip_guessed():
    found = faults(
        [meter(start_value=1_000.0)],
        (START + timedelta(10), 11_000.0),
        (START + timedelta(20), 1_400.0),
    )
    assert len(found) == 1
    assert "it can show 1264 h at most. Was it 1100 h?" in found[0].text


@pytest.mark.parametrize(
    ("value", "is_true", "is_doubted"),
    [(240.0, True, False), (240.1, True, True), (264.0, True, True), (264.1, False, False)],
)
def test_that_a_meter_counts_at_most_twenty_four_hours_a_day(value, is_true, is_doubted):
    # Plain to see: a day has 24 h, and two readings lie up to a day further apart than their days.
    reading = (START + timedelta(10), value)
    assert (faults([meter()], reading) == []) is is_true
    assert (doubts([meter()], reading) != []) is is_doubted


def test_that_two_readings_of_one_day_lie_a_day_apart_at_most():
    first = (START + timedelta(3), 20.0)
    assert doubts([meter()], first, (START + timedelta(3), 44.0)) == []
    assert [one.row for one in faults([meter()], first, (START + timedelta(3), 44.1))] == [1]


def test_that_a_doubt_is_held_against_the_last_reading_that_can_be_true():
    found = doubts(
        [meter()],
        (START + timedelta(1), 5.0),
        (START + timedelta(2), 9_000.0),
        (START + timedelta(3), 60.0),
        (START + timedelta(4), 80.0),
    )
    assert [(one.row, one.value) for one in found] == [(2, 60.0)]
    assert found[0].text.startswith(
        "the meter shows 60 h on 2024-01-04 but showed 5 h on 2024-01-02: 55 h in 2 days."
    )


def test_that_a_doubt_counts_over_a_roll_over():
    rolling = meter(start_value=9_990.0, rolls_over_at=10_000.0)
    [found] = doubts([rolling], (START + timedelta(1), 17.0))
    assert "27 h in 1 day" in found.text
    assert doubts([rolling], (START + timedelta(1), 14.0)) == []


def test_that_a_meter_in_kilometres_has_its_own_pace():
    assert allowed_band(meter(unit="km"), last_value=5.0, last_on=9, read_on=10) == (5.0, 4_805.0)
    assert faults([meter(unit="km")], (START + timedelta(1), 900.0)) == []
    assert doubts([meter(unit="km")], (START + timedelta(1), 900.0)) == []


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -1.0])
def test_that_what_no_meter_shows_is_refused(value):
    assert "which is no meter value" in faults([meter()], (START, value))[0].text


def test_that_a_roll_over_is_no_fault_but_a_value_past_it_is():
    rolling = meter(start_value=9_900.0, rolls_over_at=10_000.0)
    assert faults([rolling], (START + timedelta(10), 40.0)) == []
    past = faults([rolling], (START + timedelta(10), 10_040.0))
    assert "starts again at 10000" in past[0].text


def test_that_a_reading_older_than_its_meter_is_told():
    assert (
        "before it was fitted on 2024-01-01"
        in faults([meter()], (START - timedelta(1), 1.0))[0].text
    )


def test_that_a_replacement_that_makes_the_machine_younger_is_told():
    meters = [meter(), meter(2, hours_before=50.0)]
    found = faults(meters, (START + timedelta(30), 100.0), (START + timedelta(90), 20.0))
    assert [fault.row for fault in found] == [-1]
    assert "starts at an age of 50 h, but the machine had 100 h" in found[0].text
    meters = [meter(), meter(2, hours_before=100.0)]
    assert faults(meters, (START + timedelta(30), 100.0)) == []


def test_that_bad_readings_are_refused_all_at_once():
    days = START.toordinal() + np.array([1, 2, 3])
    with pytest.raises(MeterReadingError) as refused:
        refuse_bad_readings([meter()], read_on=days, values=np.array([5.0, 900.0, -2.0]))
    lines = str(refused.value).splitlines()
    assert [line.split(":")[0] for line in lines] == ["The machine, row 2", "The machine, row 3"]
    refuse_bad_readings([meter()], read_on=days, values=np.array([5.0, 9.0, 30.0]))


def test_that_a_machine_without_a_meter_is_told():
    nothing = np.zeros(0, dtype=np.int64)
    with pytest.raises(MeterReadingError, match="has no meter"):
        true_hours([], read_on=nothing, values=nothing * 1.0)
    with pytest.raises(MeterReadingError, match="Machine 7 has no meter"):
        faults([])
