"""Judging the fleet again: only what must change does, and all or nothing."""

import hashlib
from dataclasses import replace
from datetime import timedelta

import pytest

from fluiddesk.domain.errors import CancelledError
from fluiddesk.domain.limits.limit_set import LimitKind, LimitSetState
from fluiddesk.domain.severity import Severity
from fluiddesk.services.founding import starter_set
from fluiddesk.services.reassess.fleet import reassess_boxes, reassess_fleet
from tests.fleets import LAST_DAY, NOW, Fleet, differing_tables

STRICT_FROM = LAST_DAY - timedelta(days=60)
IRON_WATCH = 1.0


@pytest.fixture
def strict_set(either_fleet: Fleet) -> Fleet:
    """The fleet with a second limit set: engines' iron from 1 mg/kg on, for the last 60 days."""
    starter = starter_set(either_fleet.place.catalogue)
    stricter = tuple(
        replace(limit, watch=IRON_WATCH)
        if (limit.analyte, limit.scope.compartment_kind) == ("iron", "engine")
        and limit.kind is LimitKind.LEVEL
        else limit
        for limit in starter.limits
    )
    assert stricter != starter.limits
    made = replace(
        starter, number=2, name="Strict iron", valid_from=STRICT_FROM, limits=stricter,
        state=LimitSetState.DRAFT,
    )  # fmt: skip
    with either_fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        desk.limits.save(made)
    return either_fleet


def put_in_force(fleet: Fleet) -> None:
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        desk.limits.set_state(2, LimitSetState.IN_FORCE)


def assessments(fleet: Fleet):
    """Every assessment with its sample: its day and its kind of box."""
    with fleet.place.store.reading() as desk:
        return [
            (box, sample, one)
            for box in fleet.boxes()
            for sample in desk.sampling.samples_of(box.compartment_id)
            for one in desk.assessments.of_compartment(box.compartment_id)
            if one.sample == sample.id
        ]


def test_that_nothing_changes_while_nothing_has_changed(fleet: Fleet):
    before = fleet.dump()
    done = reassess_fleet(fleet.place, moment=NOW)
    assert (done.changed, done.moved) == (0, ())
    assert done.samples == len(before["assessment"])
    assert differing_tables(before, fleet.dump()) == set()


def test_that_a_draft_moves_no_box(strict_set: Fleet):
    before = strict_set.dump()
    assert reassess_fleet(strict_set.place, moment=NOW).changed == 0
    assert differing_tables(before, strict_set.dump()) == set()


def test_that_a_new_set_in_force_judges_again_only_what_it_says_otherwise_of(strict_set: Fleet):
    fleet = strict_set
    before = {one.id: one for _, _, one in assessments(fleet)}
    put_in_force(fleet)
    done = reassess_fleet(fleet.place, moment=NOW)
    after = assessments(fleet)
    made = [(box, sample, one) for box, sample, one in after if one.id not in before]
    assert len(made) == done.changed > 0
    assert {box.kind for box, _, _ in made} == {"engine"}
    assert min(sample.taken_on for _, sample, _ in made) >= STRICT_FROM
    assert {(one.limit_set, one.made_at) for _, _, one in made} == {(2, NOW)}
    superseded = {one.superseded_by for _, _, one in after if one.superseded_by}
    assert superseded == {one.id for _, _, one in made}, "old ones stay, and name the new"
    assert {replace(one, superseded_by=None) for _, _, one in after if one.id in before} == set(
        before.values()
    )
    moved = {(one.before, one.after) for one in done.moved}
    assert moved == {(Severity.NORMAL, Severity.WATCH)}
    assert all(one.headline.startswith("Iron ") for one in done.moved)
    assert fleet.check() == []
    assert reassess_fleet(fleet.place, moment=NOW).changed == 0


def test_that_all_writes_a_new_assessment_of_every_sample_and_moves_nobody(either_fleet: Fleet):
    fleet = either_fleet
    before = fleet.dump()
    conditions = {row[:2]: row for row in before["current_condition"]}
    done = reassess_fleet(fleet.place, moment=NOW, again=True)
    after = fleet.dump()
    assert done.changed == done.samples == len(before["assessment"])
    assert len(after["assessment"]) == 2 * len(before["assessment"])
    assert done.moved == ()
    # What is not the moment of judging stands as it stood.
    assert differing_tables(before, after) == {"assessment", "current_condition"}
    changed = [
        (old, new)
        for row in after["current_condition"]
        for old, new in zip(conditions[row[:2]], row, strict=True)
        if old != new
    ]
    assert {new for _, new in changed} == {NOW}
    assert fleet.check() == []


def test_that_stopping_half_way_leaves_everything_as_it_was(fleet: Fleet):
    before = fleet.dump()
    told: list[tuple[int, int | None]] = []

    def stop_at_the_second(done: int, total: int | None) -> bool:
        told.append((done, total))
        return len(told) < 2

    with pytest.raises(CancelledError, match="nothing has changed"):
        reassess_fleet(fleet.place, moment=NOW, again=True, progress=stop_at_the_second)
    assert len(told) == 2
    assert told[0][1] == len(before["assessment"])
    assert differing_tables(before, fleet.dump()) == set()


def test_that_a_box_left_standing_by_the_wrong_sample_is_put_right(fleet: Fleet):
    [box] = fleet.boxes("engine", Severity.NORMAL)[:1]
    right = fleet.condition(box.compartment_id)
    older = fleet.samples(box.compartment_id)[0]
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        desk.session.connection.exec_driver_sql(
            "UPDATE current_condition SET sample_id = ?, headline = 'of another day' "
            "WHERE compartment_id = ?",
            (older.id, box.compartment_id),
        )
    assert any("last believed sample" in problem for problem in fleet.check())
    reassess_fleet(fleet.place, moment=NOW)
    now = fleet.condition(box.compartment_id)
    assert (now["sample_id"], now["headline"]) == (right["sample_id"], right["headline"])
    assert fleet.check() == []


def test_that_the_whole_fleet_comes_to_the_same_outcome_as_box_by_box(fleet: Fleet):
    place = fleet.place
    reassess_fleet(place, moment=NOW, again=True)
    at_once = outcome_digest(fleet)
    with place.store.transaction(who="Kim", moment=NOW) as desk:
        for box in fleet.boxes():
            reassess_boxes(
                desk, place.catalogue, moment=NOW, compartments=[box.compartment_id], again=True
            )
    assert outcome_digest(fleet) == at_once


def outcome_digest(fleet: Fleet) -> str:
    """One fingerprint of every verdict in force with its reasons, and of the packed verdicts."""
    told = [
        (one.sample, one.severity, one.trust, one.reasons, one.inputs_digest, one.limit_set)
        for _, _, one in assessments(fleet)
        if one.superseded_by is None
    ]
    assert any(reasons != "[]" for _, _, _, reasons, _, _ in told)
    packed = fleet.dump()["verdict_block"]
    return hashlib.sha256(repr((sorted(told), packed)).encode()).hexdigest()
