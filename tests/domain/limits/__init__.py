"""Limits and the verdicts they give."""
