"""The ordered severities, the trust in a sample, and how several judgements become one."""

from enum import IntEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray


class Severity(IntEnum):
    """How bad a verdict is. ``NO_VERDICT`` says that nothing can be said, which is not "well".

    >>> max(Severity.NORMAL, Severity.ACT) is Severity.ACT
    True
    """

    NO_VERDICT = -1
    NORMAL = 0
    WATCH = 1
    ACT = 2
    URGENT = 3

    @property
    def word(self) -> str:
        """The word shown to people."""
        return _SEVERITY_WORDS[self]


class Trust(IntEnum):
    """May this sample be believed? Separate from how bad its values are."""

    GOOD = 0
    SUSPECT = 1
    REJECTED = 2

    @property
    def word(self) -> str:
        """The word shown to people."""
        return self.name.capitalize()


_SEVERITY_WORDS: Final = {
    Severity.NO_VERDICT: "No verdict",
    Severity.NORMAL: "Normal",
    Severity.WATCH: "Watch",
    Severity.ACT: "Act",
    Severity.URGENT: "Urgent",
}


def worst(severities: NDArray[np.int8]) -> NDArray[np.int8]:
    """Combine judgements along the last axis: the worst one counts.

    Args:
        severities: shape (..., k), values of ``Severity``.

    Returns:
        Shape (...). ``NO_VERDICT`` only where all k are ``NO_VERDICT`` or k is 0.

    >>> worst(np.array([[0, 2, -1], [-1, -1, -1]], dtype=np.int8)).tolist()
    [2, -1]
    """
    if severities.shape[-1] == 0:
        return np.full(severities.shape[:-1], Severity.NO_VERDICT, dtype=np.int8)
    combined: NDArray[np.int8] = severities.max(axis=-1)
    return combined
