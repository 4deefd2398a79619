"""Boxes and how they stand, packed histories by name, and what the store tells of itself."""

from dataclasses import replace

import pytest

from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.severity import Severity
from fluiddesk.storage import CONDITION_COLUMNS, DeskStore, unpack
from fluiddesk.storage.queries import boxes, histories
from fluiddesk.storage.queries.boxes import BOX_COLUMNS
from tests.stores import CLERK, LATER, MOMENT, SITE, Filled, make_engine, report_all


@pytest.fixture
def other(store: DeskStore, filled: Filled) -> CompartmentId:
    """A second engine of the same machine, never sampled."""
    with store.transaction(who=CLERK, moment=MOMENT) as desk:
        made = replace(make_engine(filled.machine, CompartmentId(desk.new_id())), position="rear")
        desk.fleet.add_compartment(made)
    return made.id


def box_rows(store: DeskStore, chosen=None):
    with store.reading() as desk:
        found = desk.boxes.rows(chosen)
    return {row[1]: dict(zip(BOX_COLUMNS, row, strict=True)) for row in found}


# --- boxes ---------------------------------------------------------------------------------------


def test_that_a_box_comes_with_what_decides_its_limits(store: DeskStore, filled: Filled):
    [row] = box_rows(store).values()
    assert row == {
        "site_id": SITE,
        "compartment_id": filled.compartment.id,
        "site": "North pit",
        "machine": "EX-01",
        "machine_kind": "excavator",
        "model": "A",
        "kind": "engine",
        "position": "",
        "fluid_class": "engine_oil",
        "severity": None,
        "sample_id": None,
        "machine_id": filled.machine.id,
        "residue_share": filled.compartment.residue_share,
        "capacity_l": filled.compartment.capacity_l,
        "interval_hours": filled.compartment.interval_hours,
        "interval_days": filled.compartment.interval_days,
        "fluid_code": filled.compartment.fluid,
        "test_list": None,
    }


def test_that_a_box_tells_how_and_by_which_sample_it_stands(store: DeskStore, filled: Filled):
    report_all(store, filled)
    [row] = box_rows(store).values()
    assert row["severity"] == Severity.WATCH
    assert row["sample_id"] == filled.samples[-1].id


def test_that_boxes_are_chosen_by_name(store: DeskStore, filled: Filled, other: CompartmentId):
    assert set(box_rows(store)) == {filled.compartment.id, other}
    assert set(box_rows(store, [other])) == {other}
    assert box_rows(store, []) == {}
    assert box_rows(store, [CompartmentId(bytes(16))]) == {}


def test_that_many_boxes_are_chosen_as_few_are(
    store: DeskStore, filled: Filled, other: CompartmentId, monkeypatch: pytest.MonkeyPatch
):
    chosen = [other, CompartmentId(bytes(16))]
    few = box_rows(store, chosen)
    monkeypatch.setattr(boxes, "FEW", 1)
    assert box_rows(store, chosen) == few
    assert set(few) == {other}


def test_that_a_retired_box_is_left_out(store: DeskStore, filled: Filled, other: CompartmentId):
    with store.transaction(who=CLERK, moment=LATER) as desk:
        place = "?" if desk.session.is_sqlite else "%s"
        desk.session.run_many(
            f"UPDATE compartment SET retired = true WHERE id = {place}",  # noqa: S608
            [(other,)],
        )
    assert set(box_rows(store)) == {filled.compartment.id}
    with store.reading() as desk:
        assert [row[7] for row in desk.condition.rows()] == [filled.compartment.id]


# --- how boxes stand -----------------------------------------------------------------------------


def test_that_some_boxes_stand_as_they_do_among_all(
    store: DeskStore, filled: Filled, other: CompartmentId
):
    report_all(store, filled)
    with store.reading() as desk:
        every = desk.condition.rows()
        chosen = desk.condition.rows([filled.compartment.id])
        none = desk.condition.rows([])
    place = CONDITION_COLUMNS.index("compartment_id")
    assert {row[place] for row in every} == {filled.compartment.id, other}
    assert chosen == [row for row in every if row[place] == filled.compartment.id]
    assert none == []


def test_that_days_are_iso_text_and_a_box_never_sampled_has_none(
    store: DeskStore, filled: Filled, other: CompartmentId
):
    report_all(store, filled)
    with store.reading() as desk:
        rows = {
            row[7]: dict(zip(CONDITION_COLUMNS, row, strict=True)) for row in desk.condition.rows()
        }
    assert rows[filled.compartment.id]["taken_on"] == filled.samples[-1].taken_on.isoformat()
    bare = rows[other]
    assert {bare[name] for name in ("severity", "trust", "taken_on", "sample_id")} == {None}


def test_that_what_is_told_of_a_box_is_its_reasons_and_headline(
    store: DeskStore, filled: Filled, other: CompartmentId
):
    report_all(store, filled)
    with store.reading() as desk:
        condition = dict(
            zip(CONDITION_COLUMNS, desk.condition.rows([filled.compartment.id])[0], strict=True)
        )
        assert desk.condition.told_of(filled.compartment.id) == (
            condition["reasons"], condition["headline"],
        )  # fmt: skip
        assert desk.condition.told_of(other) is None


# --- histories by name ---------------------------------------------------------------------------


def test_that_histories_come_with_their_boxes(
    store: DeskStore, filled: Filled, other: CompartmentId, monkeypatch: pytest.MonkeyPatch
):
    report_all(store, filled)
    with store.reading() as desk:
        every = desk.blocks.pairs()
        assert desk.blocks.pairs([filled.compartment.id]) == every
        assert desk.blocks.pairs([other]) == []
        assert desk.blocks.pairs([]) == []
        monkeypatch.setattr(histories, "FEW", 0)
        assert desk.blocks.pairs([filled.compartment.id, other]) == every
        assert desk.blocks.pairs([other]) == []
    [(key, blob)] = every
    assert key == filled.compartment.id
    assert len(unpack(blob, 0)) == len(filled.samples)


# --- assessments ---------------------------------------------------------------------------------


def test_that_the_assessment_in_force_is_the_one_none_has_superseded(
    store: DeskStore, filled: Filled
):
    report_all(store, filled)
    sample = filled.samples[0].id
    with store.transaction(who=CLERK, moment=LATER) as desk:
        old = desk.assessments.in_force(sample)
        [made] = desk.assessments.add_many(
            [replace(old, id=b"", severity=int(Severity.ACT), made_at=LATER)]
        )
        new = desk.assessments.in_force(sample)
    assert (new.id, new.severity) == (made, Severity.ACT)
    with store.reading() as desk:
        kept = {one.id: one for one in desk.assessments.of_compartment(filled.compartment.id)}
        assert desk.assessments.in_force(type(sample)(bytes(16))) is None
    assert kept[old.id] == replace(old, superseded_by=made)


# --- facts ---------------------------------------------------------------------------------------


def test_that_a_fact_is_kept_and_replaced(store: DeskStore):
    with store.transaction(who=CLERK, moment=MOMENT) as desk:
        assert desk.facts.get("replayed_day") is None
        desk.facts.put("replayed_day", "2026-01-01")
        desk.facts.put("replayed_day", "2026-01-02")
    with store.reading() as desk:
        assert desk.facts.get("replayed_day") == "2026-01-02"
        assert desk.facts.get("application") == "fluiddesk"


def test_that_a_fact_goes_with_the_transaction_it_was_put_in(store: DeskStore):
    def put_and_fail() -> None:
        with store.transaction(who=CLERK, moment=MOMENT) as desk:
            desk.facts.put("replayed_day", "2026-01-01")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        put_and_fail()
    with store.reading() as desk:
        assert desk.facts.get("replayed_day") is None


def test_that_the_main_tables_are_counted(store: DeskStore, filled: Filled):
    report_all(store, filled)
    with store.reading() as desk:
        counts = desk.facts.counts()
    assert counts == {
        "site": 1, "machine": 1, "compartment": 1, "sample": 3, "result_sheet": 3, "reading": 6,
        "assessment": 3, "limit_set": counts["limit_set"],
    }  # fmt: skip
    assert counts["limit_set"] in (0, 1)
