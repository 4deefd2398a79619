"""How fast the program is, as ratios to a floor measured in the same run; nothing here is a test."""
