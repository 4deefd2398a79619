"""Forecasts kept as they were made and marked by what came."""

from dataclasses import replace
from datetime import timedelta

import pytest

from fluiddesk.domain.fleet import EventKind
from fluiddesk.domain.severity import Severity
from fluiddesk.services.compartment_history.forecast_keeping import (
    MOST_AT_ONCE,
    Kept,
    forecast_scores,
    keep_after,
    keep_forecasts,
)
from fluiddesk.services.compartment_history.forecasts import FROM_CHANGE, score_of
from fluiddesk.services.compartment_history.log_event import EventEntry, log_event
from fluiddesk.services.compartment_history.read import compartment_history
from fluiddesk.storage import ForecastRecord, ForecastTally
from tests.fleets import LAST_DAY, NOW, Fleet, results

BY_HAND = "by hand"
"""Stands in the forecasts that a test made itself; they come first in ``kept``."""


def engine(fleet: Fleet):
    """An engine whose fill goes on after its last sample."""
    for box in fleet.boxes("engine"):
        told = compartment_history(fleet.place, box.compartment_id, today=LAST_DAY)
        last = told.samples[-1].taken_on
        changes = [one for one in told.events if one.kind is EventKind.FLUID_CHANGE]
        if box.severity == Severity.NORMAL and all(one.happened_on < last for one in changes):
            return box
    raise AssertionError("every engine was changed at its last sample")


def keep(fleet: Fleet, box) -> Kept:
    return keep_forecasts(fleet.place, [box.compartment_id], today=LAST_DAY, moment=NOW)


def kept(fleet: Fleet, box) -> list[ForecastRecord]:
    with fleet.place.store.reading() as desk:
        found = desk.forecasts.of_compartment(box.compartment_id)
    return sorted(found, key=lambda one: one.program_version != BY_HAND)


def by_hand(fleet: Fleet, box, *, bound: float, p90: float, at: int = -1, why: str = ""):
    """A forecast of iron at one of the samples, with numbers of the test's own."""
    told = compartment_history(fleet.place, box.compartment_id, today=LAST_DAY)
    sample = told.samples[at]
    record = ForecastRecord(
        site=box.site_id, compartment=box.compartment_id, sample=sample.sample_id, analyte="iron",
        severity=int(Severity.ACT), bound=bound, at_hours=sample.hours, p10=0.1 * p90,
        p50=0.5 * p90, p90=p90, chance_before_due=0.1, why=why, program_version=BY_HAND,
        inputs_digest=f"{bound}-{p90}",
    )  # fmt: skip
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        assert desk.forecasts.add([record]) == 1
    return sample


def test_that_a_forecast_is_kept_once_for_what_it_rests_on(either_fleet: Fleet):
    fleet = either_fleet
    box = engine(fleet)
    assert keep(fleet, box).kept == 1
    assert keep(fleet, box).kept == 0
    [one] = kept(fleet, box)
    assert one.outcome == "open"
    assert one.made_at == NOW
    assert (one.p50 is None) == bool(one.why and not one.why.startswith(FROM_CHANGE))
    assert fleet.check() == []


def test_that_taking_in_a_report_keeps_the_forecast_of_its_box(fleet: Fleet):
    box = engine(fleet)
    fleet.take_in(fleet.lab_file("one.csv", results(fleet.draw(box, 1), iron=40)))
    newest = compartment_history(fleet.place, box.compartment_id, today=LAST_DAY).samples[-1]
    assert [one.sample for one in kept(fleet, box)] == [newest.sample_id]


def test_that_many_boxes_at_once_are_left_to_the_command(fleet: Fleet):
    box = engine(fleet)
    many = [box.compartment_id] * 1 + [bytes([n]) * 16 for n in range(MOST_AT_ONCE)]
    assert keep_after(fleet.place, many, today=LAST_DAY, moment=NOW) == Kept()
    assert keep_after(fleet.place, [], today=LAST_DAY, moment=NOW) == Kept()


def test_that_a_busy_database_keeps_nothing_and_holds_nobody_up(fleet: Fleet):
    box = engine(fleet)
    with fleet.place.store.transaction(who="Kim", moment=NOW):
        assert keep_after(fleet.place, [box.compartment_id], today=LAST_DAY, moment=NOW) == Kept()


def test_that_a_limit_reached_later_is_marked_at_the_hour_between_the_samples(fleet: Fleet):
    box = engine(fleet)
    told = compartment_history(fleet.place, box.compartment_id, today=LAST_DAY)
    iron = next(one for one in told.series if one.analyte.code == "iron")
    value = float(iron.values[-1])
    sample = by_hand(fleet, box, bound=value + 10, p90=900.0)
    code = fleet.draw(box, 1, on=LAST_DAY - timedelta(1))
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        drawn = next(
            one for one in desk.sampling.samples_of(box.compartment_id) if one.bottle_code == code
        )
        desk.sampling.update_samples(
            [replace(drawn, true_hours=sample.hours + 100, fill_number=sample.fill)]
        )
    fleet.take_in(fleet.lab_file("one.csv", results(code, iron=round(value + 20))))
    [one, *_] = kept(fleet, box)
    assert one.outcome == "crossed"
    assert one.crossed_at_hours == pytest.approx(sample.hours + 50, abs=3)
    assert one.marked_at == NOW


def test_that_a_change_of_fluid_cuts_a_forecast_off(fleet: Fleet):
    box = engine(fleet)
    sample = by_hand(fleet, box, bound=500.0, p90=900.0)
    entry = EventEntry(
        kind=EventKind.FLUID_CHANGE, happened_on=sample.taken_on + timedelta(1), is_confirmed=True
    )
    log_event(fleet.place, box.compartment_id, entry, today=LAST_DAY, moment=NOW)
    first, *rest = kept(fleet, box)
    assert first.outcome == "cut_off"
    # The next one is made for the fill that began, and says so where it has numbers.
    assert all(one.why for one in rest)


def test_that_a_box_that_ran_past_the_band_without_reaching_it_is_marked_so(fleet: Fleet):
    for box in fleet.boxes():
        told = compartment_history(fleet.place, box.compartment_id, today=LAST_DAY)
        fills = [one.samples for one in told.fill_facts if one.samples[1] - one.samples[0] > 1]
        if fills and any(one.analyte.code == "iron" for one in told.series):
            break
    else:
        raise AssertionError("no box was sampled twice in one fill")
    by_hand(fleet, box, bound=5000.0, p90=1.0, at=fills[0][0])
    keep(fleet, box)
    assert kept(fleet, box)[0].outcome == "not_crossed"


def test_that_a_limit_that_moved_cuts_a_forecast_off(fleet: Fleet):
    box = engine(fleet)
    by_hand(fleet, box, bound=123.456, p90=900.0)
    keep(fleet, box)
    first = kept(fleet, box)[0]
    assert first.outcome == "cut_off"


def test_that_a_forecast_stays_open_while_nothing_is_known(fleet: Fleet):
    box = engine(fleet)
    told = compartment_history(fleet.place, box.compartment_id, today=LAST_DAY)
    iron = next(one for one in told.series if one.analyte.code == "iron")
    act = next(band.act for band in iron.bands if band.act is not None)
    by_hand(fleet, box, bound=act, p90=900.0)
    keep(fleet, box)
    assert kept(fleet, box)[0].outcome == "open"


# --- the score ------------------------------------------------------------------------------------


def test_that_ten_known_ones_are_told_as_a_share_and_a_middle_error():
    tally = ForecastTally(
        kind="engine", outcomes={"crossed": 8, "not_crossed": 2, "cut_off": 3, "open": 4},
        inside=7, errors=(-40.0, -20, -10, 0, 10, 20, 30, 60),
    )  # fmt: skip
    score = score_of(tally, "Engine")
    assert score.inside == 0.7
    assert score.median_error_hours == 5.0
    assert (score.marked, score.crossed, score.cut_off, score.open) == (10, 8, 3, 4)
    assert "7 of 10 came inside" in score.sentence
    assert "5 h later" in score.sentence


def test_that_few_known_ones_are_counted_only():
    tally = ForecastTally(kind="engine", outcomes={"crossed": 2}, inside=2, errors=(1.0, 2.0))
    score = score_of(tally, "Engine")
    assert score.inside is None
    assert "It takes 10" in score.sentence
    assert "yet" in score_of(None, "Engine").sentence


def test_that_the_page_and_the_command_tell_how_forecasts_fared(fleet: Fleet):
    box = engine(fleet)
    told = compartment_history(fleet.place, box.compartment_id, today=LAST_DAY)
    iron = next(one for one in told.series if one.analyte.code == "iron")
    act = next(band.act for band in iron.bands if band.act is not None)
    by_hand(fleet, box, bound=act, p90=900.0)
    page = compartment_history(fleet.place, box.compartment_id, today=LAST_DAY).hours_left.score
    assert page.open == 1
    assert [one.open for one in forecast_scores(fleet.place)] == [1]
