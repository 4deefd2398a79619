"""Whether samples were taken when they were owed: due events, their outcomes, and shares."""
