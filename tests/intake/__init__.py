"""Tests of the reading of laboratory files."""
