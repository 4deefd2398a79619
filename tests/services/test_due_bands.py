"""The band around a due day that the meter sets."""

from datetime import timedelta

from fluiddesk.domain.sampling.forecast import forecast_due
from fluiddesk.services.due_bands import band_columns, early_edge
from fluiddesk.services.fleet_condition import condition_columns
from tests.desktop.makers_fleet import TODAY, box_row

SEEN = [(b"m", TODAY - timedelta(2), 1_000.0), (b"m", TODAY - timedelta(1), 1_006.0)]
ENOUGH = [*SEEN, (b"m", TODAY, 1_016.0)]


def fleet(**given):
    usual = {
        "machine_id": b"m",
        "interval_hours": 250.0,
        "interval_days": None,
        "taken_on": TODAY - timedelta(10),
        "true_hours": 926.0,
        "hours_now": 1_016.0,
        "usage_as_of": TODAY,
        "hours_per_day": 8.0,
    }
    return condition_columns([box_row(**(usual | given))], today=TODAY)


def test_that_the_band_is_the_forecast_of_the_meter_from_its_day_to_day_spread():
    # 160 h at 8 h a day, 2 h more or less from day to day (6 and 10 h were read).
    told = forecast_due(hours_left=160.0, hours_per_day=8.0, sd_per_day=2.0)
    bands = band_columns(fleet(), ENOUGH)
    assert bands.days(0) == (TODAY + timedelta(18), TODAY + timedelta(22))
    assert 18 <= told.low < 20 < told.high <= 22
    assert "(80 %)" in bands.words(0)


def test_that_fewer_than_three_readings_say_so_and_give_no_band():
    bands = band_columns(fleet(), SEEN)
    assert bands.days(0) is None
    assert bands.words(0) == "no band: too few readings (fewer than 3 in twelve weeks)"
    assert band_columns(fleet(), []).too_few[0]


def test_that_a_box_due_by_the_calendar_or_past_its_day_has_no_band():
    for given in ({"interval_hours": None, "interval_days": 90}, {"true_hours": 700.0}):
        bands = band_columns(fleet(**given), ENOUGH)
        assert bands.days(0) is None
        assert bands.words(0) == ""


def test_that_the_calendar_ends_a_band_that_the_meter_would_stretch_past_it():
    bands = band_columns(fleet(interval_days=31), ENOUGH)
    assert bands.days(0) == (TODAY + timedelta(18), TODAY + timedelta(21))


def test_that_a_band_widens_with_the_age_of_the_meter_reading():
    # The same hours are left today, but the last 64 days were not read.
    old = {"usage_as_of": TODAY - timedelta(64), "hours_now": 1_016.0 - 8.0 * 64}
    told = forecast_due(hours_left=160.0, hours_per_day=8.0, sd_per_day=2.0, days_since_read=64)
    earlier = [(machine, day - timedelta(64), hours) for machine, day, hours in ENOUGH]
    low, high = band_columns(fleet(**old), earlier).days(0)
    assert (low, high) == (TODAY + timedelta(17), TODAY + timedelta(23))
    assert 17 <= told.low < 18
    assert 22 < told.high <= 23


def test_that_days_as_text_and_readings_of_machines_not_shown_change_nothing():
    texts = [(b"a", "2026-01-01", 5.0), *((one, str(day), hours) for one, day, hours in ENOUGH)]
    assert band_columns(fleet(), texts).days(0) == band_columns(fleet(), ENOUGH).days(0)


def test_that_a_critical_box_is_planned_on_the_early_edge_inside_its_window():
    wide = [*SEEN, (b"m", TODAY, 1_030.0)]
    for criticality, days in ((3, 0), (4, 18), (5, 18)):
        found = fleet(criticality=criticality)
        assert early_edge(found, band_columns(found, ENOUGH))[0] == (
            TODAY.toordinal() + days if days else 0
        )
    critical = fleet(criticality=5)
    bands = band_columns(critical, wide)
    assert bands.low[0] < critical.due.window_from[0] == early_edge(critical, bands)[0]


def test_that_a_fleet_without_boxes_has_no_bands():
    nobody = condition_columns([], today=TODAY)
    bands = band_columns(nobody, ENOUGH)
    assert len(bands.low) == len(early_edge(nobody, bands)) == 0
