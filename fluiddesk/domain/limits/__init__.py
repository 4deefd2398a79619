"""Limits: which hold for which box on which day, and what they say of a column of samples."""
