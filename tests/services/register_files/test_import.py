"""Register files in: what is added, changed and left; what follows from it."""

import json
from datetime import date

import pytest

from fluiddesk.domain.severity import Severity
from fluiddesk.services.fleet_condition import fleet_condition
from fluiddesk.services.register_files.export import export_register
from fluiddesk.services.register_files.take_in import (
    import_register_files,
    preview_register_files,
)
from tests.fleets import LAST_DAY, NOW, Fleet, differing_tables
from tests.services.register_files.conftest import (
    ENGINE,
    MACHINE,
    SITE,
    Register,
    only_problem,
    write_file,
)


def test_that_columns_come_in_any_order_and_strange_ones_are_told(register: Register):
    sites = register.file("sites.csv", SITE)
    machines = register.file(
        "machines.csv",
        {"colour": "red", "Model": "excavator 30 t", "kind": "Excavator", "MACHINE": "EX-01"},
    )
    preview = register.preview(sites, machines)
    problem = only_problem(preview)
    assert not problem.refuses
    assert problem.line == (
        'machines.csv: Column "colour": machines files have no such column; it is not read. '
        "Correct the heading if it was meant to be one of theirs."
    )
    register.take_in(sites, machines)
    [told] = register.told("machines")
    assert (told["machine"], told["kind"], told["model"]) == (
        "EX-01", "excavator", "excavator 30 t",
    )  # fmt: skip


def test_that_files_are_read_in_the_order_they_build_on_each_other(register: Register):
    files = [
        register.file("compartments.csv", ENGINE),
        register.file("machines.csv", MACHINE),
        register.file("sites.csv", SITE),
    ]
    preview = register.preview(*files)
    assert preview.sentence == "3 to add, 0 to change, 0 unchanged."
    assert [file.kind for file in preview.files] == ["sites", "machines", "compartments"]


def test_that_a_preview_changes_nothing_and_the_import_does_the_same(register: Register):
    files = [register.file("sites.csv", SITE), register.file("machines.csv", MACHINE)]
    before = register.dump()
    preview = register.preview(*files)
    assert differing_tables(before, register.dump()) == set()
    done = import_register_files(register.place, files, today=LAST_DAY, moment=NOW, preview=preview)
    assert done.files == preview.files
    assert register.check() == []


def test_that_importing_again_changes_nothing(register: Register):
    register.set_up(ENGINE)
    before = register.dump()
    again = register.take_in(
        register.folder / "sites.csv",
        register.folder / "machines.csv",
        register.folder / "compartments.csv",
    )
    assert [(one.added, one.changed, one.unchanged) for one in again.files] == [(0, 0, 1)] * 3
    assert differing_tables(before, register.dump()) == set()
    assert not again.changes.subjects


def test_that_a_change_keeps_what_the_file_has_no_column_for(register: Register):
    register.set_up({**ENGINE, "interval_hours": 250, "interval_days": 90, "filter_micron": 12})
    file = register.file(
        "compartments.csv", {"machine": "EX-01", "compartment": "Engine", "interval_hours": ""}
    )
    [outcome] = register.take_in(file).files
    assert (outcome.added, outcome.changed) == (0, 1)
    [told] = register.told("compartments")
    assert (told["interval_hours"], told["interval_days"]) == ("", "90")
    assert (told["capacity_l"], told["filter_micron"]) == ("38", "12")
    with register.place.store.reading() as desk:
        [link] = desk.audit.newest(1, count=1)  # type: ignore[arg-type]
    assert (link.what, link.who) == ("compartment engine of machine EX-01", "Kim")
    assert json.loads(link.old or "") == {"interval_hours": 250}
    assert json.loads(link.new or "") == {"interval_hours": None}


def test_that_a_new_compartment_without_columns_for_it_gets_what_is_usual(register: Register):
    register.set_up(ENGINE)
    [told] = register.told("compartments")
    kind = register.place.catalogue.compartment_kinds["engine"]
    assert float(told["interval_hours"]) == kind.interval_hours
    assert float(told["residue_share"]) == kind.residue_share
    assert told["retired"] == "no"


def test_that_new_records_stand_in_the_audit_trail_with_their_file(register: Register):
    register.set_up(ENGINE)
    with register.place.store.reading() as desk:
        links = desk.audit.newest(1, count=10)  # type: ignore[arg-type]
    told = {link.what: json.loads(link.new or "{}") for link in links}
    assert told["1 compartment from compartments.csv"]["added"] == 1
    assert len(told["1 compartment from compartments.csv"]["sha256"]) == 64
    assert told["machine EX-01"]["kind"] == "excavator"
    assert register.check() == []


def test_that_meter_readings_need_no_meter_but_are_told_so(register: Register):
    register.set_up(ENGINE)
    readings = [
        {"machine": "EX-01", "read_on": day, "value": value}
        for day, value in [("2026-06-01", 1200), ("2026-06-11", 1280), ("2026-06-21", 1360)]
    ]
    file = register.file("meter_readings.csv", *readings)
    problem = only_problem(register.preview(file))
    assert not problem.refuses
    assert "no meter is on the register for EX-01: each gets an hour meter" in problem.text
    register.take_in(file)
    with register.place.store.reading() as desk:
        [machine] = desk.fleet.machines()
        usage = desk.fleet.usage()[machine.id]
        hours = [one.true_hours for one in desk.fleet.meter_readings(machine.id)]
    assert hours == [1200.0, 1280.0, 1360.0]
    # Plain to see: 80 h in 10 days.
    assert (usage.hours_now, usage.as_of, usage.hours_per_day) == (1360.0, date(2026, 6, 21), 8.0)
    assert len(fleet_condition(register.place, today=LAST_DAY)) == 1


def test_that_a_meter_replaced_by_file_moves_no_hours_before_it(register: Register):
    register.set_up(ENGINE)
    register.take_in(
        register.file("meters.csv", {"machine": "EX-01", "fitted_on": "2025-01-01"}),
        register.file(
            "meter_readings.csv",
            {"machine": "EX-01", "read_on": "2025-06-01", "value": 900},
        ),
    )
    register.take_in(
        register.file(
            "meters.csv",
            {"machine": "EX-01", "fitted_on": "2025-07-01", "hours_before": 1000},
        ),
        register.file(
            "meter_readings.csv", {"machine": "EX-01", "read_on": "2025-08-01", "value": 50}
        ),
    )
    with register.place.store.reading() as desk:
        [machine] = desk.fleet.machines()
        hours = [one.true_hours for one in desk.fleet.meter_readings(machine.id)]
        first, second = desk.fleet.meter_records(machine.id)
    assert hours == [900.0, 1050.0]
    assert (first.removed_on, second.removed_on) == (date(2025, 7, 1), None)


def test_that_an_event_gets_the_hours_its_meter_showed_or_those_between_readings(
    register: Register,
):
    register.set_up(ENGINE)
    register.take_in(
        register.file("meters.csv", {"machine": "EX-01", "fitted_on": "2026-01-01",
                                     "hours_before": 5000}),
        register.file(
            "meter_readings.csv",
            {"machine": "EX-01", "read_on": "2026-02-01", "value": 100},
            {"machine": "EX-01", "read_on": "2026-02-11", "value": 200},
        ),
        register.file(
            "events.csv",
            {"machine": "EX-01", "compartment": "engine", "kind": "fluid change",
             "happened_on": "2026-02-06", "meter_value": 140},
            {"machine": "EX-01", "compartment": "engine", "kind": "top_up",
             "happened_on": "2026-02-06", "litres": 3},
        ),
    )  # fmt: skip
    told = {one["kind"]: one for one in register.told("events")}
    assert told["fluid_change"]["machine_hours"] == "5140"
    assert told["top_up"]["machine_hours"] == "5150"
    assert told["top_up"]["fluid"] == ENGINE["fluid"], "the compartment's, without a column fluid"


def test_that_the_same_event_twice_is_told_and_kept_twice(register: Register):
    register.set_up(ENGINE)
    event = {"machine": "EX-01", "compartment": "engine", "kind": "top_up",
             "happened_on": "2026-02-06", "litres": 3}  # fmt: skip
    file = register.file("events.csv", event, event)
    assert "is the same event as in row 2" in only_problem(register.preview(file)).text
    register.take_in(file)
    assert len(register.told("events")) == 2
    [again] = register.take_in(file).files
    assert (again.added, again.unchanged) == (0, 2)


def test_that_a_top_up_beyond_the_capacity_and_no_interval_are_warned_of(register: Register):
    register.set_up()
    boxes = register.file("compartments.csv", {**ENGINE, "interval_hours": "", "interval_days": ""})
    events = register.file(
        "events.csv",
        {"machine": "EX-01", "compartment": "engine", "kind": "top_up",
         "happened_on": "2026-02-06", "litres": 39},
    )  # fmt: skip
    preview = register.preview(boxes, events)
    assert preview.can_import
    assert [(one.column, one.value) for one in preview.problems] == [
        ("interval_hours", "EX-01 engine"),
        ("litres", "39"),
    ]


def test_that_a_state_changed_by_file_holds_from_today(register: Register):
    register.set_up()
    register.take_in(register.file("machines.csv", {"machine": "EX-01", "state": "standby"}))
    [told] = register.told("machine_states")
    assert (told["since"], told["state"]) == (LAST_DAY.isoformat(), "standby")


def test_that_the_newest_state_is_the_machines_state(register: Register):
    register.set_up()
    states = [
        {"machine": "EX-01", "since": "2026-02-01", "state": "down", "note": "gearbox"},
        {"machine": "EX-01", "since": "2026-03-01", "state": "standby"},
    ]
    register.take_in(register.file("machine_states.csv", *states))
    assert register.told("machines")[0]["state"] == "standby"
    clash = [
        register.file("machines.csv", {"machine": "EX-01", "state": "sold"}),
        register.file("machine_states.csv", *states),
    ]
    problem = only_problem(register.preview(*clash))
    assert problem.refuses
    assert "says sold" in problem.text


def test_that_one_serial_on_two_machines_is_warned_of(register: Register):
    two = [{**MACHINE, "serial": "A1"}, {**MACHINE, "machine": "EX-02", "serial": "A1"}]
    sites, machines = register.file("sites.csv", SITE), register.file("machines.csv", *two)
    problem = only_problem(register.preview(sites, machines))
    assert not problem.refuses
    assert "is the serial of machine EX-01 too" in problem.text


@pytest.mark.parametrize("delimiter", [";", "\t"])
def test_that_a_table_cut_by_other_signs_may_have_decimal_commas(
    register: Register, delimiter: str
):
    register.set_up()
    box = {**ENGINE, "capacity_l": "37,5", "residue_share": "0,125"}
    file = register.file("compartments.csv", box, delimiter=delimiter)
    assert register.preview(file).problems == ()
    register.take_in(file)
    [told] = register.told("compartments")
    assert (told["capacity_l"], told["residue_share"]) == ("37.5", "0.125")


def test_that_a_number_that_may_be_thousands_is_warned_of(register: Register):
    register.set_up()
    file = register.file("compartments.csv", {**ENGINE, "capacity_l": "1,200"}, delimiter=";")
    problem = only_problem(register.preview(file))
    assert not problem.refuses
    assert '"1,200" is read as 1.2' in problem.text


def test_that_dates_of_a_spreadsheet_are_read(register: Register):
    import xlsxwriter

    register.take_in(register.file("sites.csv", SITE))
    path = register.folder / "machines.xlsx"
    with xlsxwriter.Workbook(path) as book:
        sheet = book.add_worksheet()
        form = book.add_format({"num_format": "yyyy-mm-dd"})
        sheet.write_row(0, 0, ["machine", "kind", "in_service_on", "criticality"])
        sheet.write_row(1, 0, ["EX-01", "excavator"])
        sheet.write_datetime(1, 2, date(2020, 3, 4), form)
        sheet.write(1, 3, 5)
    register.take_in(path)
    [told] = register.told("machines")
    assert (told["in_service_on"], told["criticality"]) == ("2020-03-04", "5")


def test_that_another_fluid_by_file_is_judged_by_its_limits(fleet: Fleet):
    box = fleet.boxes("engine", Severity.NORMAL)[0]
    file = write_file(
        fleet.folder / "fluids.csv",
        [{"fluid": "engine_oil_15w40", "fluid_class": "gear_oil"}],
    )
    preview = preview_register_files(fleet.place, [file], today=LAST_DAY)
    assert preview.sentence == "0 to add, 1 to change, 0 unchanged."
    import_register_files(fleet.place, [file], today=LAST_DAY, moment=NOW)
    assert fleet.check() == []
    changed = fleet.box(box.compartment_id)
    with fleet.place.store.reading() as desk:
        fluid = desk.fleet.compartment(box.compartment_id).fluid
    expected = "gear_oil" if fluid == "engine_oil_15w40" else box.fluid_class
    assert changed.fluid_class == expected


def test_that_a_new_reference_is_held_against_later_samples(fleet: Fleet):
    box = next(one for one in fleet.boxes("engine") if one.sample_id)
    with fleet.place.store.reading() as desk:
        fluid = desk.fleet.compartment(box.compartment_id).fluid
        numbers = set(desk.fleet.references())
    file = write_file(
        fleet.folder / "fluid_references.csv",
        [{"fluid": fluid, "valid_from": "2020-01-01", "source": "own analysis", "iron": 3}],
    )
    import_register_files(fleet.place, [file], today=LAST_DAY, moment=NOW)
    with fleet.place.store.reading() as desk:
        [new] = set(desk.fleet.references()) - numbers
        history = desk.blocks.one(box.compartment_id)
    assert history is not None
    assert set(history.reference.tolist()) == {new}
    assert fleet.check() == []


def test_that_a_second_reference_of_a_day_is_told_and_holds(register: Register):
    own = {"fluid": "own_oil", "name": "Own oil", "fluid_class": "engine oil",
           "density_kg_per_l": 0.88}  # fmt: skip
    reference = {"fluid": "Own oil", "valid_from": "2026-01-01", "source": "analysis", "iron": 2}
    register.take_in(
        register.file("fluids.csv", own), register.file("fluid_references.csv", reference)
    )
    newer = register.file("fluid_references.csv", {**reference, "iron": 4})
    problem = only_problem(register.preview(newer))
    assert not problem.refuses
    assert "a reference of that day stands already" in problem.text
    register.take_in(newer)
    with register.place.store.reading() as desk:
        [fluid] = [one for one in desk.fleet.fluids() if one.code == "own_oil"]
    assert [one.values["iron"] for one in fluid.references] == [2.0, 4.0]
    empty = register.file("fluid_references.csv", {**reference, "iron": ""})
    assert "the row holds no value" in only_problem(register.preview(empty)).text


def test_that_a_batch_names_a_reference_of_its_fluid(register: Register):
    register.take_in(register.file("sites.csv", SITE))
    batch = {"fluid": "engine_oil_15w40", "batch": "D-1", "delivered_on": "2026-02-01"}
    wrong = register.file("fluid_batches.csv", {**batch, "reference_from": "2026-01-31"})
    problem = only_problem(register.preview(wrong))
    assert (problem.column, problem.value) == ("reference_from", "2026-01-31")
    register.take_in(register.file("fluid_batches.csv", {**batch, "reference_from": "2000-01-01"}))
    later = register.file("fluid_batches.csv", {**batch, "delivered_on": "2026-02-03"})
    [outcome] = register.take_in(later).files
    assert (outcome.added, outcome.changed) == (0, 1)
    [told] = register.told("fluid_batches")
    assert (told["delivered_on"], told["reference_from"]) == ("2026-02-03", "2000-01-01")
    twice = register.file("fluid_batches.csv", batch, batch)
    assert "is the same fluid batch as in row 2" in only_problem(register.preview(twice)).text


def test_that_sites_and_points_are_changed_where_they_stand(register: Register):
    register.set_up(ENGINE)
    place = {"machine": "EX-01", "compartment": "engine"}
    point = {**place, "kind": "Live valve", "location": "filter head", "flush_ml": 100}
    register.take_in(register.file("points.csv", point))
    done = register.take_in(
        register.file("sites.csv", {"site": "NORTH PIT", "time_zone": "Europe/Berlin"}),
        register.file("points.csv", {**place, "location": "filter head", "hazards": "hot"}),
    )
    assert [(one.added, one.changed) for one in done.files] == [(0, 1), (0, 1)]
    [told] = register.told("points")
    assert (told["kind"], told["flush_ml"], told["hazards"]) == ("live valve", "100", "hot")
    [site] = register.told("sites")
    assert (site["site"], site["time_zone"]) == ("North pit", "Europe/Berlin")
    new = register.file("points.csv", {**place, "location": "drain plug"})
    assert {one.column for one in register.preview(new).problems} == {"kind", "flush_ml"}


def test_that_a_meter_on_the_register_is_put_right_by_file_with_its_readings(register: Register):
    register.set_up(ENGINE)
    meter = {"machine": "EX-01", "fitted_on": "2025-01-01"}
    register.take_in(
        register.file("meters.csv", meter),
        register.file("meter_readings.csv", {"machine": "EX-01", "read_on": "2025-06-01",
                                             "value": 900}),
    )  # fmt: skip
    [outcome] = register.take_in(register.file("meters.csv", {**meter, "hours_before": 4000})).files
    assert outcome.changed == 1
    with register.place.store.reading() as desk:
        [machine] = desk.fleet.machines()
        [reading] = desk.fleet.meter_readings(machine.id)
        usage = desk.fleet.usage()[machine.id]
    assert (reading.true_hours, usage.hours_now) == (4900.0, 4900.0)


def test_that_another_model_is_judged_anew(fleet: Fleet):
    box = fleet.boxes("engine")[0]
    file = write_file(
        fleet.folder / "machines.csv",
        [{"site": box.site, "machine": box.machine, "model": "another model"}],
    )
    import_register_files(fleet.place, [file], today=LAST_DAY, moment=NOW)
    assert fleet.box(box.compartment_id).model == "another model"
    assert fleet.check() == []


@pytest.mark.slow
def test_that_a_server_takes_the_files_in_like_a_file_does(either_fleet: Fleet):
    out = either_fleet.folder / "out"
    export_register(either_fleet.place, out)
    box = either_fleet.boxes("engine")[0]
    place = {"site": box.site, "machine": box.machine}
    files = {
        "machines": [{**place, "machine": "NEW-1", "kind": "grader", "model": "grader 15 t"}],
        "machine_states": [{**place, "since": "2026-06-01", "state": "down"}],
        "meter_readings": [{**place, "machine": "NEW-1", "read_on": "2026-06-01", "value": 10}],
        "compartments": [{**place, "compartment": "engine", "capacity_l": 77}],
        "component_fits": [
            {**place, "compartment": "engine", "serial": "S-1", "fitted_on": "2026-06-01"}
        ],
        "events": [
            {**place, "compartment": "engine", "kind": "top_up", "happened_on": "2026-06-02"}
        ],
    }
    paths = [write_file(out / f"{name}_new.csv", rows) for name, rows in files.items()]
    preview = preview_register_files(either_fleet.place, [out], today=LAST_DAY)
    assert not preview.will_change
    before = either_fleet.dump()
    trial = preview_register_files(either_fleet.place, paths, today=LAST_DAY)
    assert differing_tables(before, either_fleet.dump()) == set()
    done = import_register_files(
        either_fleet.place, paths, today=LAST_DAY, moment=NOW, preview=trial
    )
    assert [(one.added, one.changed) for one in done.files] == [
        (1, 0), (1, 0), (1, 0), (0, 1), (1, 0), (1, 0),
    ]  # fmt: skip
    assert either_fleet.check() == []
