"""Tests of wear calculations."""
