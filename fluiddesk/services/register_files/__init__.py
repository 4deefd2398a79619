"""The register as CSV files: written out whole, and read back after a preview, all or nothing."""
