"""Names of analytes without the words that their neighbours and units make plain."""

from typing import Final

_SHORTER: Final = (
    ("Kinematic viscosity", "Viscosity"),
    (" and larger", ""),
    ("Contamination code", "Code"),
    ("Base number, perchloric acid", "Base number (perchloric)"),
    ("Base number, hydrochloric acid", "Base number (hydrochl.)"),
)


def short_name(name: str) -> str:
    """A long name as there is room for it.

    >>> short_name("Kinematic viscosity at 40 C"), short_name("Iron")
    ('Viscosity at 40 C', 'Iron')
    """
    for long, short in _SHORTER:
        name = name.replace(long, short)
    return name
