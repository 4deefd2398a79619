import pytest

from fluiddesk.domain.errors import NotFoundError
from fluiddesk.domain.samples import DrawMethod
from fluiddesk.services.visit_papers.labels import visit_labels
from fluiddesk.services.visit_papers.sheets import USUAL_FLUSH_ML, kit_list, visit_sheets
from fluiddesk.services.visits.book import issue_bottles, save_visits
from fluiddesk.services.visits.plan import PlanWishes, propose_visits
from fluiddesk.storage import RecordKind
from tests.fleets import LAST_DAY, NOW, Fleet


@pytest.fixture
def round_of(fleet: Fleet) -> tuple[bytes, ...]:
    """Every proposed visit of four weeks, saved, with its bottles issued."""
    plan = propose_visits(fleet.place, today=LAST_DAY, wishes=PlanWishes(days=28))
    ids = save_visits(fleet.place, plan.visits, moment=NOW)
    issue_bottles(fleet.place, ids, today=LAST_DAY, moment=NOW)
    return ids


def test_that_every_bottle_of_a_visit_stands_on_its_sheet_in_working_order(
    fleet: Fleet, round_of: tuple[bytes, ...]
) -> None:
    """Live points first, then tube points, coolant last (common practice, no source)."""
    sheets = visit_sheets(fleet.place, round_of, today=LAST_DAY)
    assert len(sheets) == len(round_of)
    for sheet in sheets:
        live = [row.method is DrawMethod.VALVE_PROBE for row in sheet.rows]
        assert live == sorted(live, reverse=True)
        families = [row.family == "coolant" for row in sheet.rows]
        assert families == sorted(families)
        assert all(row.bottle_code for row in sheet.rows)
        assert all(row.flush_ml > 0 for row in sheet.rows)
        assert DrawMethod.DRAIN_STREAM not in {row.method for row in sheet.rows}
        titles = {one.title for one in sheet.ways}
        assert ("Valve probe, running machine" in titles) == any(live)
        assert ("Vacuum pump and tube, machine shut down" in titles) == (not all(live))


def test_that_a_box_with_only_a_drain_is_named_and_never_planned_from_it(
    fleet: Fleet, round_of: tuple[bytes, ...]
) -> None:
    sheet = next(
        one for one in visit_sheets(fleet.place, round_of, today=LAST_DAY) if len(one.rows) > 1
    )
    with fleet.place.store.transaction(who="planner", moment=NOW) as desk:
        code = sheet.rows[0].bottle_code
        box = desk.sampling.by_bottle([code])[code].compartment
        for row in desk.register.all(RecordKind.POINT, compartment_id=box):
            from fluiddesk.storage import RecordKey

            key = RecordKey(RecordKind.POINT, row["site_id"], row["id"])
            desk.register.change(key, {"kind": "drain"}, version=None, name="point")
        has_points = bool(desk.register.all(RecordKind.POINT, compartment_id=box))
    assert has_points
    after = next(
        one
        for one in visit_sheets(fleet.place, round_of, today=LAST_DAY)
        if one.machine == sheet.machine and one.planned_on == sheet.planned_on
    )
    assert after.no_way == (sheet.rows[0].compartment,)
    assert code not in {row.bottle_code for row in after.rows}


def test_that_the_kit_counts_bottles_tubes_and_waste(
    fleet: Fleet, round_of: tuple[bytes, ...]
) -> None:
    """A tenth more bottles, two at least; 0.3 m a tube more, 1.2 m where no length is known; waste
    three tenths more and one bottle a fluid family (common practice, no source).
    """
    sheets = visit_sheets(fleet.place, round_of, today=LAST_DAY)
    rows = [row for one in sheets for row in one.rows]
    kit = kit_list(sheets)
    assert kit.spares == max(2, -(-len(rows) // 10))
    assert kit.bottles == len(rows) + kit.spares
    tubes = [row for row in rows if row.method is DrawMethod.VACUUM_TUBE]
    assert kit.tubes == len(tubes)
    assert kit.tube_m == round(sum((row.tube_mm or 1200) + 300 for row in tubes) / 1000, 1)
    assert kit.waste_ml.keys() == {row.family for row in rows}
    oil = sum(row.flush_ml for row in rows if row.family == "oil")
    assert kit.waste_ml["oil"] == pytest.approx(1.3 * oil)
    words = [line.what for line in kit.lines]
    assert "waste bottle, used oil" in words
    assert "waste bottle, used coolant" in words or "coolant" not in kit.waste_ml


def test_that_labels_follow_the_sheets(fleet: Fleet, round_of: tuple[bytes, ...]) -> None:
    sheets = visit_sheets(fleet.place, round_of, today=LAST_DAY)
    labels = visit_labels(fleet.place, round_of, today=LAST_DAY)
    assert [one.code for one in labels] == [row.bottle_code for one in sheets for row in one.rows]
    assert all(one.machine and one.compartment and one.fluid for one in labels)


def test_that_a_visit_that_is_gone_is_named(fleet: Fleet) -> None:
    with pytest.raises(NotFoundError, match="Read the plan again"):
        visit_sheets(fleet.place, [bytes(16)], today=LAST_DAY)


def test_that_half_a_bottle_is_flushed_where_the_register_says_nothing() -> None:
    """About half a sample bottle of 120 ml (common practice, no source)."""
    assert USUAL_FLUSH_ML == 120 / 2
