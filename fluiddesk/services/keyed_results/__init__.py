"""Results keyed by hand: the queue, the grid, the checks while typing, drafts, saving, undo."""
