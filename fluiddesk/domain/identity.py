"""Identifiers the program makes, and the codes that people type.

Row identifiers follow the layout of UUID version 7 (RFC 9562, section 5.7: 48 bits of Unix
milliseconds, then random bits), so that they sort by the moment they were made.
Bottle codes end in a check character of ISO/IEC 7064, scheme MOD 37,36 (hybrid system of that
standard; the algorithm is from memory and checked in the tests against its published example). It
finds every single wrong character, and every exchange of two neighbours but one case in 630: two
characters next to each other in the alphabet (0 follows Z), after one certain carry.
"""

import os
from typing import Final, NewType

from fluiddesk.domain.errors import OperatorError

SiteId = NewType("SiteId", int)
MachineId = NewType("MachineId", bytes)
CompartmentId = NewType("CompartmentId", bytes)
SampleId = NewType("SampleId", bytes)

_ALPHABET: Final = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_SHORTEST_CODE: Final = 5
"""Three characters of the first group, one of the second, and the check character."""


class BottleCodeError(OperatorError):
    """A bottle code was mistyped: its check character does not fit."""


def new_row_id(*, milliseconds: int, random: bytes | None = None) -> bytes:
    """Make a 16-byte identifier (UUID version 7) for the given Unix time in milliseconds.

    >>> new_row_id(milliseconds=1, random=bytes(10)).hex()
    '00000000000170008000000000000000'
    """
    noise = os.urandom(10) if random is None else random
    made = bytearray(milliseconds.to_bytes(6, "big") + noise)
    made[6] = 0x70 | (made[6] & 0x0F)
    made[8] = 0x80 | (made[8] & 0x3F)
    return bytes(made)


def new_row_ids(count: int, *, milliseconds: int) -> list[bytes]:
    """Many identifiers of one moment, rising, so that rows written in order lie in order."""
    noise = os.urandom(10 * count)
    return sorted(
        new_row_id(milliseconds=milliseconds, random=noise[start : start + 10])
        for start in range(0, 10 * count, 10)
    )


def check_character(body: str) -> str:
    """The ISO/IEC 7064 MOD 37,36 check character of a text of digits and capital letters.

    >>> check_character("A12425GABC1234002")
    'M'
    """
    carry = 36
    for character in body:
        carry = (carry + _ALPHABET.index(character)) % 36 or 36
        carry = (2 * carry) % 37
    return _ALPHABET[(37 - carry) % 36]


def bottle_code(body: str) -> str:
    """A bottle code: the body and its check character, in groups for the eye.

    >>> bottle_code("26K0042")
    '26K-0042-Z'
    """
    plain = body.upper().replace("-", "")
    return f"{plain[:3]}-{plain[3:]}-{check_character(plain)}"


def normal_bottle_code(typed: str) -> str:
    """The code as stored, from what a person typed or a laboratory printed.

    Spaces, hyphens and letter case do not matter.

    Raises:
        BottleCodeError: when the check character does not fit; the text names the code.

    >>> normal_bottle_code(" 26k0042z ")
    '26K-0042-Z'
    """
    plain = "".join(typed.upper().split()).replace("-", "")
    readable = len(plain) >= _SHORTEST_CODE and all(character in _ALPHABET for character in plain)
    if not readable or check_character(plain[:-1]) != plain[-1]:
        raise BottleCodeError(
            f'"{typed.strip()}" is not a bottle code: its check character does not fit. '
            "Compare it with the label on the bottle and type it again."
        )
    return f"{plain[:3]}-{plain[3:-1]}-{plain[-1]}"
