"""Samples the plan did not ask for: walk-ups, spare labels, rejected bottles, drums and tanks."""
