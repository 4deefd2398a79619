"""What every test may ask for: how hard Hypothesis tries, and a PostgreSQL database of its own."""

import os
import sys
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import NoReturn
from urllib.parse import urlsplit

import pytest
from hypothesis import settings
from hypothesis.configuration import set_hypothesis_home_dir

# Kept beside the other caches, and out of sight of version control.
set_hypothesis_home_dir(Path(sys.prefix) / ".cache" / "hypothesis")

settings.register_profile("quick", max_examples=20, deadline=None)
settings.register_profile("full", max_examples=100, deadline=None)
settings.register_profile("long", max_examples=2_000, deadline=None)
settings.load_profile(os.environ.get("FLUIDDESK_HYPOTHESIS", "quick"))


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark whatever asks for a PostgreSQL database, so that it can be left out by name."""
    for item in items:
        if "postgres_address" in getattr(item, "fixturenames", ()):
            item.add_marker("postgres")


@pytest.fixture
def postgres_address() -> Iterator[str]:
    """The address of an empty PostgreSQL database that no other test sees."""
    server = os.environ.get("FLUIDDESK_TEST_POSTGRES")
    if not server:
        _without_postgres()
    import psycopg
    from psycopg import sql

    name = f"fluiddesk_{uuid.uuid4().hex}"
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))
        try:
            yield _with_database(server, name)
        finally:
            drop = sql.SQL("DROP DATABASE {} WITH (FORCE)")
            connection.execute(drop.format(sql.Identifier(name)))


def _without_postgres() -> NoReturn:
    why = os.environ.get("FLUIDDESK_NO_POSTGRES_BECAUSE", "FLUIDDESK_TEST_POSTGRES is not set")
    if os.environ.get("FLUIDDESK_REQUIRE_POSTGRES") == "1":
        pytest.fail(f"PostgreSQL is required: {why}")
    pytest.skip(f"no PostgreSQL: {why}")


def _with_database(address: str, name: str) -> str:
    """Lead the same address to another database of the same server."""
    parts = urlsplit(address)
    return f"{parts.scheme}://{parts.netloc}/{name}?{parts.query}".rstrip("?")
