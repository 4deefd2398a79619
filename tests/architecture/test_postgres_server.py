"""The PostgreSQL that the tests bring along."""

import os
from pathlib import Path

import psycopg
import pytest

from tests import postgres_server
from tests.conftest import _with_database

COUNT_TABLES = "SELECT count(*) FROM pg_tables WHERE schemaname = 'public'"


@pytest.mark.parametrize("round_", [1, 2])
def test_that_each_test_finds_a_database_without_tables(postgres_address: str, round_: int) -> None:
    with psycopg.connect(postgres_address) as connection:
        assert connection.execute(COUNT_TABLES).fetchone() == (0,)
        connection.execute("CREATE TABLE left_behind (n integer)")


@pytest.mark.parametrize(
    ("server", "address"),
    [
        (
            "postgresql://postgres@/postgres?host=%2Fsocket",
            "postgresql://postgres@/fleet?host=%2Fsocket",
        ),
        ("postgresql:///postgres?host=%2Fsocket", "postgresql:///fleet?host=%2Fsocket"),
        ("postgresql://db.example:5433/postgres", "postgresql://db.example:5433/fleet"),
    ],
)
def test_that_an_address_leads_to_another_database_of_the_same_server(
    server: str, address: str
) -> None:
    assert _with_database(server, "fleet") == address


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="the socket is one of Unix")
def test_that_the_server_of_the_wheel_serves_where_the_machine_has_none(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(postgres_server, "_found_on_machine", list[Path])
    with (
        postgres_server.running_postgres() as address,
        psycopg.connect(address) as connection,
    ):
        assert connection.execute("SELECT 1").fetchone() == (1,)
        assert connection.info.server_version >= 150_000
    with pytest.raises(psycopg.OperationalError):
        psycopg.connect(address)
