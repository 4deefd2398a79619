"""Hours, hours on the fluid and dates: where samples, starts and events stand."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from fluiddesk.charts.axes import Axis, axis_frame, axis_ticks, place_text, whole_scale
from fluiddesk.charts.event_marks import MarkKind, event_marks
from fluiddesk.charts.scales import Scale
from fluiddesk.domain.fleet import EventKind
from tests.desktop.makers_history import make_event, make_history
from tests.desktop.makers_wear import make_full_history


def test_that_on_dates_a_sample_stands_on_its_day() -> None:
    history = make_history(samples=3)
    frame = axis_frame(history, Axis.DATE)
    assert frame.x.tolist() == [one.taken_on.toordinal() for one in history.samples]


def test_that_on_fluid_hours_every_fill_begins_at_the_left() -> None:
    history = make_full_history()
    frame = axis_frame(history, Axis.FLUID_HOURS)
    assert {frame.start_of(fill) for fill in set(history.fills.tolist())} == {0.0}
    assert frame.of_start(history.series[0].starts[0]) == 0.0


def test_that_on_hours_a_fill_begins_at_its_change() -> None:
    history = make_full_history()
    frame = axis_frame(history)
    told = history.fill_facts[3]
    assert frame.start_of(told.number) == told.starts_at_hours


def test_that_without_a_recorded_change_the_hours_on_the_fluid_tell_the_start() -> None:
    history = make_history(samples=2)
    first = history.samples[0]
    assert axis_frame(history).start_of(first.fill) == first.hours - first.fluid_hours


def test_that_events_stand_where_the_axis_puts_them() -> None:
    event = replace(
        make_event(EventKind.TOP_UP, hours=4300.0), place_hours=4310.0, fluid_hours=120.0
    )
    history = replace(make_history(samples=4), events=(event,))
    places = {
        axis: [m.x for m in event_marks(history, axis_frame(history, axis)) if not m.is_line]
        for axis in Axis
    }
    day = float(event.happened_on.toordinal())
    assert places == {Axis.HOURS: [4310.0], Axis.FLUID_HOURS: [120.0], Axis.DATE: [day]}


def test_that_a_change_of_fluid_is_no_place_on_the_axis_of_fluid_hours() -> None:
    history = make_history()
    assert not any(m.is_line for m in event_marks(history, axis_frame(history, Axis.FLUID_HOURS)))


def test_that_on_fluid_hours_only_events_of_the_fluid_in_the_box_are_drawn() -> None:
    history = make_full_history()
    last = history.fill_facts[-1]
    assert last.starts_at_hours is not None
    past, now = (
        replace(make_event(EventKind.TOP_UP, hours=None), place_hours=place, fluid_hours=100.0)
        for place in (last.starts_at_hours - 200.0, last.starts_at_hours + 100.0)
    )
    history = replace(history, events=(past, now))
    marks = event_marks(history, axis_frame(history, Axis.FLUID_HOURS))
    assert len(marks) == 1
    assert len([m for m in event_marks(history) if m.kind is MarkKind.TOP_UP]) == 2


def test_that_a_finding_stands_among_the_events() -> None:
    history = make_full_history()
    kinds = [mark.kind for mark in event_marks(history)]
    assert MarkKind.FINDING in kinds


def test_that_the_axis_has_room_for_a_single_sample_and_its_fill() -> None:
    scale = whole_scale(axis_frame(make_history(samples=1)))
    assert scale.high - scale.low > 200


def test_that_the_axis_stands_without_any_sample() -> None:
    for axis in Axis:
        scale = whole_scale(axis_frame(make_history(samples=0), axis))
        assert scale.low < scale.high


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (date(2024, 1, 1), date(2026, 12, 1), ["2024", "2025", "2026"]),
        (date(2026, 1, 20), date(2026, 7, 10), ["2026-03", "2026-05", "2026-07"]),
        (date(2026, 3, 2), date(2026, 3, 20), None),
    ],
)
def test_that_dates_are_ticked_at_round_months_and_years(
    low: date, high: date, words: list[str] | None
) -> None:
    scale = Scale(low=float(low.toordinal()), high=float(high.toordinal()))
    ticks = axis_ticks(Axis.DATE, scale, about=3)
    assert len(ticks) >= 2
    assert all(scale.holds(place) for place, _ in ticks)
    if words is not None:
        assert [text for _, text in ticks] == words


def test_that_a_place_is_written_as_people_write_it() -> None:
    assert place_text(Axis.HOURS, 12_340.0) == "12\u202f340 h"
    assert place_text(Axis.DATE, float(date(2026, 3, 2).toordinal())) == "2026-03-02"
    assert place_text(Axis.HOURS, np.nan) == "\u2013"
