"""Writes a played fleet to a database: truth of the register, results, histories and verdicts."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.errors import CannotWriteError, UsageError
from fluiddesk.domain.identity import CompartmentId, MachineId, SiteId
from fluiddesk.domain.samples import SampleColumns, Sign
from fluiddesk.domain.trends.usage import usage
from fluiddesk.services.catalogue import Catalogue, load_catalogue
from fluiddesk.services.founding import found, set_replayed_day
from fluiddesk.services.reassess.fleet import Reassessed, reassess_boxes
from fluiddesk.services.simulated_fleet.programme import write_programme
from fluiddesk.services.simulated_fleet.rows import (
    SAMPLE_COLUMNS,
    TRUST_BY_METHOD,
    Keys,
    Sheets,
    compartment_rows,
    event_rows,
    machine_rows,
    meter_rows,
    point_rows,
    reading_rows,
    sample_rows,
    sheets_of,
)
from fluiddesk.services.simulated_fleet.setting import setting_of
from fluiddesk.simulation.plan import SimulationPlan
from fluiddesk.simulation.play import simulate
from fluiddesk.simulation.records import (
    ResultRows,
    SimulatedFleet,
    Truth,
    report_number_of,
    truth_text,
)
from fluiddesk.simulation.story import ProgrammePlan
from fluiddesk.storage import Desk, UsageRecord, open_store

Progress = Callable[[int, int | None], bool]

_STEPS = 6
_LEAST_MACHINES, _MOST_MACHINES, _MOST_YEARS = 1, 20_000, 30.0


def write_simulated_fleet(
    target: Path,
    *,
    machines: int,
    years: float,
    seed: int,
    last_day: date,
    moment: datetime,
    progress: Progress | None = None,
) -> str:
    """Play a fleet and write its database, and the truth beside it as ``NAME.truth.json``.

    Returns:
        What was written, in words.

    Raises:
        UsageError: when the size asked for makes no sense.
        OperatorError: when something stands at the target or it cannot be written.
    """
    if not _LEAST_MACHINES <= machines <= _MOST_MACHINES or not 0 < years <= _MOST_YEARS:
        raise UsageError(
            f"{machines} machines over {years:g} years cannot be played. Give {_LEAST_MACHINES} to "
            f"{_MOST_MACHINES} machines and up to {_MOST_YEARS:g} years."
        )
    catalogue = load_catalogue()
    first_day = date.fromordinal(last_day.toordinal() - max(1, round(years * 365.25)) + 1)
    plan = SimulationPlan(machines=machines, years=years, seed=seed, first_day=first_day)
    fleet, truth = simulate(setting_of(catalogue, on=first_day), plan)
    found(str(target), catalogue, who=f"simulation, seed {seed}", moment=moment)
    outcome = fill_database(str(target), fleet, catalogue, moment=moment, progress=progress)
    beside = write_truth(target, truth)
    return (
        f"Wrote {len(fleet.machines)} machines, {len(fleet.compartments)} compartments and "
        f"{outcome.samples} reported samples to {target} (seed {seed}); the truth is in {beside}."
    )


def truth_beside(target: Path) -> Path:
    """Where the truth of a played fleet lies."""
    return target.with_name(target.name + ".truth.json")


def write_truth(target: Path, truth: Truth) -> Path:
    """Write the truth of a played fleet beside its database."""
    beside = truth_beside(target)
    try:
        beside.write_text(truth_text(truth), encoding="utf-8")
    except OSError as fault:
        raise CannotWriteError(f"{beside} cannot be written: {fault.strerror}.") from fault
    return beside


def fill_database(
    address: str,
    fleet: SimulatedFleet,
    catalogue: Catalogue,
    *,
    moment: datetime,
    programme: ProgrammePlan | None = None,
    progress: Progress | None = None,
) -> Reassessed:
    """Put a played fleet into a new database, in one transaction, marked as invented.

    ``programme``: crews, service days and hand-overs of bottles, where a story has them.
    """
    store = open_store(address)

    def tell(step: int) -> None:
        if progress is not None:
            progress(step, _STEPS)

    try:
        with store.transaction(who="simulation", moment=moment) as desk:
            keys = Keys.made(fleet, moment)
            planned = programme.planned_changes if programme is not None else frozenset()
            _load_register(desk, fleet, keys, catalogue, moment, planned=planned)
            tell(1)
            desk.load("sample", SAMPLE_COLUMNS, sample_rows(fleet, keys))
            tell(2)
            for results in fleet.results:
                _load_results(desk, fleet, keys, results, catalogue, moment)
            if programme is not None:
                write_programme(desk, fleet, keys, programme, moment=moment)
            tell(4)
            set_replayed_day(desk, date.fromordinal(fleet.last_day))
            outcome = reassess_boxes(desk, catalogue, moment=moment)
            tell(_STEPS)
            return outcome
    finally:
        store.close()


def _load_register(
    desk: Desk,
    fleet: SimulatedFleet,
    keys: Keys,
    catalogue: Catalogue,
    moment: datetime,
    *,
    planned: frozenset[str],
) -> None:
    sites = [(number, site.name, "UTC", "{}") for number, site in enumerate(fleet.sites, start=1)]
    desk.load("site", ("site_id", "name", "time_zone", "dust_shares"), sites)
    names = {code: code.replace("_", " ").title() for code in fleet.laboratories}
    desk.load("laboratory", ("code", "name"), list(names.items()))
    desk.load(
        "machine",
        ("site_id", "id", "code", "kind", "model", "serial", "state", "criticality",
         "machine_uuid"),
        machine_rows(fleet, keys),
    )  # fmt: skip
    desk.load(
        "meter",
        ("site_id", "id", "machine_id", "kind", "fitted_on", "start_value", "hours_before",
         "rolls_over_at"),
        meter_rows(fleet, keys),
    )  # fmt: skip
    desk.load(
        "compartment",
        ("site_id", "id", "machine_id", "kind", "position", "fluid_code", "capacity_l",
         "residue_share", "interval_hours", "interval_days", "change_interval_hours"),
        compartment_rows(fleet, keys, catalogue, planned),
    )  # fmt: skip
    desk.load(
        "sampling_point",
        ("site_id", "id", "compartment_id", "kind", "location", "run_state", "flush_ml"),
        point_rows(fleet, keys, catalogue, moment),
    )
    desk.load(
        "meter_reading",
        ("site_id", "id", "machine_id", "read_on", "value", "true_hours", "source"),
        reading_rows(fleet, keys, moment),
    )
    desk.load(
        "compartment_event",
        ("site_id", "id", "compartment_id", "kind", "happened_on", "true_hours", "litres",
         "fluid_code", "certainty", "source"),
        event_rows(fleet, keys, moment),
    )  # fmt: skip
    desk.fleet.save_usage(list(_usage(fleet, keys, catalogue)))


def _usage(fleet: SimulatedFleet, keys: Keys, catalogue: Catalogue) -> Iterator[UsageRecord]:
    rows = fleet.meter_readings
    order = np.lexsort((rows.day, rows.machine))
    machine, day, hours = rows.machine[order], rows.day[order], rows.true_hours[order]
    edges = np.flatnonzero(np.diff(machine, prepend=-1, append=-1))
    for start, stop in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True):
        place = int(machine[start])
        kind = catalogue.machine_kinds[fleet.machines[place].kind]
        found_usage = usage(
            days=day[start:stop],
            hours=np.round(hours[start:stop], 1),
            fallback_hours_per_day=kind.hours_per_day,
        )
        if found_usage is not None:
            spread = found_usage.spread
            yield UsageRecord(
                site=SiteId(keys.site_of_machine[place]),
                machine=MachineId(keys.machines[place]),
                hours_now=found_usage.hours_now,
                as_of=date.fromordinal(found_usage.as_of),
                hours_per_day=found_usage.hours_per_day,
                hours_per_day_spread=0.0 if np.isnan(spread) else spread,
                readings=found_usage.readings,
            )


def _load_results(
    desk: Desk,
    fleet: SimulatedFleet,
    keys: Keys,
    results: ResultRows,
    catalogue: Catalogue,
    moment: datetime,
) -> None:
    order = np.lexsort((results.issue, results.sample))
    results = _in_order(results, order)
    sheets = sheets_of(results.sample, results.issue, stamp=int(moment.timestamp() * 1000))
    desk.load(
        "result_sheet",
        ("site_id", "id", "sample_id", "laboratory_code", "report_number", "issue", "received_on",
         "issued_on", "is_current", "superseded_by"),
        _sheet_rows(fleet, keys, results, sheets),
    )  # fmt: skip
    desk.load(
        "reading",
        ("site_id", "sheet_id", "analyte_number", "sign", "value", "printed", "printed_unit",
         "decimals"),
        _value_rows(fleet, keys, results, sheets, catalogue),
    )  # fmt: skip
    desk.blocks.write(dict(_blocks(desk, fleet, keys, results, sheets)))


def _in_order(results: ResultRows, order: NDArray[np.intp]) -> ResultRows:
    from dataclasses import replace

    return replace(
        results,
        sample=results.sample[order],
        issue=results.issue[order],
        values=results.values[order],
        signs=results.signs[order],
    )


def _sheet_rows(
    fleet: SimulatedFleet, keys: Keys, results: ResultRows, sheets: Sheets
) -> list[tuple[Any, ...]]:
    samples = fleet.samples
    rows = []
    # A sheet's successor is written before it, so that the reference holds at every row.
    for place in range(len(results) - 1, -1, -1):
        sample = int(results.sample[place])
        received, reported = int(samples.received_on[sample]), int(samples.reported_on[sample])
        rows.append(
            (
                keys.site_of_box(int(samples.compartment[sample])), sheets.keys[place],
                keys.samples[sample], fleet.laboratories[int(samples.laboratory[sample])],
                report_number_of(fleet, sample), int(results.issue[place]), _day(received),
                _day(reported), bool(sheets.is_current[place]), sheets.superseded_by[place],
            )
        )  # fmt: skip
    return rows


def _value_rows(
    fleet: SimulatedFleet, keys: Keys, results: ResultRows, sheets: Sheets, catalogue: Catalogue
) -> Iterator[tuple[Any, ...]]:
    numbers, decimals = results.numbers.tolist(), results.decimals.tolist()
    units = [catalogue.by_number[number].unit for number in numbers]
    marks = {int(Sign.BELOW): "<", int(Sign.ABOVE): ">"}
    words = {int(Sign.ABSENT): "neg", int(Sign.PRESENT): "pos", int(Sign.NOT_ENOUGH): "i.s."}
    box = fleet.samples.compartment[results.sample].tolist()
    for place, (values, signs) in enumerate(
        zip(results.values.tolist(), results.signs.tolist(), strict=True)
    ):
        site, sheet = keys.site_of_box(box[place]), sheets.keys[place]
        for number, places, unit, value, sign in zip(
            numbers, decimals, units, values, signs, strict=True
        ):
            if sign == Sign.NOT_TESTED:
                continue
            printed = words.get(sign) or f"{marks.get(sign, '')}{value:.{places}f}"
            known = None if sign > Sign.PRESENT else value
            yield (site, sheet, number, sign, known, printed, unit, places)


def _blocks(
    desk: Desk, fleet: SimulatedFleet, keys: Keys, results: ResultRows, sheets: Sheets
) -> Iterator[tuple[CompartmentId, SampleColumns]]:
    samples = fleet.samples
    current = np.flatnonzero(sheets.is_current)
    sample = results.sample[current]
    hours = np.round(samples.true_hours[sample], 1)
    order = np.lexsort((hours, samples.taken_on[sample], samples.compartment[sample]))
    current, sample, hours = current[order], sample[order], hours[order]
    box = samples.compartment[sample]
    fluid_hours = np.maximum(samples.fluid_hours[sample], 0.0).round(1)
    trust = TRUST_BY_METHOD[samples.method]
    ids = np.frombuffer(b"".join(keys.samples), dtype=np.uint8).reshape(-1, 16)
    references = _references(desk)
    edges = np.flatnonzero(np.diff(box, prepend=-1, append=-1))
    for start, stop in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True):
        rows, mine = current[start:stop], sample[start:stop]
        tested = (results.signs[rows] != Sign.NOT_TESTED).any(axis=0)
        place = int(box[start])
        known = references.get(fleet.compartments[place].fluid, [])
        days = samples.taken_on[mine].astype(np.int32)
        yield (
            CompartmentId(keys.compartments[place]),
            SampleColumns(
                analytes=tuple(results.numbers[tested].tolist()),
                compartment=np.zeros(len(rows), dtype=np.int32),
                sample_id=ids[mine],
                taken_on=days,
                hours=hours[start:stop],
                fluid_hours=fluid_hours[start:stop],
                fill=samples.fill[mine].astype(np.int32),
                trust=trust[mine],
                severity=np.full(len(rows), -1, dtype=np.int8),
                digest=np.zeros(len(rows), dtype=np.uint64),
                reference=_reference_numbers(known, days),
                values=results.values[rows][:, tested],
                signs=results.signs[rows][:, tested],
            ),
        )


def _references(desk: Desk) -> Mapping[str, Sequence[tuple[int, int]]]:
    found_numbers: dict[str, list[tuple[int, int]]] = {}
    for number, record in desk.fleet.references().items():
        found_numbers.setdefault(record.fluid_code, []).append(
            (record.valid_from.toordinal(), number)
        )
    return {code: sorted(pairs) for code, pairs in found_numbers.items()}


def _reference_numbers(
    known: Sequence[tuple[int, int]], days: NDArray[np.int32]
) -> NDArray[np.int16]:
    starts = np.array([start for start, _ in known], dtype=np.int64)
    numbers = np.array([-1, *(number for _, number in known)], dtype=np.int16)
    return numbers[np.searchsorted(starts, days, side="right")]


def _day(ordinal: int) -> date | None:
    return date.fromordinal(ordinal) if ordinal else None
