"""Words of the limits command that become values."""

import argparse
from datetime import date


def day_of(text: str) -> date:
    """A day as typed.

    Raises:
        ArgumentTypeError: with the text and the form that is understood.
    """
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        raise argparse.ArgumentTypeError(f'"{text}" is no day. Write it as 2026-03-31.') from None
