"""Use cases."""
