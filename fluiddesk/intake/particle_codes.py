"""Reads a contamination code written in one cell, such as "20/18/15", into its three numbers.

Form after ISO 4406: three scale numbers with slashes for 4, 6 and 14 um(c), counts cumulative, so
that the numbers never rise; a sign "at least" where few particles were counted. A dash in a
position means that size was not asked for (from memory).
"""

from collections.abc import Sequence
from typing import Final

from fluiddesk.domain.samples import Reading, Sign
from fluiddesk.intake.files import CellValue
from fluiddesk.intake.values import (
    Fault,
    SignedValue,
    ValueColumn,
    ValueRules,
    read_value,
    reading,
)

_FORM: Final = Fault(
    "is not a contamination code of three numbers",
    'Write it as three whole numbers, such as "20/18/15".',
)


def parse_codes(
    value: CellValue, *, columns: Sequence[ValueColumn], rules: ValueRules
) -> tuple[Reading, ...] | Fault:
    """The readings of the three sizes, each with the whole code as printed, or why not."""
    found = _read_parts(value, len(columns), rules)
    if isinstance(found, Fault):
        return found
    readings = []
    for part, column in zip(found, columns, strict=True):
        made = reading(value, part, column=column)
        if isinstance(made, Fault):
            return made
        readings.append(made)
    return tuple(readings)


def _read_parts(value: CellValue, count: int, rules: ValueRules) -> list[SignedValue] | Fault:
    whole = read_value(value, rules=rules, unit="code")
    if isinstance(whole, SignedValue):
        # "n/a", "i.s." or an empty cell speaks for all sizes; a single number for none.
        return _FORM if whole.sign.has_number else [whole] * count
    if not isinstance(value, str):
        return whole
    parts = [_read_part(text.strip(), rules) for text in value.split("/")]
    if len(parts) != count:
        return _FORM
    good = [part for part in parts if isinstance(part, SignedValue)]
    if len(good) < count:
        return next(part for part in parts if isinstance(part, Fault))
    plain = [part.number for part in good if part.sign is Sign.PLAIN and part.number is not None]
    if plain != sorted(plain, reverse=True):
        return Fault(
            "rises from a smaller to a larger particle size, which counts cannot",
            "Compare it with the report, and correct the cell, or hold the row.",
        )
    return good


def _read_part(text: str, rules: ValueRules) -> SignedValue | Fault:
    if text == "*":
        return Fault(
            "says too many particles to count without a number",
            'Write the highest number that is certain, such as ">28".',
        )
    part = read_value(text, rules=rules, unit="code")
    if not text or isinstance(part, Fault) or part.decimals:
        return _FORM
    return part
