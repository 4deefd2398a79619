"""What each page shows and what is chosen on it, in plain Python without Qt."""
