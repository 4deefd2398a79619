"""How fast the program is, as ratios to a floor of the same run; nothing here is a test."""
