"""Whose bottle a code belongs to, in words, and what is wrong with a code."""

from typing import Final

from fluiddesk.domain.identity import BottleCodeError, normal_bottle_code
from fluiddesk.services.keyed_results.facts import OpenReport

_USUAL_LENGTH: Final = 9
"""Characters of this program's own codes, without hyphens: from here on a slip is told at once."""


def code_fault(text: str, *, is_whole: bool) -> str:
    """What is wrong with a bottle code; empty while nothing is.

    A code that is still being typed is judged once it has the usual length.

    >>> code_fault("26K-01032-8", is_whole=True), code_fault("26K-010", is_whole=False)
    ('', '')
    >>> code_fault("26K-01023-8", is_whole=False)
    'The check character does not fit: compare the code with the label.'
    """
    plain = "".join(text.split()).replace("-", "")
    if not plain or (not is_whole and len(plain) < _USUAL_LENGTH):
        return ""
    try:
        normal_bottle_code(text)
    except BottleCodeError:
        return "The check character does not fit: compare the code with the label."
    return ""


def whose(report: OpenReport) -> str:
    """Machine and compartment."""
    return f"{report.machine}  {report.compartment}"


def where_drawn(report: OpenReport) -> str:
    """Site, day and meter of the sample."""
    parts = [report.site]
    if report.taken_on is not None:
        parts.append(f"drawn on {report.taken_on.isoformat()}")
    if report.meter is not None:
        parts.append(f"meter {_thousands(report.meter)}")
    if report.fluid_hours is not None:
        parts.append(f"{_thousands(report.fluid_hours)} h on the fluid")
    return "  \u00b7  ".join(parts)


def expected_words(report: OpenReport) -> tuple[tuple[str, str], ...]:
    """Name and value of what tells this box from others."""
    return tuple((f"{name} expected", value) for name, value in report.to_confirm)


def _thousands(value: float) -> str:
    return f"{value:,.0f}".replace(",", "\u202f")
