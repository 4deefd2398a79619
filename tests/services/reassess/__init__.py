"""Judging whole fleets."""
