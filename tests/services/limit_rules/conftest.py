"""Fleets for the tests of limit sets."""

from tests.fleets import (
    desk_home,
    either_fleet,
    fleet,
    fleet_file,
    sample_fleet_file,
    server_template,
    small_fleet_file,
)

__all__ = [
    "desk_home", "either_fleet", "fleet", "fleet_file", "sample_fleet_file", "server_template",
    "small_fleet_file",
]  # fmt: skip
