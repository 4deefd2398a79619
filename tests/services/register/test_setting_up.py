from dataclasses import replace
from datetime import date, timedelta

import pytest

from fluiddesk.domain.fleet import MachineState
from fluiddesk.services.register.boxes import add_event, save_compartment, save_point
from fluiddesk.services.register.desk_lists import (
    ordered_tests,
    save_laboratory,
    save_test_list,
    save_user,
)
from fluiddesk.services.register.facts import (
    BatchFacts,
    EventFacts,
    FluidFacts,
    LaboratoryFacts,
    MachineFacts,
    PointFacts,
    SiteFacts,
    TankFacts,
    TestListFacts,
    UserFacts,
)
from fluiddesk.services.register.fluids import add_reference, save_batch, save_fluid, save_tank
from fluiddesk.services.register.machines import save_machine, set_state
from fluiddesk.services.register.saving import RegisterFaultsError, StaleRecordError
from fluiddesk.services.register.sites import save_site
from fluiddesk.services.register.templates import add_machine_by_template
from fluiddesk.services.workplace import Workplace
from tests.fleets import the_catalogue
from tests.services.register.desk import (
    MOMENT,
    START,
    TODAY,
    Register,
    add_excavator,
    add_site,
)


def date_of(day: int) -> date:
    return START + timedelta(day)


def test_that_a_machine_by_its_kind_gets_every_box_with_capacity_interval_fluid_and_point(
    either_register: Register,
) -> None:
    record = either_register.record()
    kind = the_catalogue().machine_kinds["excavator"]
    assert {(one.kind, one.position) for one in record.compartments} == set(kind.boxes)
    assert all(one.capacity_l and one.fluid for one in record.compartments)
    engine = either_register.box()
    assert (engine.capacity_l, engine.interval_hours, engine.interval_days) == (38.0, 250.0, 90)
    assert engine.fluid.startswith("engine_oil")
    assert len(record.points) == len(record.compartments)
    assert [(one.unit, one.fitted_on) for one in record.meters] == [("h", START)]
    assert [(one.state, one.since) for one in record.states] == [(MachineState.WORKING, START)]
    assert either_register.check() == []


def test_that_each_change_is_in_the_audit_trail_with_who_from_and_to(register: Register) -> None:
    box = register.box()
    changed = replace(box, capacity_l=40.0)
    save_compartment(register.place, changed, today=TODAY, moment=MOMENT)
    with register.place.store.reading() as desk:
        newest = desk.audit.newest(register.site, count=1)[0]
        assert desk.audit.verify() == []
    assert (newest.who, newest.what) == ("Kim", "EX-01 Engine")
    assert (newest.old, newest.new) == ('{"capacity_l":38.0}', '{"capacity_l":40.0}')
    assert register.box().version == box.version + 1


def test_that_saving_what_stands_there_already_changes_nothing(register: Register) -> None:
    with register.place.store.reading() as desk:
        before = desk.audit.last_hash(register.site)
    box = register.box()
    save_compartment(register.place, box, today=TODAY, moment=MOMENT)
    with register.place.store.reading() as desk:
        assert desk.audit.last_hash(register.site) == before
    assert register.box() == box


def test_that_the_second_of_two_editors_is_told_and_shown_both_versions(
    either_register: Register,
) -> None:
    box = either_register.box()
    other = Workplace(store=either_register.place.store, catalogue=the_catalogue(), who="Noor")
    save_compartment(other, replace(box, capacity_l=41.0), today=TODAY, moment=MOMENT)
    mine = replace(box, capacity_l=44.0, interval_hours=500.0)
    with pytest.raises(StaleRecordError, match=r"changed by Noor.*theirs 41.0, yours 44.0") as told:
        save_compartment(either_register.place, mine, today=TODAY, moment=MOMENT)
    assert told.value.theirs == {"capacity_l": 41.0, "interval_hours": 250.0}
    assert told.value.yours == {"capacity_l": 44.0, "interval_hours": 500.0}
    assert either_register.box().capacity_l == 41.0


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"capacity_l": None}, "capacity_l", "capacity in litres is missing"),
        ({"capacity_l": 0.0}, "capacity_l", "cannot be 0"),
        ({"capacity_l": float("nan")}, "capacity_l", "cannot be nan"),
        ({"interval_hours": 0.0}, "interval_hours", "interval in hours cannot be 0"),
        ({"interval_days": 0}, "interval_days", "interval in days cannot be 0"),
        ({"residue_share": 1.5}, "residue_share", "cannot be 1.5"),
        ({"fluid": "water"}, "fluid", '"water" is not known'),
        ({"criticality": 9}, "criticality", "cannot be 9"),
        ({"test_list": "none"}, "test_list", '"none" is not known'),
        ({"kind": "final_drive", "position": "left"}, "position", "has this compartment already"),
    ],
)
def test_that_a_box_that_cannot_be_is_refused_with_field_value_and_remedy(
    register: Register, changes: dict[str, object], field: str, words: str
) -> None:
    box = register.box()
    with pytest.raises(RegisterFaultsError, match=words) as told:
        save_compartment(register.place, replace(box, **changes), today=TODAY, moment=MOMENT)  # type: ignore[arg-type]
    assert [fault.field for fault in told.value.faults] == [field]
    assert told.value.faults[0].text.rstrip(".").count(".") >= 1
    assert register.box() == box


def test_that_every_fault_of_a_record_is_told_at_once(register: Register) -> None:
    facts = MachineFacts(
        site=register.site, code="ex-01", kind="spaceship", model="", criticality=0,
        in_service_on=TODAY + timedelta(1),
    )  # fmt: skip
    with pytest.raises(RegisterFaultsError) as told:
        save_machine(register.place, facts, today=TODAY, moment=MOMENT)
    wrong = {fault.field for fault in told.value.faults}
    assert wrong >= {"code", "kind", "model", "criticality", "in_service_on"}
    assert len(register.facts().machines) == 1


def test_that_a_template_that_fails_saves_nothing_of_the_machine(register: Register) -> None:
    facts = MachineFacts(site=register.site, code="EX-02", kind="excavator", model="A")
    with pytest.raises(RegisterFaultsError, match="Fluid"):
        add_machine_by_template(
            register.place, facts, fluids={"swing_drive": "water"}, today=TODAY, moment=MOMENT
        )
    assert [one.code for one in register.facts().machines] == ["EX-01"]
    assert register.check() == []


def test_that_two_sites_may_have_machines_of_one_number_but_one_site_may_not(
    place: Workplace,
) -> None:
    north, south = add_site(place, "North pit"), add_site(place, "South pit")
    add_excavator(place, north)
    add_excavator(place, south)
    with pytest.raises(RegisterFaultsError, match="on this site already"):
        add_excavator(place, south, "ex-01")


def test_that_states_are_kept_with_their_days(register: Register) -> None:
    for state, day in ((MachineState.DOWN, 100), (MachineState.WORKING, 130)):
        set_state(
            register.place, register.machine, state, since=START + timedelta(day), note="axle",
            today=TODAY, moment=MOMENT,
        )  # fmt: skip
    states = [(one.state, (one.since - START).days) for one in register.record().states]
    assert states == [(MachineState.WORKING, 0), (MachineState.DOWN, 100),
                      (MachineState.WORKING, 130)]  # fmt: skip
    with pytest.raises(RegisterFaultsError, match="before the one it has"):
        set_state(
            register.place, register.machine, MachineState.SOLD, since=START + timedelta(50),
            today=TODAY, moment=MOMENT,
        )  # fmt: skip
    with pytest.raises(RegisterFaultsError, match="future"):
        set_state(
            register.place, register.machine, MachineState.SOLD, since=TODAY + timedelta(1),
            today=TODAY, moment=MOMENT,
        )  # fmt: skip


def test_that_a_state_changed_in_the_machines_form_holds_from_today(register: Register) -> None:
    machine = register.record().machine
    sold = replace(machine, state=MachineState.SOLD)
    save_machine(register.place, sold, today=TODAY, moment=MOMENT)
    last = register.record().states[-1]
    assert (last.state, last.since) == (MachineState.SOLD, TODAY)
    assert all(one.machine != machine.id for one in register.facts().missing)


def test_that_sites_refuse_a_doubled_name_an_unknown_zone_and_too_much_dust(
    register: Register,
) -> None:
    facts = SiteFacts(
        name="north PIT", time_zone="Mars/Base", dust_shares={"silicon": 0.9, "aluminium": 0.4}
    )
    with pytest.raises(RegisterFaultsError) as told:
        save_site(register.place, facts, today=TODAY, moment=MOMENT)
    assert [one.field for one in told.value.faults] == ["name", "time_zone", "dust_shares"]


def test_that_a_new_reference_leaves_the_older_one_for_older_samples(register: Register) -> None:
    code = register.box().fluid
    before = next(one for one in register.facts().fluids if one.code == code)
    add_reference(
        register.place, code, valid_from=date_of(10), values={"iron": 3.0}, source="own test",
        today=TODAY, moment=MOMENT,
    )  # fmt: skip
    after = next(one for one in register.facts().fluids if one.code == code)
    assert [one for one in after.references if one in before.references] == list(before.references)
    assert [one.values for one in after.references if one.source == "own test"] == [{"iron": 3.0}]
    with pytest.raises(RegisterFaultsError, match="unobtainium"):
        add_reference(
            register.place, code, valid_from=TODAY, values={"unobtainium": 1.0}, source="x",
            today=TODAY, moment=MOMENT,
        )  # fmt: skip


def test_that_fluids_batches_and_tanks_are_set_up_and_a_fluid_in_use_is_not_retired(
    either_register: Register,
) -> None:
    place, site = either_register.place, either_register.site
    facts = FluidFacts(
        code="own_10w", name="Own oil 10W", fluid_class="transmission_oil", viscosity_grade="10W",
        density_kg_per_l=0.88,
    )  # fmt: skip
    save_fluid(place, facts, today=TODAY, moment=MOMENT)
    batch = BatchFacts(site=site, fluid="own_10w", batch="B-7", delivered_on=START)
    save_batch(place, batch, today=TODAY, moment=MOMENT)
    tank = TankFacts(site=site, code="T1", fluid="own_10w", capacity_l=5000.0)
    save_tank(place, tank, today=TODAY, moment=MOMENT)
    register = either_register.facts()
    assert [one.batch for one in register.batches] == ["B-7"]
    assert [(one.code, one.capacity_l) for one in register.tanks] == [("T1", 5000.0)]
    with pytest.raises(RegisterFaultsError, match=r"batch .B-7. of this fluid already"):
        save_batch(place, batch, today=TODAY, moment=MOMENT)
    box = replace(either_register.box("swing_drive"), fluid="own_10w")
    save_compartment(place, box, today=TODAY, moment=MOMENT)
    own = next(one for one in register.fluids if one.code == "own_10w")
    with pytest.raises(RegisterFaultsError, match="1 compartments hold it"):
        save_fluid(place, replace(own, retired=True), today=TODAY, moment=MOMENT)


def test_that_a_test_list_holds_for_its_kinds_unless_the_box_has_its_own(
    either_register: Register,
) -> None:
    place = either_register.place
    usual = TestListFacts(
        code="engine", name="Engine", compartment_kinds=("engine",), analytes=("iron", "copper")
    )
    save_test_list(place, usual, today=TODAY, moment=MOMENT)
    short = TestListFacts(code="short", name="Short", analytes=("iron",))
    save_test_list(place, short, today=TODAY, moment=MOMENT)
    with place.store.reading() as desk:
        assert ordered_tests(desk, compartment_kind="engine") == ("iron", "copper")
        assert ordered_tests(desk, compartment_kind="engine", own_list="short") == ("iron",)
        assert ordered_tests(desk, compartment_kind="hydraulic") == ()
    taken_over = replace(short, compartment_kinds=("engine",), version=1)
    save_test_list(place, taken_over, today=TODAY, moment=MOMENT)
    lists = {one.code: one.compartment_kinds for one in either_register.facts().test_lists}
    assert lists == {"engine": (), "short": ("engine",)}
    box = replace(either_register.box(), test_list="short")
    save_compartment(place, box, today=TODAY, moment=MOMENT)
    assert either_register.box().test_list == "short"
    with pytest.raises(RegisterFaultsError, match="at least one"):
        save_test_list(place, TestListFacts(code="none", name="None"), today=TODAY, moment=MOMENT)


def test_that_laboratories_and_desk_users_are_set_up(either_register: Register) -> None:
    place = either_register.place
    facts = LaboratoryFacts(
        code="own", name="Invented laboratory", layout="plain", methods={"iron": "own method"},
        lane_days=2,
    )  # fmt: skip
    save_laboratory(place, facts, today=TODAY, moment=MOMENT)
    save_user(place, UserFacts(name="Kim", role="planner"), today=TODAY, moment=MOMENT)
    register = either_register.facts()
    assert [(one.lane_days, one.methods["iron"]) for one in register.laboratories] == [
        (2, "own method")
    ]
    assert [(one.name, one.role) for one in register.users] == [("Kim", "planner")]
    with pytest.raises(RegisterFaultsError, match="already"):
        save_user(place, UserFacts(name="kim"), today=TODAY, moment=MOMENT)
    with pytest.raises(RegisterFaultsError, match="cannot be -1"):
        save_laboratory(place, replace(facts, lane_days=-1, version=1), today=TODAY, moment=MOMENT)


def test_that_a_point_says_how_it_is_drawn_and_refuses_an_unknown_kind(register: Register) -> None:
    facts = PointFacts(
        site=register.site, compartment=register.box().id, kind="live valve",
        location="behind the left door", flush_ml=150.0, hazards="hot surface",
    )  # fmt: skip
    save_point(register.place, facts, today=TODAY, moment=MOMENT)
    mine = [one for one in register.record().points if one.location]
    assert [(one.kind, one.flush_ml, one.hazards) for one in mine] == [
        ("live valve", 150.0, "hot surface")
    ]
    wrong = replace(facts, kind="ladle", flush_ml=-1.0)
    with pytest.raises(RegisterFaultsError) as told:
        save_point(register.place, wrong, today=TODAY, moment=MOMENT)
    assert [one.field for one in told.value.faults] == ["kind", "flush_ml"]


def test_that_an_event_gets_the_hours_the_meter_had_that_day(register: Register) -> None:
    register.read(0, 0.0)
    register.read(100, 800.0)
    facts = EventFacts(
        site=register.site, compartment=register.box().id, happened_on=date_of(50), litres=2.0
    )
    add_event(register.place, facts, today=TODAY, moment=MOMENT)
    with register.place.store.reading() as desk:
        events = desk.fleet.events(register.box().id)
    assert [(one.true_hours, one.fluid) for one in events] == [(400.0, register.box().fluid)]
    with pytest.raises(RegisterFaultsError, match="future"):
        add_event(
            register.place, replace(facts, happened_on=TODAY + timedelta(1)), today=TODAY,
            moment=MOMENT,
        )  # fmt: skip


def test_that_an_empty_register_says_what_comes_first(place: Workplace) -> None:
    from fluiddesk.services.register.read import register_facts

    told = [one.field for one in register_facts(place, today=TODAY).missing if one.blocks]
    assert told == ["sites"]
    add_site(place, "North pit")
    told = [one.field for one in register_facts(place, today=TODAY).missing if one.blocks]
    assert told == ["machines"]


def test_that_a_box_without_an_interval_and_a_meter_never_read_are_told(
    register: Register,
) -> None:
    box = replace(register.box("hydraulic"), interval_hours=None, interval_days=None)
    save_compartment(register.place, box, today=TODAY, moment=MOMENT)
    blocking = [(one.record, one.field, one.key) for one in register.facts().missing if one.blocks]
    assert blocking == [
        ("meter", "reading", register.machine),
        ("compartment", "interval_hours", box.id),
    ]
    register.read(900, 5000.0)
    told = [one.text for one in register.facts().missing if one.blocks]
    assert told == ["It has no interval: it never falls due. Give hours, days or both."]


@pytest.mark.parametrize(
    ("kind", "hours", "days"),
    [("engine", 50.0, 90), ("engine", 50.0, 180), ("hydraulic", None, 365), ("engine", 100.0, 90)],
)
def test_that_the_published_intervals_can_be_set_whichever_comes_first(
    register: Register, kind: str, hours: float | None, days: int
) -> None:
    # US Army TM 5-3895-383-24, paragraph 1-12c (roller: 50 h or 90 days, 180 in the reserve;
    # hydraulic oil once a year) and TB 43-0211, paragraph 6-4d (truck: 100 h or 90 days).
    box = replace(register.box(kind), interval_hours=hours, interval_days=days)
    save_compartment(register.place, box, today=TODAY, moment=MOMENT)
    after = register.box(kind)
    assert (after.interval_hours, after.interval_days) == (hours, days)
    assert all(
        one.key != box.id or one.field != "interval_hours" for one in register.facts().missing
    )
