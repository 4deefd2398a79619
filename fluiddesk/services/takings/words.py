"""How what stands on a visit sheet is written, in full or by a first letter."""

from collections.abc import Mapping
from typing import Final

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.samples import DrawMethod
from fluiddesk.domain.trust.taking import FillLevel

_YES: Final = {"y", "yes", "1", "x", "+", "true"}
_NO: Final = {"n", "no", "0", "-", "false"}
METHODS: Final = {
    "probe": DrawMethod.VALVE_PROBE,
    "tube": DrawMethod.VACUUM_TUBE,
    "drain": DrawMethod.DRAIN_STREAM,
    "unknown": DrawMethod.UNKNOWN,
}
FILLS: Final = {
    "above": FillLevel.ABOVE_LINE,
    "below": FillLevel.BELOW_LINE,
    "neck": FillLevel.ABOVE_NECK,
    "unknown": FillLevel.UNKNOWN,
}


def yes_or_no(said: str) -> bool | None:
    """Whether something was done; ``None`` where nothing is said.

    Raises:
        OperatorError: when it is neither yes nor no.

    >>> yes_or_no("y"), yes_or_no("No"), yes_or_no(" ")
    (True, False, None)
    """
    word = said.strip().casefold()
    if not word:
        return None
    if word not in _YES | _NO:
        raise OperatorError(f'"{said}" is neither yes nor no. Type y or n.')
    return word in _YES


def word_of(said: str, words: Mapping[str, object]) -> str:
    """One of some words by its beginning.

    Raises:
        OperatorError: when it begins none of them, or several.

    >>> word_of("p", METHODS)
    'probe'
    """
    found = [word for word in words if word.startswith(said.strip().casefold())]
    if len(found) != 1:
        raise OperatorError(f'"{said}" is not one of {", ".join(words)}. Type a first letter.')
    return found[0]


def number_of(said: str, what: str) -> float | None:
    """A number with a point or a comma; ``None`` where nothing is said.

    Args:
        said: the text.
        what: what a refusal calls it.

    Raises:
        OperatorError: when it is no number.

    >>> number_of("1,5", "Litres added")
    1.5
    """
    text = said.strip()
    if not text:
        return None
    try:
        return float(text.replace(",", ".") if "." not in text else text)
    except ValueError:
        raise OperatorError(f'{what}: "{text}" is not a number. Write digits, 38.5.') from None
