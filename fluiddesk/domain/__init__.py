"""What the program knows about fluids, machines, samples and limits: functions over plain values.

Nothing in here knows a screen, a database, a file or the clock: every moment, every figure and
every table arrives as an argument, so that any day can be replayed and any number checked by hand.
"""
