"""Domain values to rows and back, one module for each kind."""
