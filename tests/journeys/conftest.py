"""Fleets for the journeys."""

from tests.fleets import desk_home, fleet, fleet_file, sample_fleet_file, small_fleet_file

__all__ = ["desk_home", "fleet", "fleet_file", "sample_fleet_file", "small_fleet_file"]
