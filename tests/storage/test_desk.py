"""What stands behind the front door is there, of the type that is promised, and not before."""

import importlib
import subprocess
import sys
from datetime import UTC, datetime
from typing import Any, cast

import pytest

import fluiddesk.storage
from fluiddesk.storage.desk import Desk
from fluiddesk.storage.session import Session

PARTS = {
    name: declared.removeprefix("_Part[").removesuffix("]")
    for name, declared in Desk.__annotations__.items()
}


@pytest.mark.parametrize("name", PARTS)
def test_that_each_part_is_of_the_type_it_is_declared_as(name: str) -> None:
    desk = Desk(Session(cast("Any", None), "tester", datetime(2026, 11, 20, tzinfo=UTC)))
    part = getattr(desk, name)
    assert type(part).__name__ == PARTS[name]
    assert getattr(desk, name) is part


def test_that_each_name_of_the_front_door_is_behind_it() -> None:
    assert sorted(fluiddesk.storage.__all__) == sorted(fluiddesk.storage._HOME_OF)
    for name, module in fluiddesk.storage._HOME_OF.items():
        home = importlib.import_module(f"fluiddesk.storage.{module}")
        assert getattr(fluiddesk.storage, name) is getattr(home, name)


def test_that_an_unknown_name_is_refused() -> None:
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        _ = fluiddesk.storage.nothing  # type: ignore[attr-defined]


def test_that_the_fleet_page_is_read_without_the_mapper_and_most_tables() -> None:
    code = (
        "import sys; from fluiddesk.services import fleet_condition; "
        "from fluiddesk import wiring; from fluiddesk.storage import open_store; "
        "import fluiddesk.storage.queries.condition; "
        "print(*(name for name in sys.modules if name.startswith(('sqlalchemy.orm', "
        "'sqlalchemy.dialects.postgresql', "
        "'fluiddesk.storage.tables.outside', 'fluiddesk.storage.tables.every'))))"
    )
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    assert done.stdout.split() == []
