from contextlib import suppress
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy.exc import IntegrityError

from fluiddesk.domain.errors import NotFoundError, OperatorError, StaleEditError
from fluiddesk.domain.fleet import Certainty, EventKind, MachineState, Meter
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.limits.limit_set import LimitSetState
from fluiddesk.domain.samples import SampleState, Sign
from fluiddesk.storage import (
    CONDITION_COLUMNS,
    NO_SITE,
    BottleRecord,
    DeskStore,
    EventRecord,
    HeldRowRecord,
    MeterReadingRecord,
    SheetTakenError,
    UsageRecord,
)
from tests.makers import make_limit, make_set
from tests.stores import (
    CLERK,
    LATER,
    MOMENT,
    SITE,
    Filled,
    bring_up_to_date,
    make_assessment,
    make_condition,
    make_fluid,
    make_reading,
    make_sheet,
    report_all,
)

HASH = "a" * 64


class GivenUpError(Exception):
    """Undoes an example, so that the next one starts afresh."""


def make_event(filled: Filled, **changes: object) -> EventRecord:
    event = EventRecord(
        site=SITE,
        compartment=filled.compartment.id,
        kind=EventKind.TOP_UP,
        happened_on=date(2025, 2, 1),
        certainty=Certainty.INFERRED,
        source="desk",
        litres=2.5,
    )
    return replace(event, **changes)  # type: ignore[arg-type]


def test_that_the_fleet_comes_back_as_it_was_entered(store: DeskStore, filled: Filled) -> None:
    with store.reading() as desk:
        assert desk.fleet.machines() == [filled.machine]
        assert desk.fleet.compartments() == [filled.compartment]
        assert desk.fleet.compartments_of(filled.machine.id) == [filled.compartment]
        assert desk.fleet.fluids() == [make_fluid()]
        assert desk.fleet.references()[0].values == {"iron": 2.0}
        assert desk.sampling.samples_of(filled.compartment.id) == list(filled.samples)


def test_that_a_machine_is_found_by_its_code_in_any_letter_case(
    store: DeskStore, filled: Filled
) -> None:
    with store.reading() as desk:
        assert desk.fleet.machine(" ex-01 ") == filled.machine
        with pytest.raises(NotFoundError, match="EX-99"):
            desk.fleet.machine("EX-99")


def test_that_a_new_meter_ends_the_one_before(store: DeskStore, filled: Filled) -> None:
    second = Meter(fitted_on=date(2025, 6, 1), start_value=5.0, hours_before=900.0)
    with store.transaction(who=CLERK, moment=MOMENT) as desk:
        desk.fleet.add_meter(filled.machine, second, ends_last_at=900.0)
        first, last = desk.fleet.meter_records(filled.machine.id)
    assert (first.removed_on, first.end_value) == (date(2025, 6, 1), 900.0)
    assert (last.meter, last.removed_on) == (second, None)


def test_that_meter_readings_and_usage_come_back(store: DeskStore, filled: Filled) -> None:
    reading = MeterReadingRecord(
        site=SITE,
        machine=filled.machine.id,
        read_on=date(2025, 3, 1),
        value=500.0,
        true_hours=500.0,
        source="sampler",
    )
    usage = UsageRecord(
        site=SITE,
        machine=filled.machine.id,
        hours_now=500.0,
        as_of=date(2025, 3, 1),
        hours_per_day=9.5,
        hours_per_day_spread=2.0,
        readings=1,
    )
    with store.transaction(who=CLERK, moment=MOMENT) as desk:
        desk.fleet.add_meter_readings([reading])
        desk.fleet.save_usage([replace(usage, hours_now=1.0)])
        desk.fleet.save_usage([usage])
    with store.reading() as desk:
        assert desk.fleet.meter_readings(filled.machine.id) == [reading]
        assert desk.fleet.usage() == {filled.machine.id: usage}


def test_that_an_event_is_superseded_and_not_lost(store: DeskStore, filled: Filled) -> None:
    with store.transaction(who=CLERK, moment=MOMENT) as desk:
        old = desk.fleet.add_event(make_event(filled))
        new = desk.fleet.add_event(
            make_event(filled, certainty=Certainty.DENIED, litres=None), supersedes=old
        )
    with store.reading() as desk:
        assert [one.id for one in desk.fleet.events(filled.compartment.id)] == [new]
        assert [one.id for one in desk.fleet.all_events()] == [new]
    with (
        pytest.raises(NotFoundError, match="not in force"),
        store.transaction(who=CLERK, moment=LATER) as desk,
    ):
        desk.fleet.add_event(make_event(filled), supersedes=old)


def test_that_the_second_of_two_edits_of_one_machine_is_told_of_the_first(
    store: DeskStore, filled: Filled
) -> None:
    with store.reading() as desk:
        version = desk.fleet.machine_version(filled.machine)
    with store.transaction(who="Robin", moment=LATER) as desk:
        desk.fleet.edit_machine(replace(filled.machine, state=MachineState.DOWN), version=version)
    with (
        pytest.raises(StaleEditError, match=r"EX-01 was changed by Robin at 2026-03-01 13:00"),
        store.transaction(who=CLERK, moment=LATER) as desk,
    ):
        desk.fleet.edit_machine(replace(filled.machine, model="B"), version=version)
    with store.reading() as desk:
        assert desk.fleet.machine("EX-01").state is MachineState.DOWN
        assert desk.fleet.machine("EX-01").model == "A"


def test_that_samples_and_compartments_are_guarded_the_same_way(
    store: DeskStore, filled: Filled
) -> None:
    sample = filled.samples[0]
    for _ in range(2):
        with store.transaction(who=CLERK, moment=LATER) as desk:
            desk.sampling.edit_sample(
                replace(sample, meter_value=7.0), version=desk.sampling.sample_version(sample.id)
            )
            version = desk.fleet.compartment_version(filled.compartment)
            desk.fleet.edit_compartment(replace(filled.compartment, capacity_l=41), version=version)
    with pytest.raises(StaleEditError), store.transaction(who=CLERK, moment=LATER) as desk:
        desk.sampling.edit_sample(sample, version=1)
    with pytest.raises(StaleEditError), store.transaction(who=CLERK, moment=LATER) as desk:
        desk.fleet.edit_compartment(filled.compartment, version=1)


def test_that_a_record_of_another_site_cannot_be_named(store: DeskStore, filled: Filled) -> None:
    elsewhere = CompartmentId(b"\x01" * 16)
    with (
        pytest.raises(Exception, match=r"(?i)foreign key"),
        store.transaction(who=CLERK, moment=MOMENT) as desk,
    ):
        desk.fleet.add_event(make_event(filled, compartment=elsewhere))
    with pytest.raises(IntegrityError), store.transaction(who=CLERK, moment=MOMENT) as desk:
        desk.session.connection.exec_driver_sql("DELETE FROM compartment")


@pytest.mark.parametrize(
    ("column", "value"),
    [("capacity_l", "plenty"), ("kind", None), ("id", b"short"), ("residue_share", 1.5)],
)
def test_that_a_value_of_the_wrong_kind_is_refused(
    store: DeskStore, filled: Filled, column: str, value: object
) -> None:
    row = {
        "site_id": SITE,
        "id": b"\x02" * 16,
        "machine_id": filled.machine.id,
        "kind": "hydraulic",
        "fluid_code": "E15",
        "capacity_l": 10.0,
        "residue_share": 0.1,
    } | {column: value}
    with pytest.raises(Exception, match=column), store.transaction(who="", moment=MOMENT) as desk:
        desk.load("compartment", list(row), [tuple(row.values())])


def test_that_unknown_tables_and_columns_are_never_written(store: DeskStore) -> None:
    with store.transaction(who=CLERK, moment=MOMENT) as desk:
        with pytest.raises(ValueError, match="no table"):
            desk.load("site; DROP TABLE site", ("site_id",), [(1,)])
        with pytest.raises(ValueError, match="no columns"):
            desk.load("site", ("site_id, name",), [(1,)])


def test_that_open_bottles_carry_what_was_reported_before(store: DeskStore, filled: Filled) -> None:
    first = filled.samples[0]
    with store.transaction(who=CLERK, moment=MOMENT) as desk:
        desk.sampling.add_bottles([BottleRecord(site=SITE, code=first.bottle_code)])
        desk.results.save_sheet(SITE, first.id, make_sheet(first.bottle_code))
        codes = [sample.bottle_code for sample in filled.samples]
        awaited = desk.sampling.open_bottles()
        (reported,) = desk.sampling.open_bottles([first.bottle_code, "nowhere"])
    assert [one.bottle_code for one in awaited] == codes[1:]
    assert (reported.site_name, reported.machine, reported.compartment) == (
        "North pit",
        "EX-01",
        "Engine",
    )
    assert (reported.newest_issue, reported.newest_report) == (1, f"R-{first.bottle_code}")
    assert reported.newest_readings == make_sheet(first.bottle_code).readings


def test_that_a_newer_issue_replaces_and_a_late_older_one_does_not(
    store: DeskStore, filled: Filled
) -> None:
    sample = filled.samples[0]
    with store.transaction(who=CLERK, moment=MOMENT) as desk:
        for issue, iron in ((2, 20.0), (3, 30.0), (1, 10.0)):
            sheet = make_sheet(sample.bottle_code, {"iron": iron}, issue=issue)
            desk.results.save_sheet(SITE, sample.id, sheet)
        sheets = desk.results.sheets_of(filled.compartment.id)
        readings = desk.results.readings_of(filled.compartment.id)
        assert desk.sampling.sample(sample.id).state is SampleState.REPORTED
    assert [(one.issue, one.is_current) for one in sheets] == [(1, False), (2, False), (3, True)]
    assert [one.superseded_by for one in sheets] == [sheets[2].id, sheets[2].id, None]
    assert [(one.value, one.printed) for one in readings] == [(30.0, "30")]


def test_that_the_same_issue_is_taken_once(store: DeskStore, filled: Filled) -> None:
    sample = filled.samples[0]
    with store.transaction(who=CLERK, moment=MOMENT) as desk:
        desk.results.save_sheet(SITE, sample.id, make_sheet(sample.bottle_code))
        with pytest.raises(SheetTakenError, match=sample.bottle_code):
            desk.results.save_sheet(SITE, sample.id, make_sheet(sample.bottle_code))


def test_that_an_analyte_the_store_does_not_know_is_named(store: DeskStore, filled: Filled) -> None:
    sample = filled.samples[0]
    sheet = make_sheet(sample.bottle_code, {"moonstone": 1.0})
    with (
        pytest.raises(NotFoundError, match="moonstone"),
        store.transaction(who=CLERK, moment=MOMENT) as desk,
    ):
        desk.results.save_sheet(SITE, sample.id, sheet)


def test_that_undoing_an_intake_brings_the_issue_before_back(
    store: DeskStore, filled: Filled
) -> None:
    first, second = filled.samples[:2]
    with store.transaction(who=CLERK, moment=MOMENT) as desk:
        desk.results.save_sheet(SITE, first.id, make_sheet(first.bottle_code))
        intake = desk.results.add_intake(
            SITE, file_name="a.csv", sha256=HASH, layout="plain", counts={"rows": 2}
        )
        newer = make_sheet(first.bottle_code, {"iron": 99.0}, issue=2)
        desk.results.save_sheet(SITE, first.id, newer, intake)
        desk.results.save_sheet(SITE, second.id, make_sheet(second.bottle_code), intake)
        with pytest.raises(OperatorError, match=r"a\.csv.*already"):
            desk.results.add_intake(SITE, file_name="a.csv", sha256=HASH, layout="", counts={})
    with store.transaction(who=CLERK, moment=LATER) as desk:
        assert set(desk.results.void_intake(intake, "wrong file")) == {first.id, second.id}
        readings = desk.results.readings_of(filled.compartment.id)
        assert [(one.sample, one.value) for one in readings] == [(first.id, 12.0), (first.id, 3.0)]
        assert desk.sampling.sample(first.id).state is SampleState.REPORTED
        assert desk.sampling.sample(second.id).state is SampleState.RECEIVED
        assert desk.results.find_intake_by_hash(HASH) is None
        desk.results.add_intake(SITE, file_name="a.csv", sha256=HASH, layout="", counts={})
        with pytest.raises(NotFoundError, match="undone before"):
            desk.results.void_intake(intake, "again")


def test_that_a_row_put_aside_waits_until_it_is_settled(store: DeskStore, filled: Filled) -> None:
    with store.transaction(who=CLERK, moment=MOMENT) as desk:
        intake = desk.results.add_intake(
            filled.machine.site, file_name="a.csv", sha256=HASH, layout="", counts={}
        )
        held = HeldRowRecord(
            site=SITE, intake=intake, row_number=4, cells={"Fe": "12,4O"}, reason="not a number"
        )
        desk.results.add_held_rows([held])
        assert desk.results.held_rows() == [held]
        desk.results.settle_held_row(held, outcome="corrected")
        assert desk.results.held_rows(intake) == []
        with pytest.raises(NotFoundError, match="Row 4"):
            desk.results.settle_held_row(held, outcome="corrected")


def test_that_a_limit_set_in_force_is_not_edited(store: DeskStore) -> None:
    draft = make_set([make_limit(), make_limit("copper", (None, 40, None))], 4)
    draft = replace(draft, state=LimitSetState.DRAFT)
    with store.transaction(who=CLERK, moment=MOMENT) as desk:
        desk.limits.save(draft)
        desk.limits.save(replace(draft, name="second thoughts"), version=desk.limits.version(4))
        assert desk.limits.limit_sets() == [replace(draft, name="second thoughts")]
        with pytest.raises(StaleEditError, match="limit set 4"):
            desk.limits.save(draft, version=1)
        desk.limits.set_state(4, LimitSetState.IN_FORCE)
        with pytest.raises(OperatorError, match="Copy it"):
            desk.limits.save(draft)
        assert desk.audit.newest(NO_SITE)[0].new == '{"state":"in_force"}'


def test_that_a_new_assessment_supersedes_the_older(store: DeskStore, filled: Filled) -> None:
    sample = filled.samples[0]
    with store.transaction(who=CLERK, moment=MOMENT) as desk:
        (old,) = desk.assessments.add_many([make_assessment(sample, severity=1)])
        (new,) = desk.assessments.add_many([make_assessment(sample, severity=2)])
        found = desk.assessments.of_compartment(filled.compartment.id)
    assert {one.id: one.superseded_by for one in found} == {old: new, new: None}
    assert {one.id: one.severity for one in found} == {old: 1, new: 2}


def test_that_the_condition_shows_boxes_with_and_without_samples(
    store: DeskStore, filled: Filled
) -> None:
    with store.transaction(who=CLERK, moment=MOMENT) as desk:
        (bare,) = desk.condition.rows()
        desk.condition.save([make_condition(filled.samples[0])])
        desk.condition.save([make_condition(filled.samples[1], severity=3)])
        (row,) = desk.condition.rows()
    empty, full = (dict(zip(CONDITION_COLUMNS, one, strict=True)) for one in (bare, row))
    assert (empty["machine"], empty["severity"], empty["taken_on"]) == ("EX-01", None, None)
    assert (full["severity"], full["taken_on"]) == (3, "2025-01-31")
    assert full["sample_id"] == filled.samples[1].id


def test_that_a_history_is_rebuilt_by_day_from_the_sheets_in_force(
    store: DeskStore, filled: Filled
) -> None:
    report_all(store, filled)
    with store.reading() as desk:
        history = desk.blocks.one(filled.compartment.id)
        keys, blobs = desk.blocks.all()
    assert history is not None
    assert (history.analytes, history.values[:, 0].tolist()) == ((1, 2), [10.0, 11.0, 12.0])
    assert history.hours.tolist() == [0.0, 250.0, 500.0]
    assert history.reference.tolist() == [0, 0, 0]
    assert bytes(history.sample_id[2]) == filled.samples[2].id
    assert (keys, len(blobs)) == ([filled.compartment.id], 1)


def test_that_a_box_without_results_has_an_empty_history(store: DeskStore, filled: Filled) -> None:
    with store.transaction(who=CLERK, moment=MOMENT) as desk:
        assert desk.blocks.one(filled.compartment.id) is None
        bring_up_to_date(desk, [filled.compartment.id])
        history = desk.blocks.one(filled.compartment.id)
        assert history is not None
        assert len(history) == 0


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(value=st.floats(allow_nan=False), sign=st.sampled_from([Sign.PLAIN, Sign.BELOW, Sign.ABOVE]))
def test_that_every_number_comes_back_to_the_last_bit(
    store: DeskStore, value: float, sign: Sign
) -> None:
    with store.reading() as desk:
        is_new = not desk.fleet.sites()
    if is_new:
        from tests.stores import fill

        fill(store)
    with store.reading() as desk:
        (compartment,) = desk.fleet.compartments()
        sample = desk.sampling.samples_of(compartment.id)[0]
    sheet = make_sheet(sample.bottle_code, {"iron": 0.0})
    sheet = replace(sheet, readings={"iron": make_reading("iron", value, sign=sign)})
    with suppress(GivenUpError), store.transaction(who=CLERK, moment=MOMENT) as desk:
        desk.results.save_sheet(SITE, sample.id, sheet)
        (reading,) = desk.results.readings_of(compartment.id)
        assert (reading.value, reading.sign) == (value, sign)
        raise GivenUpError


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("change_interval_hours", 0.0),
        ("change_interval_hours", -250.0),
        ("change_interval_days", 0),
        ("change_interval_days", -1),
    ],
)
def test_that_a_change_interval_of_nothing_is_refused_by_the_database(
    store: DeskStore, filled: Filled, column: str, value: float
) -> None:
    with (
        pytest.raises(IntegrityError, match=f"{column}_positive"),
        store.transaction(who=CLERK, moment=MOMENT) as desk,
    ):
        desk.session.connection.exec_driver_sql(f"UPDATE compartment SET {column} = {value}")  # noqa: S608 - plain numbers
    with store.transaction(who=CLERK, moment=MOMENT) as desk:
        desk.session.connection.exec_driver_sql(f"UPDATE compartment SET {column} = NULL")  # noqa: S608 - a column's name


def test_that_the_last_change_of_a_planned_box_is_told(store: DeskStore, filled: Filled) -> None:
    box = filled.compartment.id
    days = [MOMENT.date() - timedelta(days=ago) for ago in (30, 9, 9, 3)]
    with store.transaction(who=CLERK, moment=MOMENT) as desk:
        assert desk.changes.planned(until=MOMENT.date()) == {}
        for day, hours in zip(days, (5000.0, 6100.0, 6000.0, 7000.0), strict=True):
            desk.fleet.add_event(
                make_event(filled, kind=EventKind.FLUID_CHANGE, happened_on=day, true_hours=hours)
            )
        asked = desk.changes.planned(until=days[1], also=[box])
        assert tuple(asked[box]) == (None, None, days[1], 6100.0)
        desk.session.connection.exec_driver_sql(
            "UPDATE compartment SET change_interval_hours = 500"
        )
        last = desk.changes.planned(until=MOMENT.date(), compartment=box)
    assert tuple(last[box]) == (500.0, None, days[3], 7000.0)
