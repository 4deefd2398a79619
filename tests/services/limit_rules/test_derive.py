"""Limits from the fleet's own history: what counts, how much is needed, taken by a person."""

import json
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from fluiddesk.domain.errors import CancelledError, OperatorError
from fluiddesk.domain.limits.limit_set import LimitKind, Scope
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.severity import Trust
from fluiddesk.domain.statistics.percentile import PercentileDefinition, percentile
from fluiddesk.services.limit_rules.check import check
from fluiddesk.services.limit_rules.derive import derive
from fluiddesk.services.limit_rules.derive_bounds import derived_bounds
from fluiddesk.services.limit_rules.derive_facts import SPAN
from fluiddesk.services.limit_rules.derive_groups import Results, groups_of
from fluiddesk.services.limit_rules.derive_notes import outlier_note, shape_note
from fluiddesk.services.limit_rules.take_derived import take_into_draft
from fluiddesk.services.limit_rules.versions import draft_from, read_set
from fluiddesk.services.limit_rules.what_if_fleet import open_what_if
from fluiddesk.services.simulated_fleet.write import write_simulated_fleet
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import open_store
from tests.fleets import LAST_DAY, NOW, PLAYED_AT, Fleet, the_catalogue
from tests.makers import make_analyte
from tests.services.limit_rules.test_what_if import add_finding


@pytest.fixture(scope="session")
def larger_fleet_file(tmp_path_factory: pytest.TempPathFactory):
    """Thirty machines over two years: enough for a Watch limit of most kinds."""
    target = tmp_path_factory.mktemp("larger-fleet") / "larger.fluiddesk"
    write_simulated_fleet(target, machines=30, years=2, seed=4, last_day=LAST_DAY, moment=PLAYED_AT)
    return target


@pytest.fixture(scope="session")
def larger(larger_fleet_file):
    store = open_store(str(larger_fleet_file), read_only=True)
    yield open_what_if(Workplace(store=store, catalogue=the_catalogue(), who="Kim"), today=LAST_DAY)
    store.close()


def results(values, *, below=None, machines=12) -> Results:
    numbers = np.asarray(values, dtype=np.float64)
    size = len(numbers)
    return Results(
        values=numbers,
        below=np.zeros(size, dtype=bool) if below is None else np.asarray(below, dtype=bool),
        box=np.zeros(size, dtype=np.int32),
        machine=np.arange(size, dtype=np.int64) % machines,
        day=np.full(size, LAST_DAY.toordinal(), dtype=np.int32),
    )


def bounds(values, *, falling=False, parent=None, rounds=0, **given):
    return derived_bounds(
        results(values, **given), analyte=make_analyte(decimals=1), falling=falling, parent=parent,
        rounds=rounds, generator=np.random.default_rng(1),
    )  # fmt: skip


def test_that_watch_act_and_urgent_are_the_percentiles_of_the_sorted_results(larger):
    [row] = derive(larger, compartment_kind="engine", analytes=["iron"]).rows
    number = larger.catalogue.analytes["iron"].number
    first = (LAST_DAY - SPAN).toordinal()
    engines = [place for place, box in enumerate(larger.columns.boxes) if box.kind == "engine"]
    values = []
    for group in larger.columns.groups:
        if number in group.analytes:
            column = group.analytes.index(number)
            rows = np.isin(group.compartment, engines) & (group.trust == Trust.GOOD)
            rows &= (group.taken_on >= first) & (group.signs[:, column] <= Sign.ABOVE)
            values += group.values[rows, column].tolist()
    assert row.samples == len(values)
    assert row.machines == 30
    own = percentile(values, 98.0, definition=PercentileDefinition.HAZEN)
    assert row.watch.own == pytest.approx(own)
    assert row.watch.value == np.floor(own)
    assert row.limit.boundary == "beyond"
    assert row.watch.low <= row.watch.own <= row.watch.high
    assert row.limit.kind is LimitKind.PERCENTILE
    assert row.present.analyte == "iron"
    assert row.starter.bounds() == (60, 100, 150)
    assert row.method.startswith("Hazen percentile")


@pytest.mark.parametrize(
    ("size", "machines", "known"),
    [
        (116, 12, (False, False, False)),
        (117, 12, (True, False, False)),
        (400, 12, (True, True, False)),
        (2000, 12, (True, True, True)),
        (2000, 9, (False, False, False)),
    ],
)
def test_that_each_percentile_needs_its_number_of_results_and_ten_machines(size, machines, known):
    values = np.random.default_rng(2).lognormal(3, 0.5, size)
    found = bounds(values, machines=machines)
    assert tuple(band.value is not None for band in found.bands) == known
    for band in found.bands:
        assert bool(band.why) == (band.value is None)
    if machines < 10:
        assert found.bands[0].why == "Not enough: 9 of at least 10 machines."
    elif not known[2]:
        assert f"Not enough: {size} of at least 2000 samples" in found.bands[2].why


def test_that_a_falling_limit_takes_the_low_percentiles():
    values = np.random.default_rng(2).normal(100, 5, 3000)
    found = bounds(values, falling=True, rounds=100)
    watch, act, urgent = (band.value for band in found.bands)
    assert watch > act > urgent
    assert watch == pytest.approx(100 - 2.054 * 5, abs=1)
    assert found.bands[0].low <= found.bands[0].own <= found.bands[0].high


def test_that_a_small_group_is_drawn_towards_its_parent():
    wide = bounds(np.random.default_rng(2).lognormal(4, 0.3, 3000))
    narrow = bounds(np.random.default_rng(3).lognormal(3, 0.3, 200), parent=wide)
    band = narrow.bands[0]
    share = 200 / 230
    assert narrow.own_share == pytest.approx(share)
    assert band.parent == wide.bands[0].own
    expected = share * band.own + (1 - share) * wide.bands[0].own
    assert expected - 0.1 < band.value <= expected


def test_that_less_than_results_count_below_and_are_never_the_limit():
    values = np.concatenate([np.full(950, 2.0), np.linspace(5, 60, 50)])
    found = bounds(values, below=values == 2.0)
    assert found.bands[0].own == pytest.approx(
        percentile(values, 98.0, definition=PercentileDefinition.HAZEN)
    )
    assert "Kaplan-Meier" in found.method
    hidden = bounds(np.full(500, 2.0), below=np.ones(500))
    assert hidden.bands[0].value is None
    assert hidden.bands[0].why == 'It lies among "less than" results.'


def test_that_suspect_samples_and_those_about_a_known_fault_are_left_out(fleet: Fleet):
    engine = fleet.boxes("engine")[0]
    before = derive(open_what_if(fleet.place, today=LAST_DAY), analytes=["iron"], rounds=0)
    add_finding(fleet, engine.compartment_id, result="fault_confirmed", found_on=LAST_DAY)
    after = derive(open_what_if(fleet.place, today=LAST_DAY), analytes=["iron"], rounds=0)
    count = {
        name: next(row.samples for row in found.rows if row.scope.compartment_kind == "engine")
        for name, found in (("before", before), ("after", after))
    }
    assert count["after"] < count["before"]
    assert before.excluded["known fault"] == 0
    assert after.excluded["known fault"] > 0
    noted = next(row for row in after.rows if row.scope.compartment_kind == "engine")
    assert "known fault" in noted.excluded_note


def test_that_groups_follow_the_power_path_and_a_kind_comes_before_its_models(larger):
    groups = groups_of(larger)
    kinds = [group.scope.compartment_kind for group in groups]
    order = {code: kind.order for code, kind in larger.catalogue.compartment_kinds.items()}
    assert [order[kind] for kind in kinds] == sorted(order[kind] for kind in kinds)
    for place, group in enumerate(groups):
        if group.parent is not None:
            assert group.parent in [one.scope for one in groups[:place]]


def test_that_a_model_alone_is_drawn_towards_its_kind(larger):
    boxes = tuple(
        box._replace(model="A" if place % 3 else "B")
        for place, box in enumerate(larger.columns.boxes)
    )
    named = replace(larger, columns=replace(larger.columns, boxes=boxes))
    asked = {"compartment_kind": "engine", "analytes": ["iron"], "rounds": 0}
    every = derive(named, **asked).rows
    [alone] = derive(named, **asked, model="B").rows
    assert alone.scope == Scope(compartment_kind="engine", model="B")
    assert alone in every
    assert alone.parent_scope == "engine"
    assert alone.own_share == pytest.approx(alone.samples / (alone.samples + 30))


def test_that_the_same_seed_gives_the_same_rows_and_intervals(larger):
    asked = {"compartment_kind": "engine", "analytes": ["iron", "copper"]}
    first, again = (derive(larger, **asked).rows for _ in range(2))
    assert first == again
    [iron] = derive(larger, compartment_kind="engine", analytes=["iron"]).rows
    assert iron in first
    other = derive(larger, **asked, seed=2).rows
    assert [row.watch.value for row in other] == [row.watch.value for row in first]


def test_that_notes_tell_shape_and_outliers():
    skewed = results(np.random.default_rng(2).lognormal(3, 0.8, 400))
    assert shape_note(skewed, seed=1).startswith("Not bell-shaped (Shapiro-Wilk W ")
    bell = results(np.random.default_rng(2).normal(100, 5, 400))
    assert shape_note(bell, seed=1).startswith("May be bell-shaped")
    many = results(np.random.default_rng(2).normal(100, 5, 9000))
    assert shape_note(many, seed=1) == shape_note(many, seed=1)
    assert "Shape not tested" in shape_note(results([5.0, 5.0]), seed=1)
    iron = make_analyte()
    assert outlier_note(bell, iron) == ""
    wild = results([*bell.values.tolist(), 400.0, 500.0])
    assert outlier_note(wild, iron).startswith("2 of 402 results lie more than 6 spreads off")


def test_that_rows_are_taken_into_a_draft_by_a_person_with_their_derivation(
    larger_fleet_file, tmp_path
):
    copy = tmp_path / "copy.fluiddesk"
    copy.write_bytes(larger_fleet_file.read_bytes())
    with open_store(str(copy)) as store:
        place = Workplace(store=store, catalogue=the_catalogue(), who="Kim")
        found = derive(open_what_if(place, today=LAST_DAY), compartment_kind="engine")
        ready = [row for row in found.rows if row.may_be_taken][:3]
        assert ready
        draft = draft_from(place, 1, name="Own limits", note="", moment=NOW)
        taken = take_into_draft(place, 2, ready, version=draft.version, moment=NOW)
        own = [limit for limit in taken.draft.limit_set.limits if limit.derivation]
        assert len(own) == len(ready) == len(taken.draft.changes)
        assert {limit.set_by for limit in own} == {"Kim"}
        told = json.loads(own[0].derivation)
        assert told["samples"] == ready[0].samples
        assert told["percent"] == [98.0, 99.5, 99.9]
        assert (told["since"], told["until"]) == (
            (LAST_DAY - timedelta(days=730)).isoformat(), LAST_DAY.isoformat(),
        )  # fmt: skip
        assert own[0].source.startswith("own fleet: 98")
        again = take_into_draft(place, 2, ready, version=taken.draft.version, moment=NOW)
        assert len(again.draft.limit_set.limits) == len(taken.draft.limit_set.limits)
        back = read_set(place, 2)
        stopping = [one for one in check(place, 2, today=LAST_DAY).problems if one.stops]
        assert back.limit_set.limits[-1].kind is LimitKind.PERCENTILE
        assert stopping == []


def test_that_a_row_with_too_little_is_refused(fleet: Fleet):
    found = derive(open_what_if(fleet.place, today=LAST_DAY), analytes=["iron"], rounds=0)
    poor = [row for row in found.rows if not row.may_be_taken]
    assert poor
    draft = draft_from(fleet.place, 1, name="x", note="", moment=NOW)
    with pytest.raises(OperatorError, match=r"Not enough: .* Leave the row out"):
        take_into_draft(fleet.place, 2, poor[:1], version=draft.version, moment=NOW)


def test_that_an_unknown_analyte_is_told_and_the_work_can_be_stopped(larger):
    with pytest.raises(OperatorError, match='Analyte "gold" is not in the catalogue'):
        derive(larger, analytes=["gold"])
    with pytest.raises(CancelledError):
        derive(larger, progress=lambda _done, _total: False)
