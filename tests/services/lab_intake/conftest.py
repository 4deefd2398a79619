"""Fleets for the tests of taking files in."""

import os
from pathlib import Path

import pytest

from tests.fleets import (
    desk_home,
    either_fleet,
    fleet,
    fleet_file,
    server_template,
    small_fleet_file,
)

__all__ = [
    "desk_home",
    "either_fleet",
    "fleet",
    "fleet_file",
    "server_template",
    "small_fleet_file",
]


@pytest.fixture
def open_data() -> Path:
    """The folder of open measurement data, which is no part of the project."""
    home = os.environ.get("FLUIDDESK_OPEN_DATA")
    if not home:
        pytest.skip("FLUIDDESK_OPEN_DATA is not set")
    return Path(home)
