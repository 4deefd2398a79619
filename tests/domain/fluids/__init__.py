"""Fluids as bought."""
