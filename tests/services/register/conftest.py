"""An empty register, once in a file and once on a PostgreSQL server."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from fluiddesk.services.founding import found
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import open_store
from tests.fleets import the_catalogue
from tests.services.register.desk import MOMENT, Register, opened


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Workplace]:
    """An empty register in a file."""
    address = str(tmp_path / "own.fluiddesk")
    found(address, the_catalogue(), who="Kim", moment=MOMENT)
    with open_store(address) as store:
        yield Workplace(store=store, catalogue=the_catalogue(), who="Kim")


@pytest.fixture(params=["file", pytest.param("server", marks=pytest.mark.postgres)])
def either_place(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Workplace]:
    """An empty register, once in a file and once on a server."""
    address = str(tmp_path / "own.fluiddesk")
    if request.param == "server":
        address = request.getfixturevalue("postgres_address")
    found(address, the_catalogue(), who="Kim", moment=MOMENT)
    with open_store(address) as store:
        yield Workplace(store=store, catalogue=the_catalogue(), who="Kim")


@pytest.fixture
def register(place: Workplace) -> Register:
    """A site with an excavator made by its kind, in a file."""
    return opened(place)


@pytest.fixture
def either_register(either_place: Workplace) -> Register:
    """A site with an excavator made by its kind, on both databases."""
    return opened(either_place)
