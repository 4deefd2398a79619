"""A machine that changed its site: one history over both, and one place in the fleet."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import pytest

from fluiddesk.domain.fleet import EventKind
from fluiddesk.domain.identity import CompartmentId, MachineId, SampleId, SiteId, bottle_code
from fluiddesk.domain.samples import Sample, SampleReason, SampleState
from fluiddesk.domain.severity import Severity
from fluiddesk.services.compartment_history.facts import CompartmentHistory
from fluiddesk.services.compartment_history.read import compartment_history, find_compartment
from fluiddesk.services.fleet_condition import BoxRow, fleet_condition
from fluiddesk.services.reassess.fleet import BoxFacts, reassess_fleet
from fluiddesk.services.register.boxes import add_event
from fluiddesk.services.register.facts import EventFacts, SiteFacts
from fluiddesk.services.register.sites import save_site
from fluiddesk.services.register.transfer import transfer_machine
from tests.fleets import LAST_DAY, NOW, Fleet, results

MOVED = LAST_DAY - timedelta(3)
FIRST_THERE = LAST_DAY - timedelta(1)


@dataclass(frozen=True, kw_only=True)
class Moved:
    """An engine with a year of samples whose machine went to another site."""

    fleet: Fleet
    before: BoxFacts
    after: BoxFacts
    then: CompartmentHistory

    def now(self) -> CompartmentHistory:
        return compartment_history(self.fleet.place, self.after.compartment_id, today=LAST_DAY)

    def on_fleet_page(self) -> BoxRow | None:
        rows = fleet_condition(self.fleet.place, today=LAST_DAY).rows
        return next((one for one in rows if one.compartment_id == self.after.compartment_id), None)

    def draw(self, box: BoxFacts, number: int, *, on: date = FIRST_THERE, hours: float) -> str:
        code = bottle_code(f"26T{number:05}")
        with self.fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
            sample = Sample(
                site=box.site_id,
                id=SampleId(desk.new_id()),
                compartment=box.compartment_id,
                bottle_code=code,
                reason=SampleReason.ROUTINE,
                state=SampleState.SHIPPED,
                taken_on=on,
                meter_value=None,
                true_hours=hours,
                fluid_hours=10.0,
            )
            desk.sampling.add_samples([sample])
        return code

    def report(self, bottle: str, *, iron: float) -> None:
        row = results(bottle, iron=iron, silver="<1")
        self.fleet.take_in(self.fleet.lab_file(f"{bottle}.csv", row))


def site(fleet: Fleet, name: str) -> SiteId:
    saved = save_site(fleet.place, SiteFacts(name=name), today=LAST_DAY, moment=NOW)
    return SiteId(int(saved.key))


def hand_over(fleet: Fleet, box: BoxFacts, *, to: SiteId, on: date = MOVED) -> BoxFacts:
    with fleet.place.store.reading() as desk:
        machine = desk.fleet.compartment(box.compartment_id).machine
    saved = transfer_machine(fleet.place, machine, to=to, on=on, today=LAST_DAY, moment=NOW)
    with fleet.place.store.reading() as desk:
        boxes = desk.fleet.compartments_of(MachineId(saved.row))
    [made] = [one.id for one in boxes if (one.kind, one.position) == (box.kind, box.position)]
    return fleet.box(CompartmentId(made))


@pytest.fixture
def moved(either_fleet: Fleet) -> Moved:
    fleet = either_fleet
    before = fleet.boxes("engine", Severity.NORMAL)[0]
    then = compartment_history(fleet.place, before.compartment_id, today=LAST_DAY)
    assert then.samples[-1].taken_on < MOVED - timedelta(1)
    after = hand_over(fleet, before, to=site(fleet, "Quarry"))
    return Moved(fleet=fleet, before=before, after=after, then=then)


def test_that_a_box_without_a_sample_at_its_new_site_is_told_by_those_before(moved: Moved) -> None:
    now, then = moved.now(), moved.then
    assert (now.site, now.earlier_sites) == ("Quarry", (moved.before.site,))
    assert now.samples == then.samples
    assert (now.severity, now.trust, now.sentence) == (then.severity, then.trust, then.sentence)
    assert now.changed_since == then.changed_since
    assert [one.analyte for one in now.series] == [one.analyte for one in then.series]
    for one, other in zip(now.series, then.series, strict=True):
        np.testing.assert_equal(one.values, other.values)
        assert (one.printed, one.bands) == (other.printed, other.bands)
    assert now.due.due_on == then.due.due_on
    assert moved.fleet.check() == []


def test_that_a_fill_that_went_along_is_told_once(moved: Moved) -> None:
    assert any(one.kind is EventKind.FLUID_CHANGE for one in moved.then.events)
    with moved.fleet.place.store.reading() as desk:
        assert [one.kind for one in desk.fleet.events(moved.after.compartment_id)] == [
            EventKind.FLUID_CHANGE
        ]
    assert moved.now().events == moved.then.events


def test_that_samples_at_the_new_site_go_on_where_the_old_ones_end(moved: Moved) -> None:
    last = moved.then.samples[-1]
    code = moved.draw(moved.after, 1, hours=last.hours + 120)
    moved.report(code, iron=480)
    now = moved.now()
    assert [one.sample_id for one in now.samples[:-1]] == [
        one.sample_id for one in moved.then.samples
    ]
    assert now.samples[-1].bottle_code == code
    assert np.all(np.diff(now.hours) > 0)
    [iron] = [one for one in now.series if one.analyte.code == "iron"]
    [before] = [one for one in moved.then.series if one.analyte.code == "iron"]
    np.testing.assert_equal(iron.values, [*before.values, 480.0])
    assert iron.printed == (*before.printed, "480 mg/kg")
    assert now.severity is Severity.URGENT
    assert "; rising" in now.sentence
    assert now.changed_since.startswith(f"Since {last.taken_on}: Iron")
    row = moved.on_fleet_page()
    assert row is not None
    assert row.severity == Severity.URGENT
    assert moved.fleet.check() == []


def test_that_the_fill_is_counted_on_over_both_sites(moved: Moved) -> None:
    last = moved.then.samples[-1]
    moved.report(moved.draw(moved.after, 1, hours=last.hours + 50), iron=10)
    # A change on the day of a sample came after it.
    since = [
        one
        for one in moved.then.events
        if one.kind is EventKind.FLUID_CHANGE and one.happened_on >= last.taken_on
    ]
    assert moved.now().samples[-1].fill == last.fill + len(since)
    change = EventFacts(
        site=moved.after.site_id,
        compartment=moved.after.compartment_id,
        kind=EventKind.FLUID_CHANGE,
        happened_on=MOVED + timedelta(1),
    )
    add_event(moved.fleet.place, change, today=LAST_DAY, moment=NOW)
    now = moved.now()
    assert now.samples[-1].fill == last.fill + len(since) + 1
    assert now.events[-1].happened_on == change.happened_on


def test_that_a_late_report_of_the_old_site_is_told_at_the_new_one_too(moved: Moved) -> None:
    on = MOVED - timedelta(1)
    code = moved.draw(moved.before, 1, on=on, hours=moved.then.samples[-1].hours + 5)
    assert moved.now().due.awaited_on == on
    moved.report(code, iron=480)
    now = moved.now()
    assert now.severity is Severity.URGENT
    assert now.samples[-1].bottle_code == code
    row = moved.on_fleet_page()
    assert row is not None
    assert (row.severity, row.headline) == (Severity.URGENT, "Iron 480 mg/kg, limit 150")


def test_that_the_fleet_shows_a_machine_once_with_the_standing_it_came_with(moved: Moved) -> None:
    fleet = moved.fleet
    rows = fleet_condition(fleet.place, today=LAST_DAY).rows
    assert moved.before.compartment_id not in [one.compartment_id for one in rows]
    row = moved.on_fleet_page()
    assert row is not None
    assert (row.severity, str(row.taken_on)) == (
        moved.before.severity, str(moved.then.samples[-1].taken_on),
    )  # fmt: skip
    before = fleet.dump()["current_condition"]
    reassess_fleet(fleet.place, moment=NOW)
    assert fleet.dump()["current_condition"] == before


def test_that_the_history_goes_through_every_owner(moved: Moved) -> None:
    fleet = moved.fleet
    third = hand_over(fleet, moved.after, to=site(fleet, "Harbour"), on=MOVED + timedelta(2))
    told = compartment_history(fleet.place, third.compartment_id, today=LAST_DAY)
    assert told.earlier_sites == (moved.before.site, "Quarry")
    assert told.samples == moved.then.samples
    assert told.events == moved.then.events
    assert told.severity == moved.then.severity
    assert fleet.box(third.compartment_id).severity == moved.before.severity


def test_that_a_machine_number_means_the_record_that_goes_on(moved: Moved) -> None:
    place, machine = moved.fleet.place, moved.after.machine
    assert find_compartment(place, machine, "engine") == moved.after.compartment_id
    found = find_compartment(place, machine, "engine", site=moved.before.site)
    assert found == moved.before.compartment_id
