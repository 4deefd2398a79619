"""Plays a story: a small fleet with scripted turns, and the laboratory files that wait."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import numpy as np

from fluiddesk.simulation.lab_files import LabFile, lab_a_table, lab_b_table, with_mischief
from fluiddesk.simulation.plan import (
    BoxName,
    ErrorRates,
    LaboratoryShift,
    MachinePlan,
    Script,
    ScriptedFault,
    SimulationPlan,
    SitePlan,
)
from fluiddesk.simulation.play import only, simulate_with_unanswered
from fluiddesk.simulation.records import REPORTED, SHIPPED, ResultRows, SimulatedFleet, Truth
from fluiddesk.simulation.setting import Setting


@dataclass(frozen=True, slots=True, kw_only=True)
class Revision:
    """A report already taken in that comes again: its first issue was off by a factor."""

    box: BoxName
    analyte: str
    factor: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LabFilePlan:
    """A laboratory file that waits: the bottles of the newest visit of some machines."""

    name: str
    layout: str
    issued_on: date
    machines: tuple[str, ...]
    revises: Revision | None = None
    mischief: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgrammePlan:
    """How the samples of a story are drawn and sent.

    Attributes:
        crews: site, name, hours a day.
        services: machine, day on which it stands for service, note.
        custody_from: the day since which every hand-over of a bottle was kept.
        planned_changes: machines whose fluids are changed by a plan that the register knows.
    """

    crews: tuple[tuple[int, str, float], ...] = ()
    services: tuple[tuple[str, date, str], ...] = ()
    custody_from: date | None = None
    planned_changes: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class Story:
    """A scripted fleet and the laboratory files that are not taken in yet."""

    title: str
    plan: SimulationPlan
    lab_files: tuple[LabFilePlan, ...]
    programme: ProgrammePlan = ProgrammePlan()


@dataclass(frozen=True, kw_only=True)
class PlayedStory:
    """What a story leaves behind: the fleet on its last day, the truth, the waiting files."""

    fleet: SimulatedFleet
    truth: Truth
    lab_files: tuple[LabFile, ...]


def read_story(table: Mapping[str, Any]) -> Story:
    """A story from the tables of its file, as a TOML reader hands them over.

    Raises:
        KeyError: when a field is missing; the text names it.
    """
    first, last = table["first_day"], table["last_day"]
    sites = tuple(SitePlan(**row) for row in table["site"])
    machines = tuple(MachinePlan(**row) for row in table["machine"])
    days = (last - first).days + 1
    plan = SimulationPlan(
        machines=len(machines),
        years=days / 365.25,
        seed=table["seed"],
        first_day=first,
        sites=sites,
        rates=ErrorRates(**table.get("rates", {})),
        script=_read_script(table, machines),
    )
    files = tuple(_read_file(row) for row in table.get("lab_file", ()))
    programme = ProgrammePlan(
        crews=tuple(
            (row["site"], row["name"], row["hours_per_day"]) for row in table.get("crew", ())
        ),
        services=tuple(
            (row["machine"], row["on"], row.get("note", "")) for row in table.get("service", ())
        ),
        custody_from=table.get("custody_from"),
        planned_changes=frozenset(table.get("planned_changes", ())),
    )
    return Story(title=table["title"], plan=plan, lab_files=files, programme=programme)


def _read_script(table: Mapping[str, Any], machines: tuple[MachinePlan, ...]) -> Script:
    return Script(
        machines=machines,
        faults=tuple(
            ScriptedFault(**{**row, "box": _box(row["box"])}) for row in table.get("fault", ())
        ),
        swaps=tuple(
            (_box(row["first"]), _box(row["second"]), row["on_or_before"])
            for row in table.get("swap", ())
        ),
        unlogged_changes=tuple(
            (_box(row["box"]), row["from"]) for row in table.get("unlogged_change", ())
        ),
        skipped=tuple((_box(row["box"]), row["from"]) for row in table.get("skipped", ())),
        unanswered=tuple((row["machine"], row["from"]) for row in table.get("unanswered", ())),
        shifts=tuple(LaboratoryShift(**row) for row in table.get("laboratory_shift", ())),
    )


def _read_file(row: Mapping[str, Any]) -> LabFilePlan:
    fields = {**row, "machines": tuple(row["machines"])}
    if "revises" in row:
        fields["revises"] = Revision(**{**row["revises"], "box": _box(row["revises"]["box"])})
    return LabFilePlan(**fields)


def _box(words: Sequence[str]) -> BoxName:
    machine, kind, position = words
    return BoxName(machine=machine, kind=kind, position=position)


def play_story(setting: Setting, story: Story) -> PlayedStory:
    """Play a story; its days are its own, and nothing depends on the day it is played."""
    fleet, truth = simulate_with_unanswered(setting, story.plan)
    waiting = [_bottles(fleet, plan) for plan in story.lab_files]
    revised = [_revised_bottle(fleet, plan) for plan in story.lab_files]
    tables = tuple(
        _table(fleet, plan, bottles, again)
        for plan, bottles, again in zip(story.lab_files, waiting, revised, strict=True)
    )
    held = np.array(sorted(place for bottles in waiting for place in bottles), dtype=np.int64)
    fleet = _with_first_issues(_hold_back(fleet, held), story.lab_files, revised)
    return PlayedStory(fleet=fleet, truth=truth, lab_files=tables)


def _bottles(fleet: SimulatedFleet, plan: LabFilePlan) -> list[int]:
    """The bottles of a file that its layout has columns for, in the order of their labels."""
    found: list[int] = []
    for code in plan.machines:
        machine = next(i for i, one in enumerate(fleet.machines) if one.code == code)
        boxes = [
            place
            for place, box in enumerate(fleet.compartments)
            if box.machine == machine and (plan.layout != "lab_a" or box.family != "coolant")
        ]
        of_machine = np.flatnonzero(np.isin(fleet.samples.compartment, boxes))
        newest = fleet.samples.taken_on[of_machine].max()
        found.extend(of_machine[fleet.samples.taken_on[of_machine] == newest].tolist())
    tested = {place for rows in fleet.results for place in rows.sample.tolist()}
    return [place for place in sorted(found) if place in tested]


def _revised_bottle(fleet: SimulatedFleet, plan: LabFilePlan) -> int | None:
    """The newest reported bottle of the box whose report the file revises."""
    if plan.revises is None:
        return None
    name = plan.revises.box
    samples = fleet.samples
    for place in range(len(samples) - 1, -1, -1):
        box = fleet.compartments[int(samples.compartment[place])]
        words = (fleet.machines[box.machine].code, box.kind, box.position)
        if words == (name.machine, name.kind, name.position) and samples.state[place] == REPORTED:
            return place
    raise LookupError(f"{name.machine} {name.kind} has no report that could be revised")


def _table(
    fleet: SimulatedFleet, plan: LabFilePlan, bottles: list[int], again: int | None
) -> LabFile:
    if plan.layout == "lab_b":
        rows = lab_b_table(fleet, bottles, plan.issued_on, again)
    else:
        rows = lab_a_table(fleet, bottles, plan.issued_on)
    if plan.mischief:
        rows = with_mischief(rows)
    return LabFile(name=plan.name, layout=plan.layout, rows=rows)


def _hold_back(fleet: SimulatedFleet, held: np.ndarray[Any, np.dtype[np.int64]]) -> SimulatedFleet:
    """The fleet before these bottles were answered: shipped, without sheets."""
    samples = fleet.samples
    state = samples.state.copy()
    received, reported = samples.received_on.copy(), samples.reported_on.copy()
    state[held] = SHIPPED
    received[held] = 0
    reported[held] = 0
    samples = replace(samples, state=state, received_on=received, reported_on=reported)
    known = state == REPORTED
    results = tuple(only(rows, known[rows.sample]) for rows in fleet.results)
    return replace(fleet, samples=samples, results=results)


def _with_first_issues(
    fleet: SimulatedFleet, plans: Sequence[LabFilePlan], revised: Sequence[int | None]
) -> SimulatedFleet:
    """Put into the fleet what the first issues said that the waiting files revise."""
    results = list(fleet.results)
    for plan, place in zip(plans, revised, strict=True):
        if plan.revises is not None and place is not None:
            for number, rows in enumerate(results):
                results[number] = _misread(rows, place, plan.revises)
    return replace(fleet, results=tuple(results))


def _misread(rows: ResultRows, sample: int, revision: Revision) -> ResultRows:
    here = np.flatnonzero(rows.sample == sample)
    if not len(here):
        return rows
    wanted = (rows.sample != sample) | (rows.issue == rows.issue[here].max())
    rows = only(rows, wanted)
    values, issue = rows.values.copy(), rows.issue.copy()
    column = rows.analytes.index(revision.analyte)
    values[rows.sample == sample, column] *= revision.factor
    issue[rows.sample == sample] = 1
    return replace(rows, values=values, issue=issue)
