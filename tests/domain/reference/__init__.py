"""Published worked examples, and their reader."""
