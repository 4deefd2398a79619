"""Judging anew rewrites the verdicts of a box, not its history."""

from datetime import timedelta

import numpy as np

from fluiddesk.domain.limits.limit_set import LimitKind
from fluiddesk.services.reassess.blocks import refresh_blocks
from fluiddesk.services.reassess.fleet import reassess_boxes, reassess_fleet
from fluiddesk.storage import TOP_UP
from tests.fleets import LAST_DAY, NOW, Fleet, differing_tables, results

URGENT_IRON = 480


def test_that_judging_again_leaves_the_packed_histories_as_they_are(fleet: Fleet):
    before = fleet.dump()
    outcome = reassess_fleet(fleet.place, moment=NOW, again=True)
    assert outcome.changed == outcome.samples > 0
    after = fleet.dump()
    assert before["history_block"] == after["history_block"]
    assert fleet.check() == []


def test_that_what_is_read_is_what_was_judged_last(fleet: Fleet):
    reassess_fleet(fleet.place, moment=NOW)
    box = fleet.boxes("engine")[0]
    with fleet.place.store.reading() as desk:
        one = desk.blocks.one(box.compartment_id)
        some = desk.blocks.some([box.compartment_id])[box.compartment_id]
        in_force = desk.session.connection.exec_driver_sql(
            "SELECT sample_id, severity FROM assessment WHERE superseded_by IS NULL"
        )
        stored = dict(tuple(row) for row in in_force)
    assert one.severity.tolist() == some.severity.tolist()
    assert one.severity.tolist() == [stored[row.tobytes()] for row in one.sample_id]


def test_that_a_new_result_takes_the_old_verdicts_along(fleet: Fleet):
    reassess_fleet(fleet.place, moment=NOW)
    box = fleet.boxes("engine")[0]
    fleet.take_in(fleet.lab_file("one.csv", results(fleet.draw(box, 1), iron=URGENT_IRON)))
    assert fleet.check() == []
    again = reassess_fleet(fleet.place, moment=NOW)
    assert again.changed == 0


def test_that_building_anew_keeps_verdicts_apart_where_nothing_changed(fleet: Fleet):
    reassess_fleet(fleet.place, moment=NOW, again=True)
    before = fleet.dump()
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        refresh_blocks(desk, [box.compartment_id for box in fleet.boxes()])
    assert differing_tables(before, fleet.dump()) == set()


def test_that_verdicts_of_other_samples_are_found_by_the_check(fleet: Fleet):
    reassess_fleet(fleet.place, moment=NOW, again=True)
    first, second = fleet.boxes("engine")[:2]
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        told = desk.blocks.verdicts([second.compartment_id])[second.compartment_id]
        desk.session.put(
            "verdict_block",
            ("site_id", "compartment_id", "block"),
            [(first.site_id, first.compartment_id, told)],
        )
    [problem] = fleet.check()
    assert "its verdicts are of other samples" in problem


def test_that_the_box_on_the_other_side_is_judged_with_it(fleet: Fleet):
    reassess_fleet(fleet.place, moment=NOW)
    left = next(box for box in fleet.boxes("final_drive") if box.position == "left")
    right = next(
        box
        for box in fleet.boxes("final_drive")
        if (box.machine, box.position) == (left.machine, "right")
    )
    day = LAST_DAY - timedelta(3)
    for number, (box, iron) in enumerate(((right, 20), (left, 220)), start=1):
        file = fleet.lab_file(f"{number}.csv", results(fleet.draw(box, number, on=day), iron=iron))
        fleet.take_in(file)
    reasons = [rule.kind for rule in _reasons(fleet, left.compartment_id)]
    assert LimitKind.LEFT_RIGHT_RATIO in reasons
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        alone = reassess_boxes(
            desk, fleet.place.catalogue, moment=NOW, compartments=[left.compartment_id]
        )
    assert alone.samples == len(fleet.samples(left.compartment_id)) + len(
        fleet.samples(right.compartment_id)
    ) - _unreported(fleet, left, right)


def _unreported(fleet: Fleet, *boxes) -> int:
    with fleet.place.store.reading() as desk:
        held = sum(len(desk.blocks.one(box.compartment_id)) for box in boxes)
    return sum(len(fleet.samples(box.compartment_id)) for box in boxes) - held


def _reasons(fleet: Fleet, compartment):
    from fluiddesk.services.reassess.wording import reasons_from_text

    return reasons_from_text(fleet.condition(compartment)["reasons"])


def test_that_events_are_read_for_some_boxes_as_for_the_whole_fleet(fleet: Fleet):
    boxes = [box.compartment_id for box in fleet.boxes()]
    # More than are asked for by name: those nobody knows have no events.
    strangers = [number.to_bytes(16, "big") for number in range(1_000)]
    with fleet.place.store.reading() as desk:
        some, whole = desk.judging.events(boxes), desk.judging.events([*boxes, *strangers])
    assert _told(some) == _told(whole)
    assert (some.code == TOP_UP).any()


def _told(events) -> list[str]:
    columns = (events.box, events.code, events.day, events.hours, events.litres)
    return sorted(map(str, zip(*(column.tolist() for column in columns), strict=True)))


def test_that_an_ordered_test_that_was_not_made_leaves_the_sample_incomplete(fleet: Fleet):
    box = fleet.boxes("engine")[0]
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        desk.load("test_list", ("code", "name", "note", "retired"), [("full", "Full", "", False)])
        desk.register.replace_links(
            "test_list_row",
            "test_list_code",
            "full",
            [{"test_list_code": "full", "place": 0, "analyte": "glycol"}],
        )
        desk.register.replace_links(
            "test_list_kind",
            "test_list_code",
            "full",
            [{"compartment_kind": "engine", "test_list_code": "full"}],
        )
        reassess_boxes(desk, fleet.place.catalogue, moment=NOW, compartments=[box.compartment_id])
    kinds = {rule.kind for rule in _reasons(fleet, box.compartment_id)}
    assert LimitKind.MISSING_TEST in kinds
    assert np.int8(fleet.condition(box.compartment_id)["severity"]) >= 1
