from datetime import date

import pytest

from fluiddesk.domain.errors import NotFoundError, StaleEditError
from fluiddesk.storage import NO_SITE, DeskStore, RecordKey, RecordKind
from tests.stores import CLERK, LATER, SITE, Filled


def key_of(filled: Filled) -> RecordKey:
    return RecordKey(RecordKind.MACHINE, SITE, filled.machine.id)


def test_that_only_what_differs_is_changed_and_told(store: DeskStore, filled: Filled) -> None:
    key = key_of(filled)
    values = {"model": "B", "in_service_on": date(2024, 1, 2), "kind": "excavator"}
    with store.transaction(who="Noor", moment=LATER) as desk:
        changed = desk.register.change(key, values, version=1, name="machine EX-01")
        assert set(changed) == {"model", "in_service_on"}
    with store.reading() as desk:
        row = desk.register.row(key)
        [told] = desk.register.changes(key)
        assert desk.audit.verify() == []
    assert (row["version"], row["changed_by"], row["changed_at"]) == (2, "Noor", LATER)
    assert (told.who, told.at, told.undoes) == ("Noor", LATER, None)
    assert told.old == {"model": "A", "in_service_on": None}
    assert told.new == {"model": "B", "in_service_on": "2024-01-02"}


def test_that_told_values_come_back_as_the_columns_hold_them(
    store: DeskStore, filled: Filled
) -> None:
    told = {"in_service_on": "2024-01-02", "machine_uuid": filled.machine.id.hex(), "serial": ""}
    with store.reading() as desk:
        stored = desk.register.as_stored(RecordKind.MACHINE, {**told, "cost_per_down_hour": None})
    assert stored == {
        "in_service_on": date(2024, 1, 2),
        "machine_uuid": filled.machine.id,
        "serial": "",
        "cost_per_down_hour": None,
    }


def test_that_equal_values_write_nothing(store: DeskStore, filled: Filled) -> None:
    key = key_of(filled)
    with store.transaction(who="Noor", moment=LATER) as desk:
        before = desk.audit.last_hash(SITE)
        assert desk.register.change(key, {"model": "A"}, version=7, name="machine") == ()
        assert desk.audit.last_hash(SITE) == before
        assert desk.register.row(key)["version"] == 1


def test_that_an_older_version_and_a_record_that_is_not_there_are_refused(
    store: DeskStore, filled: Filled
) -> None:
    key = key_of(filled)
    with store.transaction(who="Noor", moment=LATER) as desk:
        desk.register.change(key, {"model": "B"}, version=1, name="machine EX-01")
    with (
        pytest.raises(StaleEditError, match="changed by Noor"),
        store.transaction(who=CLERK, moment=LATER) as desk,
    ):
        desk.register.change(key, {"model": "C"}, version=1, name="machine EX-01")
    nobody = RecordKey(RecordKind.LABORATORY, NO_SITE, "none")
    with store.reading() as desk, pytest.raises(NotFoundError, match="laboratory none"):
        desk.register.row(nobody)


def test_that_a_shared_record_is_told_in_the_chain_of_no_site(
    store: DeskStore, filled: Filled
) -> None:
    key = RecordKey(RecordKind.USER, NO_SITE, "Noor")
    with store.transaction(who=CLERK, moment=LATER) as desk:
        desk.register.add(key, {"role": "planner", "is_active": True}, name="desk user Noor")
    with store.reading() as desk:
        [told] = desk.register.changes(key)
        assert desk.register.row(key)["role"] == "planner"
    assert (told.site, told.old, told.new) == (
        NO_SITE,
        None,
        {"role": "planner", "is_active": True},
    )


def test_that_the_newest_reading_of_each_machine_is_known(store: DeskStore, filled: Filled) -> None:
    columns = ("site_id", "id", "machine_id", "read_on", "value", "true_hours", "source",
               "voided_reason")  # fmt: skip
    days = ((1, None), (3, None), (9, "wrong machine"))
    with store.transaction(who=CLERK, moment=LATER) as desk:
        rows = [
            (SITE, desk.new_id(), filled.machine.id, date(2025, 1, day), 10.0 * day, 10.0 * day,
             "desk", why)
            for day, why in days
        ]  # fmt: skip
        desk.load("meter_reading", columns, rows)
    with store.reading() as desk:
        newest = desk.register.last_readings()
        readings = desk.hours.readings(filled.machine.id)
    assert {key: row["value"] for key, row in newest.items()} == {filled.machine.id: 30.0}
    assert [one.value for one in readings] == [10.0, 30.0]


def test_that_a_version_of_none_writes_over_whatever_stands_there(
    store: DeskStore, filled: Filled
) -> None:
    key = key_of(filled)
    with store.transaction(who=CLERK, moment=LATER) as desk:
        desk.register.change(key, {"model": "B"}, version=1, name="machine EX-01")
        desk.register.change(key, {"model": "C"}, version=None, name="machine EX-01", undoes=1)
        told = desk.register.changes(key)
        assert desk.register.row(key)["model"] == "C"
    assert [one.undoes for one in told] == [1, None]
