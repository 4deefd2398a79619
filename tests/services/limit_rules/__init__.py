"""Limit sets as use cases."""
