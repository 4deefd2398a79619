"""What is due."""
