"""Statistics of measured values: summaries with "less than" results, trends, control charts.

One method a module. A column is a one-dimensional array of results in the order they were taken.
Too little data is answered with ``NotEnough``, never with a number; values that cannot be
calculated with are refused with a named ``OperatorError``.
"""
