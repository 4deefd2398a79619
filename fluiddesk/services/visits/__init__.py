"""Visits: what is due made into rounds, moved, issued and recorded."""
