"""Days and spans of days as a command line spells them."""

import argparse
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


def day_of(text: str) -> date:
    """A day as an option is given it.

    Raises:
        ArgumentTypeError: with the text and the form that is understood.
    """
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        raise argparse.ArgumentTypeError(
            f'"{text}" is not a day. Write year-month-day, as 2026-01-31.'
        ) from None
