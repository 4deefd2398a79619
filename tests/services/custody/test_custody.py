from datetime import timedelta

import pytest

from fluiddesk.domain.errors import NotFoundError, OperatorError
from fluiddesk.domain.identity import SiteId, bottle_code
from fluiddesk.domain.samples import SampleState
from fluiddesk.services.custody.facts import BottleOut, Step
from fluiddesk.services.custody.move import Dispatch, hand_in, mark_lost, receive, ship
from fluiddesk.services.custody.read import custody, shipments, trail_of
from fluiddesk.services.due_standing import Standing, due_standings
from fluiddesk.services.fleet_condition import fleet_condition
from fluiddesk.services.special_by_hand import specials
from fluiddesk.services.takings.record import record_visit
from fluiddesk.storage import RecordKey, RecordKind, check_store
from tests.fleets import LAST_DAY, NOW, Fleet, differing_tables
from tests.services.takings.test_record import AFTER, TODAY, done, issued

LAB = "lab_t"


@pytest.fixture(name="codes")
def _codes(either_fleet: Fleet) -> tuple[str, ...]:
    """Bottles of one recorded visit, and a laboratory on the register."""
    visit = issued(either_fleet)
    record_visit(either_fleet.place, done(either_fleet, visit), today=TODAY, moment=AFTER)
    with either_fleet.place.store.transaction(who="planner", moment=NOW) as desk:
        key = RecordKey(RecordKind.LABORATORY, SiteId(0), LAB)
        desk.register.add(key, {"name": "Lab T"}, name="laboratory")
    return tuple(one.bottle_code for one in visit.boxes)


def sent(bottles: tuple[str, ...], **changes: object) -> Dispatch:
    given: dict[str, object] = {
        "codes": bottles, "laboratory": LAB, "sent_on": TODAY, "manifest_count": len(bottles),
    }  # fmt: skip
    return Dispatch(**(given | changes))  # type: ignore[arg-type]


def out_of(fleet: Fleet, codes: tuple[str, ...], days: int = 0) -> list[BottleOut]:
    found = custody(fleet.place, today=TODAY + timedelta(days=days))
    return [one for one in found.out if one.code in codes]


def states(fleet: Fleet, codes: tuple[str, ...]) -> set[SampleState]:
    with fleet.place.store.reading() as desk:
        return {one.state for one in desk.sampling.by_bottle(codes).values()}


def test_that_a_bottle_is_followed_from_the_machine_to_the_laboratory(
    either_fleet: Fleet, codes: tuple[str, ...]
) -> None:
    place = either_fleet.place
    assert {one.station for one in out_of(either_fleet, codes)} == {Step.TAKEN}
    hand_in(place, codes, moment=AFTER + timedelta(hours=1))
    assert {one.station for one in out_of(either_fleet, codes)} == {Step.HANDED_IN}
    ship(place, sent(codes), today=TODAY, moment=AFTER + timedelta(hours=2))
    assert states(either_fleet, codes) == {SampleState.SHIPPED}
    [shipment] = shipments(place)
    assert shipment.codes == tuple(sorted(codes))
    later = TODAY + timedelta(days=2)
    receive(
        place,
        shipment.id,
        received_on=later,
        count=len(codes),
        version=shipment.version,
        today=later,
        moment=AFTER + timedelta(days=2),
    )
    assert states(either_fleet, codes) == {SampleState.RECEIVED}
    trail = [one.step for one in trail_of(place, codes[0])]
    assert trail == [Step.ISSUED, Step.TAKEN, Step.HANDED_IN, Step.SHIPPED, Step.RECEIVED]
    legs = {(one.leg, one.lane): one for one in custody(place, today=later).legs}
    assert legs[("shipped_received", LAB)].bottles == len(codes)
    assert legs[("shipped_received", LAB)].median_days == pytest.approx(2 - 2 / 24, abs=0.01)
    assert check_store(place.store) == []


def test_that_a_count_that_does_not_match_the_manifest_is_refused(
    codes: tuple[str, ...], either_fleet: Fleet
) -> None:
    before = either_fleet.dump()
    wrong = sent(codes, manifest_count=len(codes) + 1)
    with pytest.raises(OperatorError, match=rf"manifest says {len(codes) + 1} bottles"):
        ship(either_fleet.place, wrong, today=TODAY, moment=AFTER)
    assert differing_tables(before, either_fleet.dump()) == set()


def test_that_every_wrong_code_of_a_list_is_told_at_once(
    either_fleet: Fleet, codes: tuple[str, ...]
) -> None:
    bad = (codes[0], codes[0], "26P-00001-0", "26Z-99999-R")
    with pytest.raises(OperatorError) as raised:
        hand_in(either_fleet.place, bad, moment=AFTER)
    told = str(raised.value)
    assert "listed twice" in told
    assert '"26P-00001-0" is not a bottle code' in told
    assert len(told.splitlines()) == 3


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"sent_on": TODAY + timedelta(days=1)}, "lies after today"),
        ({"laboratory": "nowhere"}, 'no laboratory "nowhere"'),
        ({"codes": (), "manifest_count": 0}, "No bottle is listed"),
    ],
)
def test_that_a_wrong_dispatch_is_refused(
    either_fleet: Fleet, codes: tuple[str, ...], change: dict[str, object], why: str
) -> None:
    with pytest.raises((OperatorError, NotFoundError), match=why):
        ship(either_fleet.place, sent(codes, **change), today=TODAY, moment=AFTER)


def test_that_a_bottle_is_shipped_once(either_fleet: Fleet, codes: tuple[str, ...]) -> None:
    ship(either_fleet.place, sent(codes), today=TODAY, moment=AFTER)
    with pytest.raises(OperatorError, match="is shipped, not taken"):
        ship(either_fleet.place, sent(codes), today=TODAY, moment=AFTER)


def test_that_a_short_shipment_is_kept_and_told(
    either_fleet: Fleet, codes: tuple[str, ...]
) -> None:
    ship(either_fleet.place, sent(codes), today=TODAY, moment=AFTER)
    [shipment] = shipments(either_fleet.place)
    came = receive(
        either_fleet.place,
        shipment.id,
        received_on=TODAY,
        count=len(codes) - 1,
        version=shipment.version,
        today=TODAY,
        moment=AFTER,
    )
    assert f"{len(codes) - 1} bottles were received, {len(codes)} were sent" in came.warnings[0]
    [kept] = shipments(either_fleet.place)
    assert kept.received_count == len(codes) - 1


def test_that_a_bottle_that_stands_too_long_is_unaccounted_then_presumed_lost(
    either_fleet: Fleet, codes: tuple[str, ...]
) -> None:
    """Alarms of the legs; past both alarms of the way where no lane is known (common practice)."""
    ship(either_fleet.place, sent(codes), today=TODAY, moment=AFTER)
    assert not any(one.is_unaccounted for one in out_of(either_fleet, codes, days=3))
    assert all(one.is_unaccounted for one in out_of(either_fleet, codes, days=9))
    assert not any(one.is_presumed_lost for one in out_of(either_fleet, codes, days=9))
    assert all(one.is_presumed_lost for one in out_of(either_fleet, codes, days=13))


def test_that_a_lost_bottle_makes_its_box_due_again(
    either_fleet: Fleet, codes: tuple[str, ...]
) -> None:
    place = either_fleet.place
    with pytest.raises(OperatorError, match="Say why"):
        mark_lost(place, codes[:1], why="", today=TODAY, moment=AFTER)
    mark_lost(place, codes[:1], why="fell off the truck", today=TODAY, moment=AFTER)
    assert states(either_fleet, codes[:1]) == {SampleState.LOST}
    with place.store.reading() as desk:
        [special] = desk.register.all(RecordKind.SPECIAL_INTERVAL)
    assert special["reason"] == "resample"
    assert codes[0] in special["note"]
    assert [one.step for one in trail_of(place, codes[0])][-1] is Step.LOST
    [asked] = specials(place, today=TODAY)
    assert asked.is_lost_bottle
    fleet = fleet_condition(place, today=TODAY)
    told = due_standings(fleet, specials=[asked])
    at = [row.compartment_id for row in fleet.rows].index(asked.compartment_id)
    assert told.standing[at] in (Standing.UNUSABLE, Standing.LATE, Standing.MISSED)
    assert told.why[at] == (f"bottle {codes[0]} lost: fell off the truck, not usable: take again")


def test_that_a_bottle_nobody_issued_has_no_trail(fleet: Fleet) -> None:
    with pytest.raises(NotFoundError, match="never issued"):
        trail_of(fleet.place, bottle_code("26Z99999"))


def test_that_bottles_drawn_before_hand_overs_were_kept_stand_where_their_state_says(
    fleet: Fleet,
) -> None:
    code = fleet.draw(fleet.boxes("engine")[0], 7, on=LAST_DAY - timedelta(days=2))
    found = [one for one in custody(fleet.place, today=LAST_DAY).out if one.code == code]
    assert [(one.station, one.days) for one in found] == [(Step.SHIPPED, 2.0)]
