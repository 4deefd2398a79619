"""Direction, usage and rates."""
