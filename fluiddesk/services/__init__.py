"""Use cases: what a person at the desk, a command or a test asks the program to do.

A service is a plain function: the store first, then the input, then keywords. It keeps to one
transaction and returns what changed, or an answer, never a row of the database.
"""
