"""Direction and usage."""
