"""Fleets for the journeys."""

from tests.fleets import desk_home, sample_fleet_file

__all__ = ["desk_home", "sample_fleet_file"]
