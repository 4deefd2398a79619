"""The classes that describe the tables, one for each; they never leave the storage."""
