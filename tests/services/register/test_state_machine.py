"""Random work on a register: whatever is done or refused, the store stays whole."""

from dataclasses import replace
from datetime import timedelta
from itertools import count

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from fluiddesk.domain.fleet import MachineState
from fluiddesk.domain.identity import MachineId
from fluiddesk.services.register.boxes import save_compartment
from fluiddesk.services.register.components import fit_component
from fluiddesk.services.register.facts import FitFacts
from fluiddesk.services.register.history import CannotUndoError, undo_last_change
from fluiddesk.services.register.machines import set_state
from fluiddesk.services.register.saving import RegisterFaultsError, StaleRecordError
from fluiddesk.services.register.transfer import transfer_machine
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import RecordKind
from tests.services.register.desk import (
    MOMENT,
    START,
    TODAY,
    Register,
    add_excavator,
    add_site,
)

NAMES = count()
SERIALS = ("A", "B", "C")


class RegisterWork(RuleBasedStateMachine):
    """Readings, replacements, fits, states, transfers and edits of one machine after another."""

    place: Workplace

    def __init__(self) -> None:
        super().__init__()
        number = next(NAMES)
        self.sites = [add_site(self.place, f"site {number} {word}") for word in ("a", "b")]
        machine = add_excavator(self.place, self.sites[0], f"M{number}")
        self.now = Register(place=self.place, site=self.sites[0], machine=machine)
        self.day, self.shown, self.age, self.capacity = 0, 0.0, 0.0, 38.0
        self.ages: list[float] = []
        self.undoable = False
        self.state_since = 0
        self.tick = count(1)

    @property
    def moment(self):  # type: ignore[no-untyped-def]
        return MOMENT + timedelta(seconds=next(self.tick))

    @rule(gap=st.integers(1, 20), rate=st.integers(0, 24))
    def read_the_meter(self, gap: int, rate: int) -> None:
        self.day += gap
        self.shown += rate * gap
        self.age += rate * gap
        self.now.read(self.day, self.shown)
        self.ages.append(self.age)

    @rule(gap=st.integers(1, 20), start=st.sampled_from([0.0, 12.0, 9000.0]))
    def replace_the_meter(self, gap: int, start: float) -> None:
        self.day += gap
        self.now.replace_meter(self.day, start, ends_last_at=self.shown)
        self.shown = start

    @precondition(lambda self: self.shown > 1)
    @rule()
    def read_the_meter_backwards(self) -> None:
        with pytest.raises(RegisterFaultsError):
            self.now.read(self.day + 1, self.shown - 1.0)

    @rule(serial=st.sampled_from(SERIALS), side=st.sampled_from(["left", "right"]))
    def fit_a_component(self, serial: str, side: str) -> None:
        box = self.now.box("final_drive", side)
        facts = FitFacts(
            site=box.site, compartment=box.id, serial=f"{serial}{self.sites[0]}",
            fitted_on=START + timedelta(self.day), condition="used",
        )  # fmt: skip
        try:
            fit_component(self.place, facts, today=TODAY, moment=self.moment)
        except RegisterFaultsError as refused:
            assert "sits in" in str(refused)  # noqa: PT017  # the only fault there can be here

    @rule(capacity=st.sampled_from([30.0, 40.0, 50.0]))
    def correct_a_capacity(self, capacity: float) -> None:
        box = self.now.box()
        save_compartment(
            self.place, replace(box, capacity_l=capacity), today=TODAY, moment=self.moment
        )
        if capacity == self.capacity:
            return
        with pytest.raises(StaleRecordError):
            save_compartment(
                self.place, replace(box, capacity_l=60.0), today=TODAY, moment=self.moment
            )
        self.before, self.capacity, self.undoable = self.capacity, capacity, True

    @precondition(lambda self: self.undoable)
    @rule()
    def take_it_back(self) -> None:
        box = self.now.box()
        undo_last_change(
            self.place, "compartment", box.id, site=box.site, today=TODAY, moment=self.moment
        )
        self.before, self.capacity = self.capacity, self.before

    @rule(state=st.sampled_from([MachineState.WORKING, MachineState.DOWN, MachineState.STANDBY]))
    def change_the_state(self, state: MachineState) -> None:
        set_state(
            self.place, self.now.machine, state, since=START + timedelta(self.day), today=TODAY,
            moment=self.moment,
        )  # fmt: skip
        assert self.now.record().machine.state is state

    @rule()
    def hand_the_machine_over(self) -> None:
        if len(self.sites) > 4:
            return
        to = add_site(self.place, f"site {next(NAMES)} next")
        self.sites.append(to)
        saved = transfer_machine(
            self.place, self.now.machine, to=to, on=START + timedelta(self.day), today=TODAY,
            moment=self.moment,
        )  # fmt: skip
        self.now = Register(place=self.place, site=to, machine=MachineId(saved.row))
        self.undoable = False
        box = self.now.box()
        with pytest.raises(CannotUndoError):
            undo_last_change(
                self.place, "compartment", box.id, site=box.site, today=TODAY, moment=self.moment
            )

    @invariant()
    def true_hours_are_those_run_and_never_fall(self) -> None:
        record = self.now.record()
        machines = [one.id for one in record.earlier] + [record.machine.id]
        told: list[float] = []
        with self.place.store.reading() as desk:
            for machine in machines:
                told += [one.true_hours for one in desk.fleet.meter_readings(machine)]
        # A transfer carries the last reading over: it stands in both records.
        assert sorted(set(told)) == pytest.approx(sorted(set(self.ages)))
        assert told == sorted(told)
        assert (record.machine.hours_now or 0.0) == pytest.approx(self.age)

    @invariant()
    def each_serial_sits_in_one_place_at_most(self) -> None:
        with self.place.store.reading() as desk:
            fitted = desk.register.all(RecordKind.FIT, removed_on=None)
        serials = [one["serial"] for one in fitted]
        assert len(serials) == len(set(serials))
        boxes = [one["compartment_id"] for one in fitted]
        assert len(boxes) == len(set(boxes))

    @invariant()
    def the_box_holds_what_was_saved_last(self) -> None:
        assert self.now.box().capacity_l == self.capacity

    def teardown(self) -> None:
        assert self.now.check() == []


@pytest.mark.slow
def test_that_no_order_of_work_breaks_the_register(either_place: Workplace) -> None:
    class Work(RegisterWork):
        place = either_place

    run_state_machine_as_test(
        Work,
        settings=settings(
            max_examples=4,
            stateful_step_count=10,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
