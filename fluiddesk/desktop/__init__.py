"""The window: what the people of the programme see and do.

Screens ask services and rest on models; models rest on view state, which is plain Python.
"""
