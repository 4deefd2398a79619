"""Small fleets for the view states that call services."""

from tests.fleets import fleet, fleet_file, small_fleet_file

__all__ = ["fleet", "fleet_file", "small_fleet_file"]
