"""Tests of the shape of the package rather than of what it computes."""
