"""Where every bottle is: handed in, shipped, received, reported, or lost."""
