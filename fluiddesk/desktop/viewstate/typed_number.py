"""Numbers as people type them into the cells and fields of the Rules page."""

import math

from fluiddesk.domain.errors import OperatorError


def read_number(text: str, *, name: str) -> float | None:
    """Read what was typed as a number; an empty cell is none.

    Raises:
        OperatorError: with the text and what to write instead.

    >>> read_number("+12,5", name="Act"), read_number(" ", name="Act")
    (12.5, None)
    """
    said = text.strip().replace("\N{MINUS SIGN}", "-").replace("\N{FIGURE SPACE}", "")
    if not said:
        return None
    try:
        number = float(said.replace(",", ".") if "." not in said else said)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise OperatorError(
            f'{name}: "{text.strip()}" is not a number. '
            "Write digits, such as 60 or 2.5, or leave the cell empty."
        )
    return number
