"""A new database: catalogues in, starter limits in force, no machines."""

from pathlib import Path

import pytest

from fluiddesk.domain.errors import OperatorError, UsageError
from fluiddesk.domain.limits.limit_set import LimitSetState
from fluiddesk.services.fleet_condition import fleet_condition
from fluiddesk.services.founding import STARTER_FROM, found, replayed_day, set_replayed_day
from fluiddesk.services.reassess.fleet import load_rulebook, reassess_fleet
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import check_store, open_store
from tests.fleets import LAST_DAY, NOW, the_catalogue


@pytest.fixture(params=["file", pytest.param("server", marks=pytest.mark.postgres)])
def new_place(request, tmp_path: Path):
    address = str(tmp_path / "new.fluiddesk")
    if request.param == "server":
        address = request.getfixturevalue("postgres_address")
    found(address, the_catalogue(), who="Kim", moment=NOW)
    with open_store(address) as store:
        yield Workplace(store=store, catalogue=the_catalogue(), who="Kim")


def test_that_a_new_database_holds_the_catalogue_and_the_starter_limits(new_place: Workplace):
    catalogue = new_place.catalogue
    with new_place.store.reading() as desk:
        numbers = desk.catalogue.analytes()
        [held] = desk.limits.limit_sets()
        fluids = {fluid.code for fluid in desk.fleet.fluids()}
        rulebook = load_rulebook(desk, catalogue)
        references = [record.fluid_code for record in desk.fleet.references().values()]
    assert numbers == {code: analyte.number for code, analyte in catalogue.analytes.items()}
    assert fluids == set(catalogue.fluids)
    assert len(references) == sum(len(fluid.references) for fluid in catalogue.fluids.values())
    assert (held.number, held.state) == (1, LimitSetState.IN_FORCE)
    assert (held.valid_from, held.valid_until) == (STARTER_FROM, None)
    assert held.limits == catalogue.starter_limits, "to the last digit and the last source"
    assert "A named person decides." in held.note
    assert set(rulebook.references) == set(range(len(references)))


def test_that_a_new_database_is_empty_sound_and_of_today(new_place: Workplace):
    assert len(fleet_condition(new_place, today=LAST_DAY)) == 0
    assert replayed_day(new_place) is None
    assert check_store(new_place.store) == []
    assert reassess_fleet(new_place, moment=NOW, again=True).samples == 0


def test_that_a_replayed_database_knows_its_day(new_place: Workplace):
    with new_place.store.transaction(who="Kim", moment=NOW) as desk:
        set_replayed_day(desk, LAST_DAY)
    assert replayed_day(new_place) == LAST_DAY


def test_that_nothing_is_founded_over_something(tmp_path: Path):
    target = tmp_path / "there.fluiddesk"
    target.write_text("somebody's file")
    with pytest.raises(UsageError, match=r"exists already\. Choose another name\."):
        found(str(target), the_catalogue(), who="Kim", moment=NOW)
    assert target.read_text() == "somebody's file"


def test_that_a_missing_folder_is_named(tmp_path: Path):
    with pytest.raises(OperatorError, match="none"):
        found(str(tmp_path / "none" / "x.db"), the_catalogue(), who="Kim", moment=NOW)
