"""What a register exports reads back into the same register, whatever stands in it."""

import csv
import shutil
import string
import tempfile
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fluiddesk.domain.errors import CannotWriteError
from fluiddesk.domain.fleet import Certainty, EventKind, MachineState
from fluiddesk.services.register.boxes import POINT_KINDS
from fluiddesk.services.register.read import machine_record, register_facts
from fluiddesk.services.register.transfer import transfer_machine
from fluiddesk.services.register_files.cells import written
from fluiddesk.services.register_files.columns import FILE_KINDS
from fluiddesk.services.register_files.export import export_register
from fluiddesk.services.register_files.take_in import (
    import_register_files,
    preview_register_files,
)
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import check_store, open_store
from tests.fleets import CLERK, LAST_DAY, NOW, Fleet, the_catalogue
from tests.services.register_files.conftest import ENGINE, MACHINE, Register, opened, write_file

Row = Mapping[str, Any]
Rows = list[Row]

# No control characters, since a desk's forms let none in; formulas and quotes are welcome.
letters = st.one_of(
    st.sampled_from(
        string.ascii_letters + "=+-@'\"",
    ),
    st.characters(exclude_categories=("Cs", "Cc")),
)
texts = st.text(letters, max_size=8).map(str.strip)
names = texts.filter(bool)
days = st.dates(date(1990, 1, 1), LAST_DAY)
sizes = st.floats(0, 1e6, allow_subnormal=False)
above_0 = st.floats(1e-3, 1e6)


def maybe(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.none() | strategy


@st.composite
def machine_rows(draw: st.DrawFn, site: str, code: str) -> Row:
    return {
        "site": site,
        "machine": code,
        "kind": draw(st.sampled_from(sorted(the_catalogue().machine_kinds))),
        "model": draw(texts),
        "serial": draw(texts),
        "in_service_on": draw(maybe(days)),
        "state": draw(st.sampled_from([state.value for state in MachineState])),
        "criticality": draw(st.integers(1, 5)),
        "cost_per_down_hour": draw(maybe(sizes)),
        "lasting_id": draw(maybe(st.binary(min_size=16, max_size=16))),
    }


@st.composite
def box_rows(draw: st.DrawFn, machine: Row) -> Row:
    hours, days = draw(maybe(above_0)), draw(maybe(st.integers(1, 3650)))
    return {
        **machine,
        "compartment": draw(st.sampled_from(sorted(the_catalogue().compartment_kinds))),
        "position": draw(texts),
        "fluid": draw(st.sampled_from(sorted(the_catalogue().fluids))),
        "capacity_l": draw(above_0),
        "residue_share": draw(st.floats(0, 1)),
        "filter_micron": draw(maybe(above_0)),
        "interval_hours": hours,
        "interval_days": days,
        "change_interval_hours": draw(maybe(above_0.filter(lambda one: one >= (hours or 0) / 10))),
        "change_interval_days": draw(maybe(st.integers(1 + (days or 0) // 10, 3650))),
        "criticality": draw(st.integers(1, 5)),
        "test_list": draw(st.sampled_from(["", "own_list"])),
        "retired": draw(st.booleans()),
    }


@st.composite
def meters_and_readings(draw: st.DrawFn, machine: Row) -> tuple[Rows, Rows]:
    """Up to two meters, the second never making the machine younger, and what they showed."""
    day = draw(st.dates(date(2000, 1, 1), date(2010, 1, 1)))
    age, meters, readings = 0.0, Rows(), Rows()
    for _ in range(draw(st.integers(1, 2))):
        start = draw(st.integers(0, 500)) / 2
        age += draw(st.integers(0, 100))
        meters.append(
            {
                **machine,
                "fitted_on": day,
                "unit": "h",
                "start_value": start,
                "hours_before": age,
                "rolls_over_at": draw(maybe(st.just(99_999.5))),
                "removed_on": draw(maybe(st.just(LAST_DAY))),
                "end_value": draw(maybe(sizes)),
            }
        )
        value = start
        for _ in range(draw(st.integers(0, 3))):
            gap = draw(st.integers(1, 60))
            day += timedelta(days=gap)
            value += draw(st.integers(0, 24 * gap * 8)) / 8
            source = draw(st.sampled_from(["sampler", "telemetry", "fuel_slip", "desk"]))
            readings.append({**machine, "read_on": day, "value": value, "source": source})
        age += value - start
        day += timedelta(days=1)
    return meters, readings


@st.composite
def of_box(draw: st.DrawFn, box: Row, serial: int) -> tuple[Rows, Rows, Rows]:
    """Sampling points, component fits and events of one compartment."""
    place = {name: box[name] for name in ("site", "machine", "compartment", "position")}
    points = draw(
        st.lists(
            st.fixed_dictionaries(
                {
                    "kind": st.sampled_from(POINT_KINDS),
                    "location": names,
                    "marking": texts,
                    "run_state": st.sampled_from(["running_idle", "shut_down"]),
                    "flush_ml": sizes,
                    "tube_mm": maybe(sizes),
                    "hazards": texts,
                    "retired": st.booleans(),
                }
            ),
            max_size=2,
            unique_by=lambda one: (one["location"], one["marking"]),
        )
    )
    fit = {
        "serial": f"S{serial}",
        "fitted_on": draw(days),
        "fitted_at_hours": draw(maybe(sizes)),
        "hours_before": draw(sizes),
        "condition": draw(st.sampled_from(["new", "overhauled", "used"])),
        "removed_on": draw(maybe(st.just(LAST_DAY))),
        "removed_at_hours": draw(maybe(sizes)),
        "reason": draw(texts),
    }
    events = draw(
        st.lists(
            st.fixed_dictionaries(
                {
                    "kind": st.sampled_from([kind.value for kind in EventKind]),
                    "happened_on": days,
                    "machine_hours": maybe(sizes),
                    "litres": maybe(sizes),
                    "fluid": st.sampled_from(["", *sorted(the_catalogue().fluids)]),
                    "certainty": st.sampled_from([one.value for one in Certainty]),
                    "source": names,
                    "note": texts,
                }
            ),
            max_size=3,
        )
    )
    fits = [fit] if draw(st.booleans()) else []
    return ([{**place, **one} for one in points], [{**place, **one} for one in fits],
            [{**place, **one} for one in events])  # fmt: skip


@st.composite
def desk_lists(draw: st.DrawFn, sites: list[str]) -> dict[str, Rows]:
    """Tanks, a laboratory with methods and two test lists; a kind of box has one usual list."""
    analytes = st.sampled_from(sorted(the_catalogue().analytes))
    kinds = draw(st.lists(st.sampled_from(sorted(the_catalogue().compartment_kinds)), unique=True))
    of_list = st.lists(analytes, min_size=1, max_size=4, unique=True).map(tuple)
    tanks = draw(st.lists(names, max_size=2, unique_by=str.casefold))
    return {
        "tanks": [
            {
                "site": sites[0],
                "tank": tank,
                "fluid": "own_oil",
                "capacity_l": draw(maybe(above_0)),
                "location": draw(texts),
                "retired": draw(st.booleans()),
            }
            for tank in tanks
        ],
        "laboratories": [
            {
                "laboratory": "own_lab",
                "name": draw(names),
                "site_name": draw(texts),
                "layout": draw(texts),
                "lane_days": draw(maybe(st.integers(0, 365))),
                "turnaround_days": draw(maybe(st.integers(0, 365))),
                "retired": draw(st.booleans()),
            }
        ],
        "laboratory_methods": [
            {"laboratory": "own_lab", "analyte": analyte, "method": draw(texts)}
            for analyte in draw(st.lists(analytes, max_size=3, unique=True))
        ],
        "test_lists": [
            {
                "test_list": code,
                "name": draw(names),
                "analytes": draw(of_list),
                "compartment_kinds": tuple(sorted(usual)),
                "note": draw(texts),
                "retired": draw(st.booleans()),
            }
            for code, usual in (("own_list", kinds[::2]), ("other_list", kinds[1::2]))
        ],
    }


@st.composite
def registers(draw: st.DrawFn) -> dict[str, Rows]:
    """A whole register as rows of its files."""
    made: dict[str, Rows] = {kind.name: [] for kind in FILE_KINDS}
    sites = draw(st.lists(names, min_size=1, max_size=2, unique_by=str.casefold))
    for site in sites:
        shares = draw(maybe(st.just({"aluminium": 0.1, "silicon": 0.3})))
        made["sites"].append({"site": site, "time_zone": "UTC", "dust_shares": shares})
    codes = draw(st.lists(names, min_size=1, max_size=3, unique_by=str.casefold))
    for code in codes:
        place = {"site": draw(st.sampled_from(sites)), "machine": code}
        machine = draw(machine_rows(place["site"], code))
        made["machines"].append(machine)
        if draw(st.booleans()):
            made["machine_states"].append(
                {**place, "since": draw(days), "state": machine["state"], "note": draw(texts)}
            )
        meters, readings = draw(meters_and_readings(place))
        made["meters"] += meters
        made["meter_readings"] += readings
        unlike = lambda one: (one["compartment"], one["position"])  # noqa: E731
        for box in draw(st.lists(box_rows(place), max_size=2, unique_by=unlike)):
            made["compartments"].append(box)
            points, fits, events = draw(of_box(box, len(made["compartments"])))
            made["points"] += points
            made["component_fits"] += fits
            made["events"] += events
    made["fluids"].append(
        {
            "fluid": "own_oil",
            "name": draw(names),
            "fluid_class": "engine_oil",
            "viscosity_grade": draw(texts),
            "density_kg_per_l": draw(st.floats(0.5, 1.5)),
            "retired": draw(st.booleans()),
        }
    )
    made |= draw(desk_lists(sites))
    made["fluid_references"].append(
        {
            "fluid": "own_oil",
            "valid_from": draw(days),
            "source": draw(names),
            "iron": draw(sizes),
            "viscosity_40c": draw(sizes),
        }
    )
    made["fluid_batches"].append(
        {
            "site": sites[0],
            "fluid": "own_oil",
            "batch": draw(names),
            "delivered_on": draw(days),
            "reference_from": made["fluid_references"][0]["valid_from"],
        }
    )
    return made


def lines_of(file: Path) -> list[dict[str, str]]:
    with file.open(encoding="utf-8-sig", newline="") as text:
        return list(csv.DictReader(text))


def as_lines(kind: str, rows: Rows) -> list[dict[str, str]]:
    heads = [column.name for one in FILE_KINDS if one.name == kind for column in one.columns]
    if kind == "fluid_references":
        heads += ["iron", "viscosity_40c"]
    return [{head: written(row.get(head)) for head in heads} for row in rows]


def in_order(rows: list[dict[str, str]]) -> list[list[tuple[str, str]]]:
    return sorted(sorted(row.items()) for row in rows)


@pytest.mark.slow
@settings(max_examples=12, deadline=None)
@given(rows=registers())
def test_that_any_register_written_as_files_reads_back_the_same(empty_file: Path, rows):
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        for kind, told in rows.items():
            heads = [
                column.name for one in FILE_KINDS if one.name == kind for column in one.columns
            ]
            write_file(place / f"{kind}.csv", as_lines(kind, told) or [dict.fromkeys(heads, "")])
        for register in opened(empty_file, place, "first"):
            register.take_in(place)
            export_register(register.place, place / "out")
            assert check_store(register.place.store) == []
            again = register.preview(place / "out")
            assert not again.will_change, "a register's own export changes nothing in it"
        for kind, told in rows.items():
            found = lines_of(place / "out" / f"{kind}.csv")
            if kind in ("fluids", "fluid_references"):
                found = [
                    {name: cell for name, cell in one.items() if name in as_lines(kind, told)[0]}
                    for one in found
                    if one["fluid"] == "own_oil"
                ]
            assert in_order(found) == in_order(as_lines(kind, told)), kind
        for register in opened(empty_file, place, "second"):
            register.take_in(place / "out")
            export_register(register.place, place / "out again")
        for kind in rows:
            first, second = (place / name / f"{kind}.csv" for name in ("out", "out again"))
            assert first.read_bytes() == second.read_bytes(), kind


def test_that_a_played_fleet_reads_back_the_same(fleet: Fleet, other_register: Register):
    out, again = fleet.folder / "out", fleet.folder / "again"
    files = export_register(fleet.place, out)
    assert {one.kind: one.rows for one in files}["machines"] == 5
    other_register.take_in(out)
    export_register(other_register.place, again)
    for file in files:
        assert (out / Path(file.path).name).read_bytes() == (
            again / Path(file.path).name
        ).read_bytes()
    assert other_register.check() == []
    with fleet.place.store.reading() as desk:
        usage = {one.code: desk.fleet.usage()[one.id] for one in desk.fleet.machines()}
    with other_register.place.store.reading() as desk:
        for machine in desk.fleet.machines():
            mine, theirs = usage[machine.code], desk.fleet.usage()[machine.id]
            assert theirs == replace(
                mine,
                machine=theirs.machine,
                hours_now=pytest.approx(mine.hours_now, abs=0.1),
                hours_per_day=pytest.approx(mine.hours_per_day, abs=0.05),
                hours_per_day_spread=pytest.approx(mine.hours_per_day_spread, abs=0.5),
            )


def test_that_a_machine_handed_over_keeps_its_history_of_owners(
    fleet: Fleet, other_register: Register
):
    with fleet.place.store.reading() as desk:
        machine = desk.fleet.machines()[0]
        to = next(one.site for one in desk.fleet.sites() if one.site != machine.site)
    transfer_machine(
        fleet.place, machine.id, to=to, on=LAST_DAY, note="sold on", today=LAST_DAY, moment=NOW
    )
    export_register(fleet.place, fleet.folder / "out")
    other_register.take_in(fleet.folder / "out")
    export_register(other_register.place, fleet.folder / "again")
    for kind in FILE_KINDS:
        first, second = (fleet.folder / name / f"{kind.name}.csv" for name in ("out", "again"))
        assert first.read_bytes() == second.read_bytes(), kind.name
    register = register_facts(other_register.place, today=LAST_DAY)
    [after] = [one for one in register.machines if one.came_from]
    [before] = [one for one in register.machines if one.went_to]
    assert after.code == before.code == machine.code
    told = machine_record(other_register.place, after.id, today=LAST_DAY)
    assert [one.id for one in told.earlier] == [before.id]


def test_that_an_empty_register_exports_files_to_fill_in(register: Register):
    files = export_register(register.place, register.folder / "out")
    assert [one.kind for one in files] == [kind.name for kind in FILE_KINDS]
    assert {one.kind for one in files if one.rows} == {"fluids", "fluid_references"}
    assert not register.preview(register.folder / "out").will_change


def test_that_an_export_never_writes_over_a_file(register: Register):
    out = register.folder / "out"
    export_register(register.place, out)
    with pytest.raises(CannotWriteError, match=r"sites\.csv is there already"):
        export_register(register.place, out)
    blocked = register.folder / "blocked"
    blocked.write_text("a file", encoding="utf-8")
    with pytest.raises(CannotWriteError):
        export_register(register.place, blocked / "inside")


def test_that_voided_readings_and_superseded_events_stay_behind(register: Register):
    register.set_up(ENGINE)
    event = {"machine": "EX-01", "compartment": "engine", "kind": "top_up",
             "happened_on": "2026-02-06", "litres": 3}  # fmt: skip
    register.take_in(register.file("events.csv", event))
    with register.place.store.transaction(who=CLERK, moment=NOW) as desk:
        [old] = desk.fleet.all_events()
        desk.fleet.add_event(replace(old, id=b"", litres=4.0), supersedes=old.id)
    [told] = register.told("events")
    assert told["litres"] == "4"


def test_that_a_copy_of_the_database_is_read_like_any(register: Register, tmp_path: Path):
    register.set_up(ENGINE)
    copy = tmp_path / "copy.fluiddesk"
    shutil.copy(register.address, copy)
    with open_store(str(copy)) as store:
        place = Workplace(store=store, catalogue=the_catalogue(), who=CLERK)
        export_register(place, tmp_path / "out")
        assert preview_register_files(place, [tmp_path / "out"], today=LAST_DAY).can_import
        import_register_files(place, [tmp_path / "out"], today=LAST_DAY, moment=NOW)


def test_that_a_machine_of_two_owners_stays_one_machine(
    register: Register, other_register: Register
):
    south = {"site": "South pit"}
    register.set_up()
    with register.place.store.reading() as desk:
        [first] = desk.fleet.machines()
    register.take_in(
        register.file("sites.csv", south),
        register.file("machines.csv", {**south, **MACHINE, "lasting_id": first.id.hex()}),
    )
    export_register(register.place, register.folder / "out")
    other_register.take_in(register.folder / "out")
    lasting = [one["lasting_id"] for one in other_register.told("machines")]
    assert lasting == [first.id.hex()] * 2
