"""The chance that a sample catches a fault in time: box by box, as it is and as it could be."""
