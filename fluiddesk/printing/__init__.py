"""Papers: PDF pages drawn by Qt from plain facts, always light, and readable in black and white."""
