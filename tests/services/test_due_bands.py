"""The band around a due day that the meter sets."""

from datetime import timedelta

from fluiddesk.domain.sampling.forecast import forecast_due
from fluiddesk.services.due_bands import band_columns
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
    assert "(80%)" in bands.words(0)


def test_that_fewer_than_three_readings_say_so_and_give_no_band():
    bands = band_columns(fleet(), SEEN)
    assert bands.days(0) is None
    assert "fewer than 3 meter readings" in bands.words(0)
    assert band_columns(fleet(), []).too_few[0]


def test_that_a_box_due_by_the_calendar_or_past_its_day_has_no_band():
    for given in ({"interval_hours": None, "interval_days": 90}, {"true_hours": 700.0}):
        bands = band_columns(fleet(**given), ENOUGH)
        assert bands.days(0) is None
        assert bands.words(0) == ""


def test_that_the_calendar_ends_a_band_that_the_meter_would_stretch_past_it():
    bands = band_columns(fleet(interval_days=31), ENOUGH)
    assert bands.days(0) == (TODAY + timedelta(18), TODAY + timedelta(21))
