"""Qt's item models over view state: they hand out cells and decide nothing."""
