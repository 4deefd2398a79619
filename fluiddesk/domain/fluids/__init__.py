"""Fluids as bought and as found.

Products with their new-fluid baseline, viscosity at another temperature, viscosity grades, and
particle counts as contamination codes.
"""
