"""Numbered changes of the tables; each is written once and never edited again."""
