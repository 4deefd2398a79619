"""Searching a whole store from one box."""

import pytest

from fluiddesk.domain.errors import CancelledError
from fluiddesk.domain.identity import bottle_code
from fluiddesk.services.outside_plan.fluid_samples import (
    FluidSampleKind,
    NewFluidSample,
    register_fluid_sample,
)
from fluiddesk.services.papers.facts import OwnerKind, PaperOwner
from fluiddesk.services.papers.remarks import add_remark
from fluiddesk.services.register.facts import BatchFacts, TankFacts
from fluiddesk.services.register.fluids import save_batch, save_tank
from fluiddesk.services.register.read import register_facts
from fluiddesk.services.search.facts import HitKind
from fluiddesk.services.search.find import find
from fluiddesk.services.search.index import build_index
from tests.fleets import LAST_DAY, NOW, Fleet, results


def test_that_a_machine_number_finds_the_machine_first_then_its_boxes(fleet: Fleet):
    box = fleet.boxes("engine")[0]
    answer = find(build_index(fleet.place), box.machine.lower().replace("-", " "))
    first = answer.hits[0]
    assert first.kind is HitKind.MACHINE
    assert first.found.startswith(box.machine)
    assert first.place == box.site
    assert first.compartment_id is None
    boxes = [hit for hit in answer.hits if hit.kind is HitKind.COMPARTMENT]
    assert box.compartment_id in {hit.compartment_id for hit in boxes}


def test_that_a_bottle_code_finds_its_sample_however_it_is_typed(fleet: Fleet):
    box = fleet.boxes("engine")[0]
    code = fleet.draw(box, 77)
    index = build_index(fleet.place)
    for typed in (code, code.lower().replace("-", ""), f" {code} "):
        [hit] = find(index, typed).hits
        assert (hit.kind, hit.found) == (HitKind.BOTTLE, code)
        assert hit.compartment_id == box.compartment_id
        assert hit.place == f"{box.site}, {box.machine}, Engine"
        [sample] = [one for one in fleet.samples(box.compartment_id) if one.bottle_code == code]
        assert hit.sample_id == sample.id


def test_that_report_numbers_and_remarks_are_found(either_fleet: Fleet):
    code = either_fleet.draw(either_fleet.boxes("engine")[0], 78)
    row = results(code, iron=12) | {"report": "Q/4711-B", "remark": "Lab saw metal flakes"}
    either_fleet.take_in(either_fleet.lab_file("lab.csv", row))
    index = build_index(either_fleet.place)
    [report] = find(index, "q4711b").hits
    [remark] = find(index, "FLAKES metal").hits
    assert (report.kind, report.found) == (HitKind.REPORT, "Q/4711-B")
    assert (remark.kind, remark.found) == (HitKind.REMARK, "Lab saw metal flakes")
    assert report.sample_id == remark.sample_id


def test_that_box_words_and_machine_together_name_one_box(fleet: Fleet):
    box = fleet.boxes("engine")[0]
    hits = find(build_index(fleet.place), f"{box.machine} engine").hits
    assert hits[0].compartment_id == box.compartment_id


def test_that_tanks_deliveries_and_what_belongs_to_them_are_found(either_fleet: Fleet):
    place = either_fleet.place
    facts = register_facts(place, today=LAST_DAY)
    site, fluid = facts.sites[0], facts.fluids[0]
    tank = save_tank(
        place, TankFacts(site=site.site, code="T-44", fluid=fluid.code, location="north yard"),
        today=LAST_DAY, moment=NOW,
    )  # fmt: skip
    batch = save_batch(
        place, BatchFacts(site=site.site, fluid=fluid.code, batch="D-9/12", delivered_on=LAST_DAY),
        today=LAST_DAY, moment=NOW,
    )  # fmt: skip
    add_remark(place, PaperOwner(OwnerKind.FLUID_TANK, tank.row), "water drained", moment=NOW)
    told = NewFluidSample(
        site_id=site.site, kind=FluidSampleKind.TANK, fluid_code=fluid.code,
        bottle_code=bottle_code("26F00001"), taken_on=LAST_DAY, tank_id=tank.row, container="T-44",
    )  # fmt: skip
    sample = register_fluid_sample(place, told, moment=NOW, today=LAST_DAY)
    add_remark(place, PaperOwner(OwnerKind.FLUID_SAMPLE, sample), "cloudy", moment=NOW)
    index = build_index(place)
    [found] = find(index, "north yard").hits
    assert (found.kind, found.found, found.store) == (
        HitKind.TANK, "T-44", (HitKind.TANK, tank.row),
    )  # fmt: skip
    assert found.place == f"{site.name}, tank T-44, {fluid.code}"
    [delivery] = find(index, "d9 12 delivery").hits
    assert delivery.store == (HitKind.DELIVERY, batch.row)
    [remark] = find(index, "drained").hits
    assert (remark.kind, remark.store) == (HitKind.REMARK, (HitKind.TANK, tank.row))
    [cloudy] = find(index, "cloudy").hits
    assert cloudy.store == (HitKind.FLUID_SAMPLE, sample)
    assert (cloudy.machine_id, cloudy.compartment_id) == (None, None)


def test_that_nothing_found_and_nothing_typed_are_said(fleet: Fleet):
    index = build_index(fleet.place)
    assert find(index, "zzz999").sentence == 'Nothing is called "zzz999".'
    assert find(index, " -- ").sentence == "Type a number, code or word."
    cut = find(index, "e", limit=5)
    assert cut.is_cut
    assert len(cut.hits) == 5


def test_that_a_change_makes_the_index_old(fleet: Fleet):
    index = build_index(fleet.place)
    assert index.is_current(fleet.place)
    code = fleet.draw(fleet.boxes("engine")[0], 79)
    fleet.take_in(fleet.lab_file("lab.csv", results(code, iron=12)), moment=NOW)
    assert not index.is_current(fleet.place)


def test_that_building_can_be_stopped(fleet: Fleet):
    with pytest.raises(CancelledError):
        build_index(fleet.place, progress=lambda _done, _all: False)


def test_that_an_index_read_in_small_pages_is_the_same(
    either_fleet: Fleet, monkeypatch: pytest.MonkeyPatch
):
    whole = build_index(either_fleet.place)
    monkeypatch.setattr("fluiddesk.storage.queries.search.PAGE", 7)
    paged = build_index(either_fleet.place)
    assert [lane.text for lane in paged.lanes] == [lane.text for lane in whole.lanes]
    assert [lane.samples for lane in paged.lanes] == [lane.samples for lane in whole.lanes]
