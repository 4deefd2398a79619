"""The trade's calculations for a planner at the desk: typed text in, a sourced answer out."""
