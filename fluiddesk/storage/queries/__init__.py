"""Answers over the whole fleet, each a fixed number of statements."""
