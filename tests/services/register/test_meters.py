from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fluiddesk.domain.errors import NotFoundError
from fluiddesk.domain.identity import MachineId, SampleId
from fluiddesk.domain.samples import Sample, SampleReason, SampleState
from fluiddesk.services.register.facts import MachineFacts, MeterFacts, ReadingFacts
from fluiddesk.services.register.machines import save_machine
from fluiddesk.services.register.meters import add_reading, save_meter, void_reading
from fluiddesk.services.register.saving import RegisterFaultsError
from fluiddesk.services.register.templates import add_machine_by_template
from fluiddesk.services.workplace import Workplace
from tests.services.register.desk import (
    MOMENT,
    START,
    TODAY,
    Register,
    add_excavator,
    opened,
)


def hours(register: Register) -> list[float | None]:
    return [one.true_hours for one in register.record().readings if one.voided_reason is None]


def test_that_a_reading_moves_the_hours_the_fleet_is_planned_by(either_register: Register) -> None:
    for day, value in ((0, 10.0), (30, 250.0), (60, 490.0)):
        either_register.read(day, value)
    machine = either_register.record().machine
    assert (machine.hours_now, machine.hours_as_of) == (490.0, START + timedelta(60))
    with either_register.place.store.reading() as desk:
        usage = desk.fleet.usage()[either_register.machine]
    assert (usage.hours_per_day, usage.readings) == (8.0, 3)
    assert either_register.check() == []


def test_that_a_replacement_changes_nothing_but_the_meter(either_register: Register) -> None:
    either_register.read(20, 100.0)
    either_register.read(50, 600.0)
    before = hours(either_register)
    either_register.replace_meter(60, 5.0, ends_last_at=680.0)
    assert hours(either_register) == before
    either_register.read(70, 85.0)
    assert hours(either_register) == [100.0, 600.0, 760.0]
    meters = either_register.record().meters
    assert [(one.start_value, one.end_value, one.hours_before) for one in meters] == [
        (0.0, 680.0, 0.0),
        (5.0, None, 680.0),
    ]
    assert meters[0].removed_on == meters[1].fitted_on == START + timedelta(60)


def test_that_a_replacement_without_an_end_starts_from_the_last_reading(
    register: Register,
) -> None:
    register.read(50, 600.0)
    register.replace_meter(60, 0.0)
    assert [one.hours_before for one in register.record().meters] == [0.0, 600.0]


def test_that_a_meter_that_rolled_over_counts_on(register: Register) -> None:
    meter = register.record().meters[0]
    rolls = replace(meter, rolls_over_at=10_000.0, start_value=9_900.0)
    save_meter(register.place, rolls, today=TODAY, moment=MOMENT)
    register.read(5, 9_990.0)
    register.read(10, 40.0)
    assert hours(register) == [90.0, 140.0]


@pytest.mark.parametrize(
    ("day", "value", "words"),
    [
        (60, 400.0, "shows 400 h on 2024-03-01 but showed 500 h on 2024-02-20"),
        (60, 5000.0, "can show 764 h at most. Was it 500 h?"),
        (60, -1.0, "cannot be -1"),
        (60, float("nan"), "cannot be nan"),
        (-1, 5.0, "before it was fitted on 2024-01-01"),
        (40, 600.0, "shows 500 h on 2024-02-20 but showed 600 h on 2024-02-10"),
        (912, 600.0, "2026-07-01, lies in the future"),
    ],
)
def test_that_a_reading_that_cannot_be_true_is_refused_and_nothing_saved(
    register: Register, day: int, value: float, words: str
) -> None:
    register.read(50, 500.0)
    with pytest.raises(RegisterFaultsError, match=words) as told:
        register.read(day, value)
    assert str(told.value).startswith("Machine EX-01: ")
    assert ", row" not in str(told.value)
    assert hours(register) == [500.0]


def test_that_a_reading_a_day_too_fast_is_saved_with_a_warning(register: Register) -> None:
    # Read in the morning, and in the evening of the next day: days know no time.
    register.read(50, 500.0)
    assert register.read(51, 510.0).warnings == ()
    [warning] = register.read(52, 537.0).warnings
    assert (warning.field, warning.value) == ("value", "537")
    assert warning.text.startswith(
        "The meter shows 537 h on 2024-02-22 but showed 510 h on 2024-02-21: 27 h in 1 day. Check"
    )
    with pytest.raises(RegisterFaultsError, match="it can show 585 h at most"):
        register.read(53, 586.0)
    assert hours(register) == [500.0, 510.0, 537.0]


def test_that_an_old_fault_does_not_keep_new_readings_out(register: Register) -> None:
    register.read(50, 500.0)
    with register.place.store.transaction(who="Kim", moment=MOMENT) as desk:
        bad = ("site_id", "id", "machine_id", "read_on", "value", "true_hours", "source")
        day = START + timedelta(55)
        row = (register.site, desk.new_id(), register.machine, day, 50.0, 50.0, "desk")
        desk.load("meter_reading", bad, [row])
    register.read(60, 560.0)
    assert hours(register) == [500.0, 50.0, 560.0]


def test_that_a_voided_reading_counts_no_more_but_stays_with_its_reason(
    register: Register,
) -> None:
    register.read(10, 80.0)
    register.read(20, 170.0)
    last = register.record().readings[-1]
    void_reading(register.place, last, reason="read off twice", today=TODAY, moment=MOMENT)
    assert register.record().machine.hours_now == 80.0
    assert [one.voided_reason for one in register.record().readings] == [None, "read off twice"]
    register.read(20, 160.0)
    with pytest.raises(RegisterFaultsError, match="reason is missing"):
        void_reading(register.place, last, reason=" ", today=TODAY, moment=MOMENT)


def test_that_without_a_reading_nothing_is_said_of_how_much_the_machine_runs(
    register: Register,
) -> None:
    register.read(10, 80.0)
    only = register.record().readings[0]
    void_reading(register.place, only, reason="another machine", today=TODAY, moment=MOMENT)
    assert register.record().machine.hours_now is None


def test_that_a_corrected_meter_puts_samples_and_readings_right(
    either_register: Register,
) -> None:
    register = either_register
    register.read(50, 500.0)
    box = register.box()
    with register.place.store.transaction(who="Kim", moment=MOMENT) as desk:
        sample = Sample(
            site=register.site, id=SampleId(desk.new_id()), compartment=box.id, bottle_code="",
            reason=SampleReason.ROUTINE, state=SampleState.TAKEN, taken_on=START + timedelta(50),
            meter_value=500.0, true_hours=500.0, fluid_hours=200.0,
        )  # fmt: skip
        desk.sampling.add_samples([sample])
    meter = replace(register.record().meters[0], hours_before=1000.0)
    save_meter(register.place, meter, today=TODAY, moment=MOMENT)
    assert hours(register) == [1500.0]
    with register.place.store.reading() as desk:
        [after] = desk.sampling.samples_of(box.id)
    assert (after.true_hours, after.fluid_hours) == (1500.0, 1200.0)


def test_that_a_second_first_meter_and_a_replacement_of_none_are_refused(
    register: Register,
) -> None:
    first = MeterFacts(site=register.site, machine=register.machine, fitted_on=START)
    with pytest.raises(RegisterFaultsError, match="has a meter already"):
        save_meter(register.place, first, today=TODAY, moment=MOMENT)
    with pytest.raises(RegisterFaultsError, match="cannot be fitted on 2024-01-01"):
        register.replace_meter(0, 0.0)
    facts = MachineFacts(site=register.site, code="EX-09", kind="excavator", model="A")
    bare = save_machine(register.place, facts, today=TODAY, moment=MOMENT)
    other = replace(register, machine=MachineId(bare.row))
    with pytest.raises(RegisterFaultsError, match="no meter yet"):
        other.replace_meter(10, 0.0)
    with pytest.raises(RegisterFaultsError, match="Record its meter first"):
        other.read(10, 0.0)


def test_that_a_replacement_under_which_readings_could_not_be_true_is_refused(
    register: Register,
) -> None:
    register.read(50, 600.0)
    register.read(100, 1000.0)
    with pytest.raises(RegisterFaultsError):
        register.replace_meter(60, 2000.0, ends_last_at=700.0)
    with pytest.raises(RegisterFaultsError, match="Correct the reading") as told:
        register.replace_meter(110, 0.0, ends_last_at=900.0)
    assert [one.field for one in told.value.faults] == ["ends_last_at"]
    assert len(register.record().meters) == 1


steps = st.lists(
    st.tuples(
        st.integers(1, 40),
        st.floats(0.0, 24.0),
        st.booleans(),
        st.sampled_from([0.0, 3.0, 777.0]),
    ),
    min_size=1,
    max_size=8,
)


@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=steps)
def test_that_true_hours_never_fall_and_add_up_over_every_replacement(
    either_place: Workplace, steps: list[tuple[int, float, bool, float]]
) -> None:
    register = _another(either_place)
    day, age, shown = 0, 0.0, 0.0
    expected = []
    for gap, rate, is_replaced, start in steps:
        ran = float(int(rate * gap))
        day, age, shown = day + gap, age + ran, shown + ran
        if is_replaced:
            register.replace_meter(day, start, ends_last_at=shown)
            shown = start
        register.read(day, shown)
        expected.append(age)
        told = hours(register)
        assert told == pytest.approx(expected)
        assert told == sorted(told, key=lambda one: one or 0.0)
    assert register.record().machine.hours_now == pytest.approx(age)


@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    shown=st.lists(st.floats(0.0, 24.0), max_size=4),
    start=st.sampled_from([0.0, 3.0, 9000.0]),
    after=st.integers(1, 30),
)
def test_that_a_meter_replacement_changes_nothing_but_the_meter(
    either_place: Workplace, shown: list[float], start: float, after: int
) -> None:
    register = _another(either_place)
    value = 0.0
    for number, risen in enumerate(shown):
        value += float(int(risen))
        register.read(number + 1, value)
    before, facts = register.record(), register.facts()
    register.replace_meter(len(shown) + after, start)
    now, facts_now = register.record(), register.facts()
    assert len(now.meters) == len(before.meters) + 1
    assert replace(now, meters=before.meters) == before
    assert replace(facts_now, meters=facts.meters, missing=facts.missing) == facts
    assert now.meters[-1].hours_before == pytest.approx(value)


def _another(place: Workplace) -> Register:
    with place.store.reading() as desk:
        sites = desk.fleet.sites()
        count = len(desk.fleet.machines())
    if not sites:
        return opened(place)
    site = sites[0].site
    return Register(place=place, site=site, machine=add_excavator(place, site, f"EX-{count:03}"))


def test_that_a_reading_for_a_machine_that_is_not_there_is_told(register: Register) -> None:
    facts = ReadingFacts(site=register.site, machine=MachineId(bytes(16)), read_on=TODAY, value=1.0)
    with pytest.raises(NotFoundError, match="machine"):
        add_reading(register.place, facts, today=TODAY, moment=MOMENT)


@pytest.mark.parametrize(
    ("began", "now", "meter"),
    [
        (START, None, (START, 0.0, 0.0)),
        (START, 6_000.0, (START, 0.0, 0.0)),
        (TODAY - timedelta(10), 6_000.0, (TODAY, 6_000.0, 6_000.0)),
        (None, 6_000.0, (TODAY, 6_000.0, 6_000.0)),
        (None, None, None),
    ],
)
def test_that_a_machine_with_years_on_it_starts_from_what_its_meter_shows_today(
    register: Register,
    began: date | None,
    now: float | None,
    meter: tuple[date, float, float] | None,
) -> None:
    facts = MachineFacts(
        site=register.site, code="EX-77", kind="excavator", model="A", in_service_on=began
    )
    made = add_machine_by_template(register.place, facts, hours_now=now, today=TODAY, moment=MOMENT)
    record = replace(register, machine=MachineId(made.row)).record()
    told = [(one.fitted_on, one.start_value, one.hours_before) for one in record.meters]
    assert told == ([] if meter is None else [meter])
    assert record.machine.hours_now == now


def test_that_a_meter_in_kilometres_counts_an_hour_for_sixteen(register: Register) -> None:
    # US Army TB 43-0211, paragraph 6-4d: without an hour meter 16 km count as one hour.
    facts = MachineFacts(site=register.site, code="TR-01", kind="rigid_truck", model="A")
    meter = MeterFacts(site=register.site, machine=register.machine, unit="km", fitted_on=START)
    made = add_machine_by_template(register.place, facts, meter=meter, today=TODAY, moment=MOMENT)
    truck = replace(register, machine=MachineId(made.row))
    truck.read(30, 1_600.0)
    assert hours(truck) == [100.0]
