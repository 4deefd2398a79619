"""Runs pytest beside a PostgreSQL server that lives only as long as the tests."""

import contextlib
import os
import signal
import sys
from pathlib import Path

import pytest

from tests.postgres_server import PostgresUnavailableError, running_postgres

ADDRESS = "FLUIDDESK_TEST_POSTGRES"
REQUIRED = "FLUIDDESK_REQUIRE_POSTGRES"


def run_tests(arguments: list[str]) -> int:
    """Run the tests that the arguments name, all without any, on both databases."""
    # A polite kill must still stop the server.
    signal.signal(signal.SIGTERM, lambda number, _frame: sys.exit(128 + number))
    with contextlib.ExitStack() as stack:
        left_out = any("not postgres" in word for word in arguments)
        if not os.environ.get(ADDRESS) and not left_out:
            try:
                os.environ[ADDRESS] = stack.enter_context(running_postgres())
            except PostgresUnavailableError as reason:
                if os.environ.get(REQUIRED) == "1":
                    sys.stderr.write(f"The tests need PostgreSQL: {reason}\n")
                    return 1
                os.environ["FLUIDDESK_NO_POSTGRES_BECAUSE"] = str(reason)
        return int(pytest.main([*in_parallel(arguments), *cache_aside(arguments), *arguments]))


def in_parallel(arguments: list[str]) -> list[str]:
    """Spread the test files over two processes, unless told otherwise or asked to stop within."""
    settled = ("-n", "--pdb", "--collect-only", "-s", "--numprocesses", "--help", "-h")
    if any(word.split("=")[0] in settled or word.startswith("-n") for word in arguments):
        return []
    return ["-n", "2", "--dist", "loadfile"]


def cache_aside(arguments: list[str]) -> list[str]:
    """Keep pytest's memory of the last run out of the top folder, where it keeps one at all."""
    if "no:cacheprovider" in arguments:
        return []
    return ["-o", "cache_dir=" + str(Path(sys.prefix) / ".cache" / "pytest")]
