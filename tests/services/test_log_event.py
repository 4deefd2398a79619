"""What happened to a box, logged later than its samples: all that depends on it follows."""

from dataclasses import replace
from datetime import timedelta

import pytest

from fluiddesk.domain.fleet import Certainty, EventKind
from fluiddesk.domain.severity import Severity
from fluiddesk.services.changes import Subject
from fluiddesk.services.compartment_history.log_event import (
    EventEntry,
    EventRefusedError,
    check_event,
    log_event,
    withdraw_event,
)
from fluiddesk.services.compartment_history.read import compartment_history
from fluiddesk.services.fill_renewal import fluid_changes
from tests.fleets import LAST_DAY, NOW, Fleet


def engine(fleet: Fleet):
    return fleet.boxes("engine", Severity.NORMAL)[0]


def check(fleet: Fleet, box, entry):
    return check_event(fleet.place, box.compartment_id, entry, today=LAST_DAY)


def log(fleet: Fleet, box, entry):
    return log_event(fleet.place, box.compartment_id, entry, today=LAST_DAY, moment=NOW)


def taken(fleet: Fleet, box):
    return sorted(
        (one for one in fleet.samples(box.compartment_id) if one.taken_on is not None),
        key=lambda one: one.taken_on,
    )


def events(fleet: Fleet, box):
    with fleet.place.store.reading() as desk:
        return desk.fleet.events(box.compartment_id)


def quiet_day(fleet: Fleet, box):
    """A day between the last two samples, with no event near."""
    earlier, later = taken(fleet, box)[-2:]
    busy = {one.happened_on for one in events(fleet, box)}
    day = earlier.taken_on + timedelta(days=(later.taken_on - earlier.taken_on).days // 2)
    while any(abs((day - one).days) < 2 for one in busy):
        day += timedelta(days=1)
    assert earlier.taken_on < day < later.taken_on
    return day


# --- a change -------------------------------------------------------------------------------------


def test_that_a_change_logged_late_moves_the_samples_after_it_to_its_fill(either_fleet: Fleet):
    fleet = either_fleet
    box = engine(fleet)
    before = taken(fleet, box)
    day = quiet_day(fleet, box)
    saved = log(fleet, box, EventEntry(kind=EventKind.FLUID_CHANGE, happened_on=day, litres=30))
    after = taken(fleet, box)
    change = next(one for one in events(fleet, box) if one.id == saved.event_id)
    later = [(old, new) for old, new in zip(before, after, strict=True) if old.taken_on > day]
    assert later
    for old, new in later:
        assert new.fill_number == old.fill_number + 1
    assert after[-1].fluid_hours == pytest.approx(after[-1].true_hours - change.true_hours)
    assert [one for one in after if one.taken_on <= day] == [
        one for one in before if one.taken_on <= day
    ]
    assert "another fill" in saved.told
    assert Subject.RESULTS in saved.changes.subjects
    assert fleet.check() == []
    told = compartment_history(fleet.place, box.compartment_id, today=LAST_DAY)
    assert told.samples[-1].fill == after[-1].fill_number
    assert told.samples[-1].fluid_hours == pytest.approx(after[-1].fluid_hours)
    assert told.fill_facts[-1].starts_on == day


def test_that_samples_after_the_next_change_keep_their_hours_on_the_fluid(fleet: Fleet):
    box = engine(fleet)
    changes = fluid_changes(events(fleet, box))
    before = {one.id: one for one in taken(fleet, box)}
    first = changes[0].happened_on
    day = first - timedelta(days=3)
    entry = EventEntry(kind=EventKind.FLUID_CHANGE, happened_on=day, is_confirmed=True)
    log(fleet, box, entry)
    for one in taken(fleet, box):
        if one.taken_on > first:
            assert one.fluid_hours == before[one.id].fluid_hours
            assert one.fill_number == before[one.id].fill_number + 1


def test_that_a_change_withdrawn_puts_everything_back(fleet: Fleet):
    box = engine(fleet)
    before = taken(fleet, box)
    day = quiet_day(fleet, box)
    saved = log(fleet, box, EventEntry(kind=EventKind.FLUID_CHANGE, happened_on=day))
    withdraw_event(
        fleet.place, box.compartment_id, saved.event_id, reason="wrong machine", today=LAST_DAY,
        moment=NOW,
    )  # fmt: skip
    after = taken(fleet, box)
    assert [one.fill_number for one in after] == [one.fill_number for one in before]
    for old, new in zip(before, after, strict=True):
        assert new.fluid_hours == pytest.approx(old.fluid_hours, abs=1.0)
    denied = [one for one in events(fleet, box) if one.certainty is Certainty.DENIED]
    assert [one.happened_on for one in denied] == [day]
    assert "wrong machine" in denied[0].note
    assert fleet.check() == []


def test_that_an_event_cannot_be_withdrawn_twice_or_without_a_reason(fleet: Fleet):
    box = engine(fleet)
    day = quiet_day(fleet, box)
    saved = log(fleet, box, EventEntry(kind=EventKind.FILTER_CHANGE, happened_on=day))
    with pytest.raises(EventRefusedError, match="Say why"):
        withdraw_event(fleet.place, box.compartment_id, saved.event_id, reason=" ",
                       today=LAST_DAY, moment=NOW)  # fmt: skip
    withdraw_event(fleet.place, box.compartment_id, saved.event_id, reason="no", today=LAST_DAY,
                   moment=NOW)  # fmt: skip
    with pytest.raises(EventRefusedError, match="not in force"):
        withdraw_event(fleet.place, box.compartment_id, saved.event_id, reason="no",
                       today=LAST_DAY, moment=NOW)  # fmt: skip


# --- top-ups and the rest -------------------------------------------------------------------------


def test_that_a_top_up_with_litres_raises_the_wear_that_the_fill_must_have_had(fleet: Fleet):
    box = engine(fleet)

    def rate():
        told = compartment_history(fleet.place, box.compartment_id, today=LAST_DAY)
        iron = next(one for one in told.wear.metals if one.analyte.code == "iron")
        return iron.fills[-1].ppm_per_100_h

    last = taken(fleet, box)[-1]
    change = [one for one in fluid_changes(events(fleet, box)) if one.happened_on < last.taken_on]
    day = change[-1].happened_on + (last.taken_on - change[-1].happened_on) / 2
    before = rate()
    log(fleet, box, EventEntry(kind=EventKind.TOP_UP, happened_on=day, litres=12,
                               is_confirmed=True))  # fmt: skip
    assert rate() > before


@pytest.mark.parametrize("kind", [EventKind.FILTER_CHANGE, EventKind.STAND_DOWN])
def test_that_other_events_are_kept_and_move_no_sample(kind, fleet: Fleet):
    box = engine(fleet)
    before = taken(fleet, box)
    saved = log(fleet, box, EventEntry(kind=kind, happened_on=quiet_day(fleet, box), note="seen"))
    assert taken(fleet, box) == before
    found = next(one for one in events(fleet, box) if one.id == saved.event_id)
    assert (found.kind, found.note, found.fluid) == (kind, "seen", None)


def test_that_a_component_is_fitted_with_its_serial_and_wear_counts_from_it(fleet: Fleet):
    box = engine(fleet)
    day = quiet_day(fleet, box)
    saved = log(
        fleet, box, EventEntry(kind=EventKind.COMPONENT_FIT, happened_on=day, serial="S-77 new")
    )
    told = compartment_history(fleet.place, box.compartment_id, today=LAST_DAY)
    fitted = [one for one in told.events if one.kind is EventKind.COMPONENT_FIT]
    assert fitted[-1].note == "S-77 new"
    assert saved.event_id
    with pytest.raises(EventRefusedError, match="Register page"):
        withdraw_event(fleet.place, box.compartment_id, fitted[-1].event_id, reason="no",
                       today=LAST_DAY, moment=NOW)  # fmt: skip


def test_that_a_meter_value_keyed_with_an_event_counts_as_a_reading(fleet: Fleet):
    box = engine(fleet)
    with fleet.place.store.reading() as desk:
        machine = desk.fleet.compartment(box.compartment_id).machine
        readings = desk.fleet.meter_readings(machine)
    last = readings[-1]
    entry = EventEntry(
        kind=EventKind.FILTER_CHANGE, happened_on=LAST_DAY, meter_value=last.value + 1
    )
    found = check(fleet, box, entry)
    assert found.may_save
    assert found.hours == pytest.approx(last.true_hours + 1)
    log(fleet, box, entry)
    with fleet.place.store.reading() as desk:
        assert desk.fleet.meter_readings(machine)[-1].value == last.value + 1


# --- what is refused and what is asked ------------------------------------------------------------


def entry(kind, fleet, box, **more):
    return EventEntry(kind=kind, happened_on=more.pop("on", quiet_day(fleet, box)), **more)


def test_that_what_cannot_be_is_refused_with_what_to_do(fleet: Fleet):
    box = engine(fleet)
    top_up, change, repair, fit, filters = (
        EventKind.TOP_UP, EventKind.FLUID_CHANGE, EventKind.REPAIR, EventKind.COMPONENT_FIT,
        EventKind.FILTER_CHANGE,
    )  # fmt: skip
    wrong = {
        "lies ahead": entry(top_up, fleet, box, litres=2, on=LAST_DAY + timedelta(1)),
        "Give the litres": entry(top_up, fleet, box),
        "Correct the litres": entry(top_up, fleet, box, litres=9000),
        "litres cannot be": entry(change, fleet, box, litres=-3),
        "has no litres": entry(filters, fleet, box, litres=3),
        "what was repaired": entry(repair, fleet, box),
        "known by its serial": entry(fit, fleet, box),
        "no machine hours": entry(filters, fleet, box, hours=float("nan")),
        "Correct the reading": entry(filters, fleet, box, meter_value=-1.0),
        'no fluid "nothing"': entry(change, fleet, box, fluid="nothing"),
    }
    for text, one in wrong.items():
        found = check(fleet, box, one)
        assert not found.may_save
        assert any(text in told for told in found.refused), (text, found)
        with pytest.raises(EventRefusedError, match=text.split()[0]):
            log(fleet, box, one)


def test_that_what_is_odd_is_asked_and_saved_once_it_is_confirmed(fleet: Fleet):
    box = engine(fleet)
    with fleet.place.store.reading() as desk:
        register = desk.fleet.compartment(box.compartment_id)
        others = {one.fluid_class: one.code for one in desk.fleet.fluids()}
    other = next(code for kind, code in others.items() if kind != box.fluid_class)
    known = [one for one in events(fleet, box) if one.kind is EventKind.FLUID_CHANGE][-1]
    odd = {
        "Was this another one?": EventEntry(
            kind=EventKind.FLUID_CHANGE, happened_on=known.happened_on
        ),
        "Was it a fluid change?": entry(
            EventKind.TOP_UP, fleet, box, litres=0.8 * register.capacity_l
        ),
        "Is that right?": entry(EventKind.FLUID_CHANGE, fleet, box, litres=2 * register.capacity_l),
        "another class": entry(EventKind.FLUID_CHANGE, fleet, box, fluid=other),
        "Are the hours right?": entry(EventKind.FILTER_CHANGE, fleet, box, hours=99_000),
        "more than a year ago": entry(
            EventKind.FILTER_CHANGE, fleet, box, on=LAST_DAY - timedelta(days=500)
        ),
    }
    for text, one in odd.items():
        found = check(fleet, box, one)
        assert found.may_save
        assert any(text in told for told in found.asks), (text, found)
        with pytest.raises(EventRefusedError):
            log(fleet, box, one)
    saved = log(fleet, box, replace(odd["another class"], is_confirmed=True))
    assert next(one for one in events(fleet, box) if one.id == saved.event_id).fluid == other
