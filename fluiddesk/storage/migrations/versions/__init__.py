"""The migrations in their order."""
