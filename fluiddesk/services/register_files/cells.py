"""What stands in one cell of a register file: read into a value, and written so that it reads back.

A cell that a spreadsheet program would take for a formula is written with an apostrophe before it,
which is taken away again on reading.
"""

import difflib
import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final
from zoneinfo import available_timezones

from fluiddesk.intake.files import CellValue, printed_text
from fluiddesk.intake.values import Fault

EARLIEST_YEAR: Final = 1950
"""No machine of a register was built before; an empty date cell of a spreadsheet reads as 1900."""

_NUMBER: Final = re.compile(r"[-+]?[0-9]+(?:\.[0-9]+)?(?:[eE][-+]?[0-9]{1,3})?")
_COMMA_NUMBER: Final = re.compile(r"[-+]?[0-9]+(?:,[0-9]+)?")
_THOUSAND_LIKE: Final = re.compile(r"[-+]?[1-9][0-9]{0,2}[.,][0-9]{3}")
_DOTTED_DAY: Final = re.compile(r"([0-9]{1,2})\.([0-9]{1,2})\.([0-9]{4})")
_PLAIN_DAY: Final = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_FORMULA: Final = re.compile(r"'*[=+\-@\t\r\n]")
_LARGEST_WHOLE: Final = 1e15
_KEY_DIGITS: Final = 32
_ROUNDING: Final = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Spelling:
    """How one file writes numbers, and the day after which a date lies in the future."""

    today: date
    decimal_mark: str = "."
    commas_are_decimal: bool = True
    """False in files cut by commas or mixing both marks: a comma in a number is refused there."""


Reader = Callable[[CellValue, Spelling], Any]


def text_of(value: CellValue) -> str:
    """A cell as text, without the spaces around it and the mark against formulas.

    >>> text_of(" 'not this "), text_of("'=1+1")
    ("'not this", '=1+1')
    """
    text = printed_text(value)
    stripped = text.strip()
    return stripped[1:] if stripped.startswith("'") and _FORMULA.match(stripped) else stripped


def written(value: Any) -> str:
    """A value as a register file writes it.

    >>> written(40.0), written(None), written(date(2026, 3, 1)), written("-12 V"), written(True)
    ('40', '', '2026-03-01', "'-12 V", 'yes')
    """
    if isinstance(value, str):
        return f"'{value}" if _FORMULA.match(value) else value
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        is_whole = value.is_integer() and abs(value) < _LARGEST_WHOLE
        return str(int(value)) if is_whole else repr(value)
    return "" if value is None else _written_value(value)


def _written_value(value: Any) -> str:
    if isinstance(value, bytes):
        return value.hex()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple):
        return "; ".join(value)
    if isinstance(value, Mapping):
        return "; ".join(f"{code}={written(float(share))}" for code, share in value.items())
    return str(value)


def read_text(value: CellValue, spelling: Spelling) -> str:
    """Any text."""
    del spelling
    return text_of(value)


def number(
    *,
    at_least: float | None = None,
    above: float | None = None,
    at_most: float | None = None,
    remedy: str = "Correct the cell.",
) -> Reader:
    """A reader of numbers within bounds."""

    def read(value: CellValue, spelling: Spelling) -> float | Fault:
        found = _number(value, spelling)
        if isinstance(found, Fault):
            return found
        if above is not None and found <= above:
            return Fault(f"is not above {above:g}", remedy)
        if at_least is not None and found < at_least:
            return Fault(f"is below {at_least:g}", remedy)
        if at_most is not None and found > at_most:
            return Fault(f"is above {at_most:g}", remedy)
        return found

    return read


def whole(*, at_least: int, at_most: int, remedy: str = "Correct the cell.") -> Reader:
    """A reader of whole numbers within bounds."""
    inner = number(at_least=at_least, at_most=at_most, remedy=remedy)

    def read(value: CellValue, spelling: Spelling) -> int | Fault:
        found = inner(value, spelling)
        if isinstance(found, Fault):
            return found
        return int(found) if float(found).is_integer() else Fault("is not a whole number", remedy)

    return read


def _number(value: CellValue, spelling: Spelling) -> float | Fault:
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        return Fault("is not a number", "Write a number, for example 12.5.")
    if not isinstance(value, str):
        return float(value)
    text = text_of(value).replace("\u2212", "-")
    if _COMMA_NUMBER.fullmatch(text) and "," in text:
        if spelling.decimal_mark != ",":
            return Fault("has a comma", "Write the decimal point as a point: 12.5.")
        text = text.replace(",", ".")
    if not _NUMBER.fullmatch(text):
        return Fault("is not a number", "Write the number alone, without a unit: 12.5.")
    found = float(text)
    if found in (float("inf"), float("-inf")):
        return Fault("is too large", "Correct the cell.")
    return found


def looks_like_thousands(value: CellValue, spelling: Spelling) -> bool:
    """Whether a number could as well be thousands with a mark: 1,200 in a file of comma decimals.

    Files cut by commas write points alone, so that there is nothing to confuse.
    """
    is_text = isinstance(value, str) and spelling.commas_are_decimal
    return is_text and _THOUSAND_LIKE.fullmatch(text_of(value)) is not None


def read_day(value: CellValue, spelling: Spelling) -> date | Fault:
    """A day: 2026-03-01, 1.3.2026, or a date stored by a spreadsheet; never in the future."""
    found = _day(value)
    if isinstance(found, Fault):
        return found
    if found > spelling.today:
        return Fault("lies in the future", "Correct the date.")
    if found.year < EARLIEST_YEAR:
        return Fault(f"lies before {EARLIEST_YEAR}", "Correct the date.")
    return found


def _day(value: CellValue) -> date | Fault:
    if isinstance(value, date):
        return value.date() if isinstance(value, datetime) else value
    text = text_of(value) if isinstance(value, str) else ""
    dotted, plain = _DOTTED_DAY.fullmatch(text), _PLAIN_DAY.fullmatch(text)
    if not dotted and not plain:
        return Fault("is not a date", "Write the day as year, month and day: 2026-03-01.")
    try:
        if dotted:
            return date(int(dotted[3]), int(dotted[2]), int(dotted[1]))
        return date.fromisoformat(text)
    except ValueError:
        return Fault("is not a day of the calendar", "Correct the date.")


def words(*known: str) -> Reader:
    """A reader of one of a few words, in any letter case, with spaces or underscores."""

    def read(value: CellValue, spelling: Spelling) -> str | Fault:
        del spelling
        text = text_of(value)
        return _code(text) if _code(text) in known else unknown_word(text, known)

    return read


def _code(text: str) -> str:
    return "_".join(text.casefold().replace("-", "_").split())


def one_of(known: Sequence[str]) -> Reader:
    """A reader of one of a few names, given back as they are spelled here."""
    names = {_code(one): one for one in known}

    def read(value: CellValue, spelling: Spelling) -> str | Fault:
        del spelling
        text = text_of(value)
        return names.get(_code(text)) or unknown_word(text, known)

    return read


def read_time_zone(value: CellValue, spelling: Spelling) -> str | Fault:
    """The name of a time zone in the IANA list."""
    del spelling
    text = text_of(value)
    if text in available_timezones():
        return text
    return Fault("is no time zone", "Write one such as Europe/Berlin or UTC.")


def unknown_word(text: str, known: Sequence[str]) -> Fault:
    """Not one of the known words; names the nearest, or all where there are few.

    >>> unknown_word("exavator", ["excavator", "grader"]).remedy
    'Did you mean excavator?'
    """
    near = difflib.get_close_matches(text.casefold(), known, n=1)
    if near:
        return Fault("is not known", f"Did you mean {near[0]}?")
    return Fault("is not known", f"Write one of: {', '.join(known)}.")


def code_or_name(text: str, names: Mapping[str, str]) -> str | Fault:
    """The code a person meant by a code or a name; ``names`` maps code to name.

    >>> code_or_name("Final drive", {"final_drive": "Final drive", "engine": "Engine"})
    'final_drive'
    """
    if text in names:
        return text
    wanted = _code(text)
    for code, name in names.items():
        if wanted in (code.casefold(), _code(name)):
            return code
    return unknown_word(text, sorted(names))


_YES: Final = ("yes", "y", "true", "1")
_NO: Final = ("no", "n", "false", "0")


def read_yes_no(value: CellValue, spelling: Spelling) -> bool | Fault:
    """Yes or no."""
    del spelling
    if isinstance(value, bool):
        return value
    word = text_of(value).casefold()
    if word in _YES or word in _NO:
        return word in _YES
    return Fault("is neither yes nor no", 'Write "yes" or "no".')


def read_key(value: CellValue, spelling: Spelling) -> bytes | Fault:
    """A lasting identifier as the export wrote it."""
    del spelling
    text = text_of(value)
    try:
        found = bytes.fromhex(text)
    except ValueError:
        found = b""
    if len(text) != _KEY_DIGITS or len(found) * 2 != _KEY_DIGITS:
        return Fault("is no lasting identifier", "Leave the cell empty, or as it was exported.")
    return found


def read_codes(value: CellValue, spelling: Spelling) -> tuple[str, ...]:
    """Codes one after the other: "iron; copper"."""
    del spelling
    return tuple(filter(None, (one.strip() for one in text_of(value).split(";"))))


def read_shares(value: CellValue, spelling: Spelling) -> dict[str, float] | Fault:
    """Shares by element: "silicon=0.3; aluminium=0.1"."""
    remedy = "Write element and share (0 to 1) as silicon=0.3; aluminium=0.1."
    share = number(at_least=0, at_most=1, remedy=remedy)
    found: dict[str, float] = {}
    for part in filter(None, (one.strip() for one in text_of(value).split(";"))):
        code, _, told = part.partition("=")
        amount = share(told.strip(), spelling)
        if isinstance(amount, Fault) or not code.strip():
            return Fault("is no list of shares", remedy)
        found[code.strip()] = amount
    total = math.fsum(found.values())
    if total > 1 + _ROUNDING:
        return Fault(f"adds up to {total:g}", "Together the shares can be 1 at most.")
    return found
