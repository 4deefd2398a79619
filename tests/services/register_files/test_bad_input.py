"""What cannot be true in a register file is told with row, value and remedy; nothing is saved."""

from collections.abc import Mapping

import pytest

from fluiddesk.domain.errors import NotFoundError, OperatorError, StaleEditError
from fluiddesk.services.register_files.reading import RegisterFileError
from fluiddesk.services.register_files.take_in import (
    RegisterImportError,
    import_register_files,
    preview_register_files,
)
from tests.fleets import LAST_DAY, NOW, differing_tables
from tests.services.register_files.conftest import (
    ENGINE,
    MACHINE,
    SITE,
    Register,
    lines,
    only_problem,
)

READING = {"machine": "EX-01", "read_on": "2026-06-01", "value": 1200}


def test_that_a_machine_number_twice_in_a_file_names_both_rows(register: Register):
    sites = register.file("sites.csv", SITE)
    machines = register.file("machines.csv", MACHINE, {**MACHINE, "machine": "ex-01"})
    problem = only_problem(register.preview(sites, machines))
    assert (problem.file, problem.row, problem.column, problem.value) == (
        "machines.csv", 3, "machine", "ex-01",
    )  # fmt: skip
    assert problem.line == (
        'machines.csv: Row 3, column "machine": "ex-01" is the same machine as in row 2. '
        "Take one of the rows out."
    )


@pytest.mark.parametrize(
    ("name", "row", "place", "told"),
    [
        (
            "compartments.csv",
            {**ENGINE, "capacity_l": ""},
            (2, "capacity_l", ""),
            "the cell is empty. Write the litres of a fill, from the machine's manual.",
        ),
        (
            "compartments.csv",
            {"machine": "EX-01", "compartment": "engine_coolant", "fluid": "coolant_organic_50"},
            (2, "capacity_l", ""),
            "a compartment needs its capacity. Write the litres from the machine's manual. "
            "Often it is about 55 litres.",
        ),
        (
            "compartments.csv",
            {**ENGINE, "interval_hours": 0},
            (2, "interval_hours", "0"),
            '"0" is not above 0. Write the hours or days between samples; leave it empty for none.',
        ),
        (
            "compartments.csv",
            {**ENGINE, "interval_days": 0},
            (2, "interval_days", "0"),
            '"0" is below 1. Write the hours or days between samples; leave it empty for none.',
        ),
        (
            "compartments.csv",
            {**ENGINE, "change_interval_hours": -250},
            (2, "change_interval_hours", "-250"),
            '"-250" is not above 0. Write the hours or days between fluid changes; leave it empty '
            "for none.",
        ),
        (
            "compartments.csv",
            {**ENGINE, "change_interval_days": 0},
            (2, "change_interval_days", "0"),
            '"0" is below 1. Write the hours or days between fluid changes; leave it empty for '
            "none.",
        ),
        (
            "compartments.csv",
            {**ENGINE, "interval_hours": 250, "change_interval_hours": 24},
            (2, "change_interval_hours", "24"),
            '"24" is less than a tenth of the sampling interval. Correct one of the two intervals.',
        ),
        (
            "compartments.csv",
            {**ENGINE, "capacity_l": "38 l"},
            (2, "capacity_l", "38 l"),
            '"38 l" is not a number. Write the number alone, without a unit: 12.5.',
        ),
        (
            "compartments.csv",
            {**ENGINE, "capacity_l": "37,5"},
            (2, "capacity_l", "37,5"),
            '"37,5" has a comma. Write the decimal point as a point: 12.5.',
        ),
        (
            "compartments.csv",
            {**ENGINE, "compartment": "enginne"},
            (2, "compartment", "enginne"),
            '"enginne" is not known. Did you mean engine?',
        ),
        (
            "compartments.csv",
            {**ENGINE, "fluid": "engine_oil_15w41"},
            (2, "fluid", "engine_oil_15w41"),
            '"engine_oil_15w41" is not known. Did you mean engine_oil_15w40?',
        ),
        (
            "compartments.csv",
            {**ENGINE, "machine": "EX-99"},
            (2, "machine", "EX-99"),
            '"EX-99" is no machine of the register. Correct the number, or import it in '
            "machines.csv too.",
        ),
        (
            "machines.csv",
            {**MACHINE, "machine": "EX-02", "kind": "exavator"},
            (2, "kind", "exavator"),
            '"exavator" is not known. Did you mean excavator?',
        ),
        (
            "machines.csv",
            {**MACHINE, "machine": "EX-02", "in_service_on": "2026-07-01"},
            (2, "in_service_on", "2026-07-01"),
            '"2026-07-01" lies in the future. Correct the date.',
        ),
        (
            "machines.csv",
            {**MACHINE, "machine": "EX-02", "in_service_on": "07/01/2026"},
            (2, "in_service_on", "07/01/2026"),
            '"07/01/2026" is not a date. Write the day as year, month and day: 2026-03-01.',
        ),
        (
            "machines.csv",
            {**MACHINE, "machine": "EX-02", "criticality": 9},
            (2, "criticality", "9"),
            '"9" is above 5. Write 1 (least) to 5 (most).',
        ),
        (
            "machines.csv",
            {**MACHINE, "machine": "EX-02", "site": "North pitt"},
            (2, "site", "North pitt"),
            '"North pitt" is not known. Did you mean North pit?',
        ),
        (
            "meter_readings.csv",
            {**READING, "read_on": "2026-07-01"},
            (2, "read_on", "2026-07-01"),
            '"2026-07-01" lies in the future. Correct the date.',
        ),
        (
            "events.csv",
            {"machine": "EX-01", "compartment": "engine", "kind": "top_up",
             "happened_on": "2026-02-30"},
            (2, "happened_on", "2026-02-30"),
            '"2026-02-30" is not a day of the calendar. Correct the date.',
        ),
        (
            "events.csv",
            {"machine": "EX-01", "compartment": "hydraulic", "kind": "top_up",
             "happened_on": "2026-02-03"},
            (2, "compartment", "hydraulic"),
            '"hydraulic" is no compartment of machine EX-01. It has: engine. Correct compartment '
            "or position, or import it in compartments.csv too.",
        ),
        (
            "sites.csv",
            {"site": "South pit", "dust_shares": "silicon=0.8; aluminium=0.4"},
            (2, "dust_shares", "silicon=0.8; aluminium=0.4"),
            '"silicon=0.8; aluminium=0.4" adds up to 1.2. Together the shares can be 1 at most.',
        ),
        (
            "fluids.csv",
            {"fluid": "engine_oil_15w40", "retired": "yes"},
            (2, "retired", "yes"),
            '"yes" cannot be: 1 compartment holds it. Give them another fluid first.',
        ),
        (
            "compartments.csv",
            {**ENGINE, "test_list": "full"},
            (2, "test_list", "full"),
            '"full" is no test list of the register. Import it in test_lists.csv too, or leave the '
            "cell empty.",
        ),
        (
            "test_lists.csv",
            {"test_list": "full", "name": "Full", "analytes": "iron; irn"},
            (2, "analytes", "irn"),
            '"irn" is no analyte. Write a code of the list of analytes, for example iron or '
            "viscosity_40c.",
        ),
        (
            "test_lists.csv",
            {"test_list": "full", "name": "Full", "analytes": "iron; iron"},
            (2, "analytes", "iron"),
            '"iron" stands twice in the list. Leave one out.',
        ),
        (
            "test_lists.csv",
            {"test_list": "full", "name": "Full", "analytes": "iron",
             "compartment_kinds": "enginne"},
            (2, "compartment_kinds", "enginne"),
            '"enginne" is not known. Did you mean engine?',
        ),
        (
            "laboratories.csv",
            {"laboratory": "lab_z", "name": "Lab Z", "lane_days": 400},
            (2, "lane_days", "400"),
            '"400" is above 365. Write days, or leave it empty.',
        ),
        (
            "laboratory_methods.csv",
            {"laboratory": "lab_z", "analyte": "iron", "method": "emission"},
            (2, "laboratory", "lab_z"),
            '"lab_z" is no laboratory of the register. Import it in laboratories.csv too.',
        ),
        (
            "tanks.csv",
            {"tank": "T1", "fluid": "engine_oil_15w40", "capacity_l": 0},
            (2, "capacity_l", "0"),
            '"0" is not above 0. Write litres; leave it empty where not known.',
        ),
        (
            "machine_transfers.csv",
            {"machine": "EX-01", "to_site": "North pit", "moved_on": "2026-06-01"},
            (2, "to_site", "North pit"),
            '"North pit" is the site it came from. Write the site that took it.',
        ),
        (
            "machine_transfers.csv",
            {"machine": "EX-01", "to_site": "Quarry", "moved_on": "2026-06-01"},
            (2, "to_site", "Quarry"),
            '"Quarry" is not known. Write one of: North pit.',
        ),
    ],
)  # fmt: skip
def test_that_a_cell_that_cannot_be_true_is_told_with_its_place_and_remedy(
    register: Register,
    name: str,
    row: Mapping[str, object],
    place: tuple[int, str, str],
    told: str,
):
    register.set_up(ENGINE)
    before = register.dump()
    file = register.file(name, row)
    preview = register.preview(file)
    problem = only_problem(preview)
    assert (problem.row, problem.column, problem.value) == place
    assert problem.line == f'{name}: Row {place[0]}, column "{place[1]}": {told}'
    assert not preview.can_import
    with pytest.raises(RegisterImportError, match="1 problem stands in the way"):
        register.take_in(file)
    assert differing_tables(before, register.dump()) == set()


def test_that_two_lists_usual_for_one_kind_are_refused(register: Register):
    row = {"name": "Full", "analytes": "iron", "compartment_kinds": "engine"}
    file = register.file(
        "test_lists.csv", {"test_list": "full", **row}, {"test_list": "short", **row}
    )
    problem = only_problem(register.preview(file))
    assert (problem.row, problem.column, problem.value) == (3, "compartment_kinds", "engine")
    assert "is in row 2 too" in problem.text


def test_that_a_code_in_other_letters_is_told_how_it_is_spelled(register: Register):
    row = {"test_list": "Full", "name": "Full", "analytes": "iron"}
    register.take_in(register.file("test_lists.csv", row))
    file = register.file("test_lists_2.csv", {**row, "test_list": "full"})
    assert "is spelled Full on the register" in only_problem(register.preview(file)).text


def test_that_a_transfer_links_two_records_of_one_machine(register: Register):
    register.set_up()
    south = {"site": "South pit"}
    other = register.file("machines_2.csv", {**south, **MACHINE})
    move = {"site": "North pit", "machine": "EX-01", "to_site": "South pit",
            "moved_on": "2026-06-01"}  # fmt: skip
    files = [register.file("sites_2.csv", south), other]
    told = only_problem(register.preview(*files, register.file("machine_transfers.csv", move)))
    assert (told.column, told.value) == ("to_machine", "EX-01")
    assert told.remedy == "Give both records the same lasting_id in machines.csv."


def test_that_a_meter_that_runs_backwards_names_both_readings(register: Register):
    register.set_up()
    file = register.file(
        "meter_readings.csv",
        READING,
        {**READING, "read_on": "2026-06-10", "value": 1150},
        {**READING, "read_on": "2026-06-20", "value": 1300},
    )
    [problem] = [one for one in register.preview(file).problems if one.refuses]
    assert (problem.row, problem.value) == (3, "1150")
    assert problem.text.endswith(
        'Row 3, column "value": "1150" cannot be true of machine EX-01: the meter shows 1150 h on '
        "2026-06-10 but showed 1200 h on 2026-06-01."
    )
    assert "Correct the reading, or record a meter replacement." in problem.remedy


def test_that_a_reading_before_one_on_the_register_must_fit_it(register: Register):
    register.set_up()
    first = register.file("meters_2025.csv", {"machine": "EX-01", "fitted_on": "2025-01-01"})
    register.take_in(first, register.file("meter_readings.csv", READING))
    meters = register.file(
        "meters.csv", {"machine": "EX-01", "fitted_on": "2026-05-20", "start_value": 1250}
    )
    preview = register.preview(meters)
    assert not preview.can_import
    assert any("fit machine EX-01 as it is on the register" in line for line in lines(preview))


def test_that_a_replaced_meter_cannot_make_the_machine_younger(register: Register):
    register.set_up()
    meters = register.file(
        "meters.csv",
        {"machine": "EX-01", "fitted_on": "2026-01-01", "hours_before": 0},
        {"machine": "EX-01", "fitted_on": "2026-06-10", "hours_before": 500},
    )
    file = register.file("meter_readings.csv", READING)
    problem = only_problem(register.preview(meters, file))
    assert (problem.file, problem.row, problem.column) == ("meters.csv", 3, "hours_before")
    assert "the machine had 1200 h on the meter before" in problem.text


def test_that_a_reading_a_day_too_fast_is_only_a_warning(register: Register):
    # Fitted in the morning, read in the evening of the next day: a file knows no time of day.
    register.set_up()
    meters = register.file("meters.csv", {"machine": "EX-01", "fitted_on": "2026-06-01"})
    told = {"machine": "EX-01", "read_on": "2026-06-02"}
    good = register.file("meter_readings.csv", {**told, "value": 27})
    preview = register.preview(meters, good)
    assert preview.can_import
    assert "more than full days can give" in only_problem(preview).text
    bad = register.file("meter_readings_2.csv", {**told, "value": 49})
    assert not register.preview(meters, bad).can_import


def test_that_a_component_is_in_one_machine_at_a_time(register: Register):
    two = [MACHINE, {**MACHINE, "machine": "EX-02"}]
    boxes = [ENGINE, {**ENGINE, "machine": "EX-02"}]
    register.take_in(
        register.file("sites.csv", SITE),
        register.file("machines.csv", *two),
        register.file("compartments.csv", *boxes),
    )
    fit = {"compartment": "engine", "serial": "S-7", "fitted_on": "2026-01-05"}
    here = {**fit, "machine": "EX-01"}
    there = {**fit, "machine": "EX-02", "fitted_on": "2026-03-01"}
    problem = only_problem(register.preview(register.file("component_fits.csv", here, there)))
    assert (problem.row, problem.column, problem.value) == (3, "serial", "S-7")
    assert "sits in EX-01, Engine since 2026-01-05 already" in problem.text
    moved = {**here, "removed_on": "2026-03-01"}
    register.take_in(register.file("component_fits.csv", moved, there))
    again = register.file("component_fits.csv", {**here, "fitted_on": "2026-05-01"})
    assert "sits in EX-02, Engine" in only_problem(register.preview(again)).text


def test_that_a_compartment_holds_one_component_at_a_time(register: Register):
    register.set_up(ENGINE)
    fit = {"machine": "EX-01", "compartment": "engine"}
    file = register.file(
        "component_fits.csv",
        {**fit, "serial": "S-1", "fitted_on": "2026-01-05"},
        {**fit, "serial": "S-2", "fitted_on": "2026-02-05"},
    )
    problem = only_problem(register.preview(file))
    assert (problem.row, problem.value) == (3, "S-2")
    assert problem.remedy == "Write the day S-1 was removed."


def test_that_everything_wrong_is_told_at_once_and_nothing_is_half_saved(register: Register):
    before = register.dump()
    files = [
        register.file("sites.csv", SITE),
        register.file("machines.csv", MACHINE, {**MACHINE, "machine": "EX-02", "kind": ""}),
        register.file(
            "compartments.csv",
            ENGINE,
            {**ENGINE, "machine": "EX-02"},
            {**ENGINE, "compartment": "hydraulic", "interval_hours": -5},
        ),
    ]
    preview = register.preview(*files)
    assert [(one.file, one.row, one.column) for one in preview.problems] == [
        ("machines.csv", 3, "kind"),
        ("compartments.csv", 4, "interval_hours"),
    ], "what hangs on a refused machine is not told again"
    with pytest.raises(RegisterImportError) as refused:
        register.take_in(*files)
    assert refused.value.preview.problems == preview.problems
    assert differing_tables(before, register.dump()) == set()


def test_that_a_missing_column_is_told_once(register: Register):
    sites = register.file("sites.csv", SITE)
    machines = register.file("machines.csv", {"machine": "EX-01"}, {"machine": "EX-02"})
    problem = only_problem(register.preview(sites, machines))
    assert (problem.row, problem.column) == (None, "kind")


def test_that_a_file_that_is_no_list_of_the_register_is_refused(register: Register):
    odd = register.file("list.csv", {"colour": "red"})
    with pytest.raises(RegisterFileError, match="has no headings of a register file"):
        register.preview(odd)
    vague = register.file("list.csv", {"site": "North pit", "note": "x"})
    assert register.preview(vague).files[0].kind == "sites", "its needed columns are all there"
    none = register.file("list.csv", {"machine": "EX-01", "serial": "x"})
    with pytest.raises(RegisterFileError, match="Name it after the list it is"):
        register.preview(none)


def test_that_a_list_comes_from_one_file_at_a_time(register: Register):
    one = register.file("machines.csv", MACHINE)
    two = register.file("machines_south.csv", MACHINE)
    with pytest.raises(RegisterFileError, match="one after the other"):
        register.preview(one, two)


def test_that_a_missing_file_and_an_empty_folder_are_told(register: Register):
    with pytest.raises(NotFoundError, match=r"nowhere\.csv is not there"):
        register.preview(register.folder / "nowhere.csv")
    with pytest.raises(NotFoundError, match="holds no register file"):
        register.preview(register.folder)


def test_that_no_site_is_told_before_machines_are_imported(register: Register):
    problem = only_problem(register.preview(register.file("machines.csv", MACHINE)))
    assert "which has no site yet" in problem.text
    assert "Add the site first" in problem.remedy


def test_that_two_sites_need_the_row_to_name_one(register: Register):
    sites = register.file("sites.csv", SITE, {"site": "South pit"})
    machines = register.file("machines.csv", MACHINE)
    problem = only_problem(register.preview(sites, machines))
    assert problem.column == "site"
    assert "the register has 2 sites and the row names none" in problem.text


def test_that_an_import_after_another_desk_changed_the_register_is_refused(register: Register):
    register.set_up(ENGINE)
    file = register.file("compartments.csv", {**ENGINE, "capacity_l": 40})
    preview = preview_register_files(register.place, [file], today=LAST_DAY)
    register.take_in(file)
    with pytest.raises(StaleEditError, match="changed since the preview"):
        import_register_files(register.place, [file], today=LAST_DAY, moment=NOW, preview=preview)


def test_that_a_cell_of_a_quotation_left_open_is_told(register: Register):
    file = register.folder / "machines.csv"
    file.write_text('machine,kind\n"EX-01,excavator\n', encoding="utf-8")
    with pytest.raises(OperatorError, match="quotation mark"):
        register.preview(file)


@pytest.mark.parametrize(
    ("name", "row", "column"),
    [
        ("meters.csv", {"removed_on": "2025-12-31"}, "removed_on"),
        ("meters.csv", {"start_value": 100, "rolls_over_at": 100}, "start_value"),
        ("meters.csv", {"unit": "miles"}, "unit"),
        ("component_fits.csv", {"removed_on": "2025-12-31"}, "removed_on"),
        ("component_fits.csv", {"condition": "old"}, "condition"),
        ("points.csv", {"kind": "hole"}, "kind"),
        ("points.csv", {"retired": "perhaps"}, "retired"),
        ("points.csv", {"flush_ml": -1}, "flush_ml"),
        ("sites.csv", {"time_zone": "Berlin"}, "time_zone"),
        ("sites.csv", {"dust_shares": "silicon"}, "dust_shares"),
        ("fluids.csv", {"fluid_class": "wine"}, "fluid_class"),
        ("fluids.csv", {"density_kg_per_l": "1e999"}, "density_kg_per_l"),
        ("machines.csv", {"lasting_id": "12"}, "lasting_id"),
        ("machines.csv", {"criticality": 2.5}, "criticality"),
        ("machines.csv", {"in_service_on": "1899-12-31"}, "in_service_on"),
        ("meter_readings.csv", {"source": "guess"}, "source"),
        ("events.csv", {"certainty": "perhaps"}, "certainty"),
    ],
)
def test_that_what_no_record_can_hold_is_refused_in_its_column(
    register: Register, name: str, row: Mapping[str, object], column: str
):
    register.set_up(ENGINE)
    box = {"machine": "EX-01", "compartment": "engine"}
    sound: dict[str, Mapping[str, object]] = {
        "meters.csv": {"machine": "EX-01", "fitted_on": "2026-01-01"},
        "component_fits.csv": {**box, "serial": "S-1", "fitted_on": "2026-01-01"},
        "points.csv": {**box, "kind": "drain", "location": "sump", "flush_ml": 100},
        "sites.csv": {"site": "South pit"},
        "fluids.csv": {"fluid": "own", "name": "Own", "fluid_class": "engine_oil",
                       "density_kg_per_l": 0.9},
        "machines.csv": {**MACHINE, "machine": "EX-02"},
        "meter_readings.csv": READING,
        "events.csv": {**box, "kind": "repair", "happened_on": "2026-01-01"},
    }  # fmt: skip
    assert register.preview(register.file(name, sound[name])).can_import
    preview = register.preview(register.file(name, {**sound[name], **row}))
    problem = only_problem(preview)
    assert problem.refuses
    assert (problem.row, problem.column) == (2, column)
    assert problem.value == str(row[column])
    assert problem.remedy


def test_that_an_event_by_meter_value_needs_a_meter(register: Register):
    register.set_up(ENGINE)
    event = {"machine": "EX-01", "compartment": "engine", "kind": "repair",
             "happened_on": "2026-02-01", "meter_value": 12}  # fmt: skip
    problem = only_problem(register.preview(register.file("events.csv", event)))
    assert (problem.column, problem.value) == ("meter_value", "12")
    assert "the machine has no meter" in problem.text


def test_that_a_heading_twice_is_refused(register: Register):
    file = register.folder / "sites.csv"
    file.write_text("site,site\nNorth pit,South pit\n", encoding="utf-8")
    problem = only_problem(register.preview(file))
    assert problem.refuses
    assert "this heading stands twice" in problem.text
