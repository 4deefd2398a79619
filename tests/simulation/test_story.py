import csv
import io
from datetime import date

import numpy as np
import pytest

from fluiddesk.domain.identity import BottleCodeError, normal_bottle_code
from fluiddesk.simulation.lab_files import LabFile
from fluiddesk.simulation.records import (
    REPORTED,
    SHIPPED,
    SimulatedFleet,
    bottle_code_of,
)
from tests.simulation.lab_file_writing import (
    CSV_ENCODING,
    LAB_FILES,
    comparable,
    csv_bytes,
    the_played_story,
    the_story,
    workbook_rows,
)
from tests.simulation.starter_severity import judged, newest_rows, newest_severity


def box_name(fleet: SimulatedFleet, place: int) -> tuple[str, str, str]:
    box = fleet.compartments[place]
    return fleet.machines[box.machine].code, box.kind, box.position


def file_named(ending: str) -> LabFile:
    return next(file for file in the_played_story().lab_files if file.name.endswith(ending))


def test_that_the_sample_fleet_is_about_thirty_machines_of_seven_kinds_on_three_sites() -> None:
    fleet = the_played_story().fleet
    assert len(fleet.machines) == 30
    assert len(fleet.sites) == 3
    assert len({machine.kind for machine in fleet.machines}) == 7
    assert fleet.last_day == date(2026, 11, 20).toordinal()


def test_that_at_least_eight_scripted_faults_of_different_kinds_show_in_the_newest_sheets() -> None:
    fleet = the_played_story().fleet
    severity = newest_severity(fleet)
    scripted = {
        (f.box.machine, f.box.kind, f.box.position): f.mode for f in the_story().plan.script.faults
    }
    shown = {
        scripted[box_name(fleet, box)]
        for box, found in severity.items()
        if found > 0 and box_name(fleet, box) in scripted
    }
    assert len(shown) >= 8


def test_that_most_boxes_of_the_sample_fleet_are_normal_and_few_are_urgent() -> None:
    found = np.array(list(newest_severity(the_played_story().fleet).values()))
    share = np.bincount(found, minlength=4) / len(found)
    assert 0.78 <= share[0] <= 0.86
    assert 0.08 <= share[1] <= 0.12
    assert 0.03 <= share[2] <= 0.06
    assert 0.01 <= share[3] <= 0.03


def test_that_the_swapped_bottles_carry_each_others_oil() -> None:
    story, played = the_story(), the_played_story()
    first, second = played.truth.swaps[-1]
    names = {
        box_name(played.fleet, int(played.fleet.samples.compartment[s])) for s in (first, second)
    }
    assert names == {(b.machine, b.kind, b.position) for b in story.plan.script.swaps[0][:2]}
    for rows in played.fleet.results:
        if rows.family in ("final_drive", "transmission"):
            here = np.flatnonzero(np.isin(rows.sample, (first, second)))
            assert len(here)
            _, fired = judged(played.fleet, rows, here)
            assert "viscosity_100c" in fired[0]


def test_that_the_unlogged_change_is_missing_in_the_book_and_seen_in_the_oil() -> None:
    story, played = the_story(), the_played_story()
    name, since = story.plan.script.unlogged_changes[0]
    unlogged = {
        (kind, box_name(played.fleet, box)): day for kind, box, day in played.truth.unlogged
    }
    day = unlogged["fluid_change", (name.machine, name.kind, name.position)]
    assert day >= since.toordinal()
    rows = next(rows for rows in played.fleet.results if rows.family == "hydraulic")
    samples = played.fleet.samples
    own = [
        r
        for r in range(len(rows))
        if box_name(played.fleet, int(samples.compartment[rows.sample[r]]))
        == (name.machine, name.kind, name.position)
    ]
    own.sort(key=lambda r: samples.taken_on[rows.sample[r]])
    iron = rows.values[:, rows.analytes.index("iron")]
    before = [r for r in own if samples.taken_on[rows.sample[r]] <= day][-1]
    after = next(r for r in own if samples.taken_on[rows.sample[r]] > day)
    assert iron[after] < iron[before]
    assert samples.fill[rows.sample[after]] == samples.fill[rows.sample[before]]
    assert samples.fluid_hours[rows.sample[after]] > samples.fluid_hours[rows.sample[before]]


def test_that_the_laboratory_shift_lifts_one_analyte_of_all_its_machines_for_some_weeks() -> None:
    played, shift = the_played_story(), the_story().plan.script.shifts[0]
    samples = played.fleet.samples
    rows = next(rows for rows in played.fleet.results if rows.family == "engine")
    silicon = rows.values[:, rows.analytes.index(shift.analyte)]
    reported = samples.reported_on[rows.sample]
    there = samples.laboratory[rows.sample] == played.fleet.laboratories.index(shift.laboratory)
    inside = (reported >= shift.first_day.toordinal()) & (reported <= shift.last_day.toordinal())
    around = (abs(reported - shift.first_day.toordinal()) < 120) & ~inside
    ratio = np.nanmedian(silicon[there & inside]) / np.nanmedian(silicon[there & around])
    other = np.nanmedian(silicon[~there & inside]) / np.nanmedian(silicon[~there & around])
    assert ratio > 1.3
    assert ratio > other + 0.2


def test_that_a_machine_on_standby_works_no_more() -> None:
    fleet = the_played_story().fleet
    place = next(i for i, m in enumerate(fleet.machines) if m.standby_from)
    own = [i for i, box in enumerate(fleet.compartments) if box.machine == place]
    days = fleet.samples.taken_on[np.isin(fleet.samples.compartment, own)]
    assert days.max() < fleet.machines[place].standby_from


def test_that_skipped_boxes_are_overdue_on_the_last_day() -> None:
    story, fleet = the_story(), the_played_story().fleet
    newest = {
        box_name(fleet, int(box)): int(day)
        for box, day in zip(fleet.samples.compartment, fleet.samples.taken_on, strict=True)
    }
    assert len(story.plan.script.skipped) >= 3
    for name, _ in story.plan.script.skipped:
        assert fleet.last_day - newest[name.machine, name.kind, name.position] > 180


def test_that_bottles_in_the_waiting_files_are_shipped_and_have_no_sheet_yet() -> None:
    played = the_played_story()
    samples = played.fleet.samples
    place = {bottle_code_of(samples, s): s for s in range(len(samples))}
    sheets = {int(s) for rows in played.fleet.results for s in rows.sample}
    for ending in ("lab_a.csv", "lab_b.xlsx"):
        heads, *rows = file_named(ending).rows
        issue = heads.index("Issue")
        for row in rows[1:] if ending.endswith("csv") else rows:
            sample = place[str(row[0])]
            if row[issue] in (1, "1"):
                assert samples.state[sample] == SHIPPED
                assert sample not in sheets
            else:
                assert samples.state[sample] == REPORTED
                assert sample in sheets


def test_that_some_bottles_are_still_at_the_laboratory_and_in_no_file() -> None:
    played = the_played_story()
    samples = played.fleet.samples
    printed = {str(row[0]) for file in played.lab_files for row in file.rows}
    waiting = np.flatnonzero(samples.state == SHIPPED)
    still = [s for s in waiting if bottle_code_of(samples, int(s)) not in printed]
    assert 5 <= len(still) <= 40


def test_that_taking_in_the_files_moves_boxes_to_urgent() -> None:
    from fluiddesk.simulation.play import simulate_with_unanswered
    from tests.simulation.catalogue_setting import catalogue_setting

    before = newest_severity(the_played_story().fleet)
    full, _ = simulate_with_unanswered(catalogue_setting(), the_story().plan)
    after = newest_severity(full)
    moved = {box_name(full, box): (before.get(box, 0), now) for box, now in after.items()}
    assert moved["EX-104", "hydraulic", ""] == (1, 3)
    assert moved["WL-206", "engine", ""] == (1, 3)
    assert moved["EX-106", "hydraulic", ""] == (1, 3)
    assert moved["GR-701", "engine", ""] == (1, 3)
    assert moved["WL-203", "engine", ""] == (1, 2)
    assert moved["WL-205", "transmission", ""] == (2, 0)


def test_that_the_revised_report_brings_a_box_back_to_normal() -> None:
    played = the_played_story()
    row = file_named("lab_b.xlsx").rows[-1]
    heads = file_named("lab_b.xlsx").rows[0]
    assert row[heads.index("Issue")] == 2
    assert str(row[heads.index("Replaces")]).endswith("issue 1")
    rows = next(rows for rows in played.fleet.results if rows.family == "transmission")
    samples = played.fleet.samples
    own = next(
        r for r in range(len(rows)) if bottle_code_of(samples, int(rows.sample[r])) == row[0]
    )
    first = rows.values[own, rows.analytes.index("copper")]
    again = row[heads.index("Copper mg/kg")]
    assert isinstance(again, int)
    revision = the_story().lab_files[1].revises
    assert revision is not None
    assert first == pytest.approx(revision.factor * again)
    worst, _ = judged(played.fleet, rows, np.array([own]))
    assert worst[0] >= 2
    newest = {
        int(r)
        for table, which in newest_rows(played.fleet)
        if table.family == "transmission"
        for r in which
    }
    assert own in newest


@pytest.mark.parametrize("file", the_played_story().lab_files, ids=lambda file: str(file.name))
def test_that_the_committed_laboratory_files_are_those_of_the_story(file: LabFile) -> None:
    path = LAB_FILES / file.name
    if file.layout == "lab_b":
        assert workbook_rows(path) == comparable(file.rows)
    else:
        assert path.read_bytes() == csv_bytes(file)


def test_that_the_file_of_lab_a_has_commas_signs_and_blanks() -> None:
    rows = list(
        csv.reader(
            io.StringIO(
                (LAB_FILES / file_named("lab_a.csv").name).read_bytes().decode(CSV_ENCODING)
            ),
            delimiter=";",
        )
    )
    heads, units, *bottles = rows
    assert len({len(row) for row in rows}) == 1
    assert units[heads.index("Water")] == "%"
    cells = [cell for row in bottles for cell in row]
    assert 20 <= len(bottles) <= 30
    assert any(cell.startswith("<") for cell in cells)
    assert "n/a" in cells
    assert "" in cells
    assert any("," in cell for cell in cells)
    assert all(normal_bottle_code(row[0]) == row[0] for row in bottles)


def test_that_the_mischief_is_all_there() -> None:
    heads, _, *bottles = file_named("mischief.csv").rows
    codes = [str(row[0]) for row in bottles]
    assert "Smell" in heads
    assert len(codes) - len(set(codes)) == 1
    with pytest.raises(BottleCodeError):
        normal_bottle_code(codes[1])
    assert bottles[2][heads.index("Visc 100 °C")] == "12,4O"
    assert bottles[3][heads.index("Sampled")] == "31.11.2026"
    assert bottles[4][heads.index("Fe")] == "-3"
    samples = the_played_story().fleet.samples
    known = {bottle_code_of(samples, s) for s in range(len(samples))}
    assert normal_bottle_code(codes[-1]) not in known
