"""Samples and readings as columns: by texts, row by row and by key, the same."""

from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest

from fluiddesk.storage.queries import drawn
from fluiddesk.storage.queries.packed_text import KeyPlaces
from tests.fleets import (
    NOW,
    Fleet,
    desk_home,
    either_fleet,
    fleet_file,
    server_template,
    small_fleet_file,
)

__all__ = ["desk_home", "either_fleet", "fleet_file", "server_template", "small_fleet_file"]


def read(fleet: Fleet, boxes: Mapping[bytes, int], machines: Mapping[bytes, int]) -> list[Any]:
    with fleet.place.store.reading() as desk:
        samples = desk.programme.drawn_samples(boxes)
        hours = desk.programme.meter_hours(machines)
    names = np.array(samples.samplers)[samples.sampler]
    order = np.lexsort((names, samples.is_routine, samples.hours, samples.day, samples.box))
    columns = (
        samples.box,
        samples.day,
        samples.hours,
        samples.is_routine,
        samples.is_usable,
        names,
    )
    by_day = np.lexsort((hours.hours, hours.day, hours.machine))
    return [
        *(column[order].tolist() for column in columns),
        *(column[by_day].tolist() for column in (hours.machine, hours.day, hours.hours)),
    ]


def test_that_every_way_to_read_finds_the_same(
    either_fleet: Fleet, monkeypatch: pytest.MonkeyPatch
) -> None:
    with either_fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        for what in (
            "UPDATE sample SET taken_by = ''",
            "UPDATE sample SET taken_by = 'Noor' WHERE taken_on > '2026-01-01'",
            "UPDATE sample SET true_hours = NULL WHERE taken_on > '2026-05-01'",
            "UPDATE sample SET state = 'lost' WHERE taken_on > '2026-06-01'",
        ):
            desk.session.connection.exec_driver_sql(what)
    rows = either_fleet.boxes()
    boxes = {row.compartment_id: at for at, row in enumerate(rows)}
    machines = {row.machine_id: at for at, row in enumerate(rows)}
    by_key = read(either_fleet, boxes, machines)
    assert len(by_key[0]) > 100
    assert len(by_key[8]) > 20
    assert set(by_key[5]) == {"", "Noor"}
    monkeypatch.setattr(drawn, "FEW", 0)
    whole = read(either_fleet, boxes, machines)
    monkeypatch.setattr(KeyPlaces, "of", None)
    monkeypatch.setattr(drawn, "text_parts", None)
    monkeypatch.setattr(drawn, "KeyPlaces", lambda _: type("Unsure", (), {"is_sure": False}))
    row_by_row = read(either_fleet, boxes, machines)
    assert str(by_key) == str(whole) == str(row_by_row)
    monkeypatch.undo()
    with either_fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        desk.session.connection.exec_driver_sql("UPDATE sample SET taken_by = ''")
    monkeypatch.setattr(drawn, "FEW", 0)
    assert set(read(either_fleet, boxes, machines)[5]) == {""}
    # Only those asked for.
    few = dict(list(boxes.items())[:3])
    found = read(either_fleet, few, {})
    assert set(found[0]) <= {0, 1, 2}
    assert found[8] == []
    assert read(either_fleet, {}, {})[0] == []


def test_that_strangers_and_keys_that_share_a_half_are_told() -> None:
    keys = {bytes([at]) * 16: at for at in (1, 2, 3)}
    places = KeyPlaces(keys)
    asked = np.frombuffer(bytes([2]) * 16 + bytes([9]) * 16 + bytes([0]) * 16, dtype=">u8")
    assert places.is_sure
    assert places.of(asked.reshape(-1, 2).astype(np.uint64)).tolist() == [2, -1, -1]
    assert not KeyPlaces({b"a" * 16: 0, b"b" * 8 + b"a" * 8: 1}).is_sure
