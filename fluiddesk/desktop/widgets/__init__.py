"""Small parts of the window that several pages use."""
