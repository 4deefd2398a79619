"""Statistics: published values, witnesses, what is refused."""
