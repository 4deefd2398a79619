"""Fluid changes cut the panel; what nobody told is drawn as uncertain."""

from dataclasses import replace

from fluiddesk.charts.event_marks import EventMark, event_marks
from fluiddesk.domain.fleet import Certainty, EventKind
from fluiddesk.services.compartment_history.facts import CompartmentHistory, EventFacts
from tests.desktop.makers_history import make_event, make_history


def marks_of(*events: EventFacts) -> tuple[CompartmentHistory, tuple[EventMark, ...]]:
    history = replace(make_history(samples=4), events=events)
    return history, event_marks(history)


def test_that_a_fluid_change_is_a_line_and_a_top_up_a_tick() -> None:
    _, marks = marks_of(
        make_event(EventKind.FLUID_CHANGE, hours=4500.0), make_event(EventKind.TOP_UP, hours=4300.0)
    )
    kinds = {mark.x: mark.is_line for mark in marks}
    assert kinds[4500.0]
    assert not kinds[4300.0]


def test_that_a_denied_event_is_not_drawn() -> None:
    denied = make_event(EventKind.TOP_UP, hours=4300.0, certainty=Certainty.DENIED)
    _, marks = marks_of(denied)
    assert 4300.0 not in {mark.x for mark in marks}


def test_that_an_event_without_hours_is_not_drawn() -> None:
    history, marks = marks_of(make_event(EventKind.REPAIR, hours=None))
    assert all(mark.is_line for mark in marks)
    assert len(history.events) == 1


def test_that_a_change_of_fill_that_nobody_told_stands_midway_and_uncertain() -> None:
    history, marks = marks_of()
    middle = (history.hours[1] + history.hours[2]) / 2
    assert [(mark.x, mark.is_line, mark.is_certain) for mark in marks] == [(middle, True, False)]


def test_that_a_told_change_is_not_drawn_twice() -> None:
    history = make_history(samples=4)
    told = make_event(EventKind.FLUID_CHANGE, hours=float(history.hours[1]) + 5)
    marks = event_marks(replace(history, events=(told,)))
    assert [mark.is_certain for mark in marks] == [True]


def test_that_a_box_without_samples_has_no_marks() -> None:
    assert event_marks(make_history(samples=0)) == ()
