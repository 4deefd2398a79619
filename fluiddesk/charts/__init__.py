"""Draws severities and trends, the same on screen and on paper."""
