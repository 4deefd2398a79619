"""`outside`: walk-ups, duplicates, rejected bottles, fluids, tanks and spare labels."""

import pytest

from fluiddesk.cli.output import Exit
from fluiddesk.domain.identity import bottle_code
from tests.cli.conftest import Run
from tests.fleets import LAST_DAY, Fleet, differing_tables, results

FIRST, SECOND, DRUM = (bottle_code(f"26W{n:05}") for n in (1, 2, 3))


@pytest.fixture
def there(fleet: Fleet) -> tuple[str, ...]:
    return ("--database", fleet.address)


def walk_up(run: Run, fleet: Fleet, *words: object):
    machine = fleet.boxes("engine")[0].machine
    return run("outside", "walk-up", FIRST, machine, "engine", "--on", LAST_DAY, *words)


def site_of(fleet: Fleet) -> str:
    with fleet.place.store.reading() as desk:
        return desk.fleet.sites()[0].name


def fluid_of(fleet: Fleet) -> str:
    with fleet.place.store.reading() as desk:
        return desk.catalogue.fluids()[0].code


def test_that_a_walk_up_and_its_duplicate_are_registered_and_listed(run: Run, fleet: Fleet, there):
    told = walk_up(run, fleet, "--by", "Kim", "--note", "smelled burnt", *there)
    assert (told.code, told.out) == (Exit.OK, f"Bottle {FIRST}: walk up.\n")
    assert run("outside", "duplicate", FIRST, SECOND, *there).code == Exit.OK
    rows = run("outside", "samples", "--format", "json", *there).json
    twin, first = (next(row for row in rows if row["bottle"] == code) for code in (SECOND, FIRST))
    assert (twin["first_bottle"], twin["reason"]) == (FIRST, "duplicate")
    assert (first["taken_by"], first["note"]) == ("Kim", "smelled burnt")
    lines = run("outside", "samples", "--format", "csv", *there).out.splitlines()
    assert lines[0].startswith("bottle,site,machine,compartment,taken_on")
    assert len(lines) == len(rows) + 1


def test_that_a_bottle_s_rejection_is_noted(run: Run, fleet: Fleet, there):
    walk_up(run, fleet, *there)
    told = run("outside", "reject", FIRST.lower(), "--laboratory", "lab_a", "--reason", "leaked",
               "--received", LAST_DAY, *there)  # fmt: skip
    assert told.out == f"Bottle {FIRST}: rejected.\n"
    row = next(
        row for row in run("outside", "samples", "--format", "json", *there).json
        if row["bottle"] == FIRST
    )  # fmt: skip
    assert (row["state"], row["rejected"]) == ("reported", "leaked")


def test_that_new_fluid_goes_from_its_label_to_the_reference(run: Run, fleet: Fleet, there):
    fluid, site = fluid_of(fleet), site_of(fleet)
    run("outside", "tank", "T-1", fluid, "--litres", 5000, "--site", site, *there)
    made = run("outside", "fluid", DRUM, fluid, "--kind", "new_fluid", "--tank", "t-1",
               "--on", LAST_DAY, "--site", site, "--format", "json", *there)  # fmt: skip
    assert made.json == {"bottle": DRUM, "registered": "new_fluid"}
    assert run("outside", "values", DRUM, *there).code == Exit.ATTENTION
    fleet.take_in(fleet.lab_file("one.csv", results(DRUM, iron=3) | {"machine": ""}))
    [value] = run("outside", "values", DRUM, "--format", "json", *there).json
    assert (value["analyte"], value["printed"]) == ("iron", "3")
    told = run("outside", "reference", DRUM, "--from", LAST_DAY, *there)
    assert told.out.startswith(f"Bottle {DRUM}: reference ")
    [row] = run("outside", "fluids", "--format", "json", *there).json
    assert (row["kind"], row["container"], row["state"]) == ("new_fluid", "t-1", "reported")


def test_that_spare_labels_are_made_and_listed(run: Run, fleet: Fleet, there):
    made = run("outside", "labels", "--make", 2, "--site", site_of(fleet), "--format", "json",
               *there)  # fmt: skip
    assert made.err == "Made 2 labels.\n"
    assert run("outside", "labels", "--format", "json", *there).json == made.json


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("duplicate", FIRST, SECOND), Exit.NO_INPUT, f"has the bottle {FIRST}"),
        (("walk-up", "26W-00001-0", "EX", "engine"), Exit.NO_INPUT, 'no machine "EX"'),
        (("labels", "--make", "2"), Exit.USAGE, "Say which site"),
        (("labels", "--make", "2", "--site", "nowhere"), Exit.NO_INPUT, 'no site "nowhere"'),
        (("fluid", DRUM, "x", "--kind", "tank", "--tank", "9"), Exit.USAGE, "Say which site"),
        (("reference", DRUM, "--from", "yesterday"), Exit.USAGE, "year-month-day"),
    ],
)
def test_that_what_cannot_be_is_refused_and_nothing_changed(
    run: Run, fleet: Fleet, there, words, code, said
):
    before = fleet.dump()
    told = run("outside", *words, *there)
    assert told.code == code
    assert said in told.err
    assert differing_tables(before, fleet.dump()) == set()


def test_that_a_tank_that_is_not_on_the_register_is_named(run: Run, fleet: Fleet, there):
    told = run("outside", "fluid", DRUM, fluid_of(fleet), "--kind", "tank", "--tank", "T-9",
               "--on", LAST_DAY, "--site", site_of(fleet), *there)  # fmt: skip
    assert told.code == Exit.NO_INPUT
    assert 'There is no tank "T-9"' in told.err
