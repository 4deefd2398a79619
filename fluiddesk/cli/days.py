"""Days and spans of days as a command line spells them."""

import re
from datetime import date

from fluiddesk.domain.errors import UsageError


def days_ahead(text: str) -> int:
    """Days from words such as "14d" or "2w".

    Raises:
        UsageError: when they are no span of days.
    """
    found = re.fullmatch(r"(\d{1,4})\s*(d|w)?", text.strip().lower())
    if not found:
        raise UsageError(f'--within "{text}" is not a span of days. Write for example 14d or 2w.')
    return int(found[1]) * (7 if found[2] == "w" else 1)


def day_given(text: str | None, option: str) -> date | None:
    """The day an option names; ``None`` where it was left out.

    Raises:
        UsageError: when it is no day.
    """
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise UsageError(f'{option} "{text}" is not a day. Write it as 2026-01-31.') from None
