"""Every storage test runs on both databases."""

from collections.abc import Iterator
from pathlib import Path
from typing import cast

import pytest

from fluiddesk.storage import DeskStore, create_store, open_store
from tests.stores import MOMENT, Filled, fill


@pytest.fixture(params=["sqlite", "postgres"])
def empty_address(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Where nothing is yet: a file's path, or an empty database of a server."""
    if request.param == "sqlite":
        return str(tmp_path / "pit.fluid")
    return cast("str", request.getfixturevalue("postgres_address"))


@pytest.fixture
def store(empty_address: str) -> Iterator[DeskStore]:
    """An open store with nothing in it."""
    create_store(empty_address, moment=MOMENT)
    with open_store(empty_address, busy_timeout_ms=50) as opened:
        yield opened


@pytest.fixture
def filled(store: DeskStore) -> Filled:
    """What was put into the store: an excavator, its engine, three samples."""
    return fill(store)
