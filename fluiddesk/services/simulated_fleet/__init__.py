"""Plays invented fleets and writes them to a database, with the truth in a file beside it."""
