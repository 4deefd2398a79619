"""Tests of the domain: no disk, no screen."""
