"""Fleets for the tests of keyed results."""

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
