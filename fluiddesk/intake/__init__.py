"""Reads laboratory files and tables of events into checked rows.

Everything wrong in a file is found in one pass and told by file, row and column. Intake knows no
store: it is given the open bottles to match against.
"""
