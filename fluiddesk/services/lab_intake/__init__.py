"""Results from a laboratory's file: preview, then take in what is sound, in one transaction."""
