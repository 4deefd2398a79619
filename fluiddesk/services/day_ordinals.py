"""Days as numbers, from what the two databases' bare drivers hand out."""

from datetime import date


def day_ordinal(day: date | str) -> int:
    """The day's number, from a date or, as SQLite's bare driver has it, its text.

    >>> day_ordinal("1970-01-01") == day_ordinal(date(1970, 1, 1)) == 719163
    True
    """
    return (date.fromisoformat(day) if isinstance(day, str) else day).toordinal()
