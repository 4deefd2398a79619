"""`custody`: out, legs, trail, hand-in, ship, receive, lost."""

from datetime import timedelta

from fluiddesk.cli.output import Exit
from fluiddesk.domain.identity import SiteId
from fluiddesk.storage import RecordKey, RecordKind
from tests.cli.conftest import Run
from tests.fleets import LAST_DAY, NOW, Fleet


def test_that_bottles_out_are_listed_longest_gone_first(run: Run, fleet: Fleet) -> None:
    for number, box in enumerate(fleet.boxes("engine")[:2]):
        fleet.draw(box, number, on=LAST_DAY - timedelta(days=2 + number))
    told = run("custody", "out", "--database", fleet.address, "--format", "json")
    assert told.code == Exit.OK
    days = [one["days"] for one in told.json if not one["presumed_lost"]]
    assert days == sorted(days, reverse=True)
    assert "bottles out" in told.err


def test_that_a_bottle_goes_its_way_by_commands_alone(run: Run, fleet: Fleet) -> None:
    where = ("--database", fleet.address)
    code = fleet.draw(fleet.boxes("engine")[0], 9)
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        from dataclasses import replace

        from fluiddesk.domain.samples import SampleState
        from fluiddesk.storage import BottleRecord

        [sample] = desk.sampling.by_bottle([code]).values()
        desk.sampling.update_samples([replace(sample, state=SampleState.TAKEN)])
        desk.sampling.add_bottles([BottleRecord(site=sample.site, code=code, sample=sample.id)])
        key = RecordKey(RecordKind.LABORATORY, SiteId(0), "lab_t")
        desk.register.add(key, {"name": "Lab T"}, name="laboratory")
    assert run("custody", "hand-in", code, *where).code == Exit.OK
    wrong = run("custody", "ship", code, "--laboratory", "lab_t", "--count", 2, *where)
    assert wrong.code != Exit.OK
    assert "manifest says 2 bottles, 1 is listed" in wrong.err
    sent = run("custody", "ship", code, "--laboratory", "lab_t", "--count", 1, *where)
    assert "1 bottle shipped" in sent.err
    assert run("custody", "receive", code, "--count", 1, *where).code == Exit.OK
    trail = run("custody", "trail", code, *where, "--format", "json").json
    assert [one["step"] for one in trail] == ["Handed in", "Shipped", "Received"]
    legs = run("custody", "legs", *where, "--format", "json").json
    assert {one["leg"] for one in legs} >= {"Shipped to received", "Received to reported"}
    assert run("custody", "lost", code, "--why", "broken", *where).code == Exit.OK


def test_that_a_day_that_is_none_is_refused(run: Run, fleet: Fleet) -> None:
    where = ("--database", fleet.address)
    told = run("custody", "ship", "x", "--laboratory", "l", "--count", 1, "--on", "soon", *where)
    assert told.code == Exit.USAGE
    assert '"soon" is not a day' in told.err
