"""The order of a table's rows as a numpy permutation: stable, natural with numbers in names."""

import re
from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

Ranks = NDArray[np.int64]

_DIGITS: Final = re.compile(r"\d+")
_WIDTH: Final = 12


def natural(text: str) -> str:
    """A sort key that puts "K-9" before "K-10" and does not mind letter case.

    >>> sorted(["K-10", "k-9"], key=natural)
    ['k-9', 'K-10']
    """
    return _DIGITS.sub(lambda found: found.group().zfill(_WIDTH), text.casefold())


def ranks_of_texts(texts: Sequence[str]) -> Ranks:
    """The rank of each text in natural order, empty texts last; shape (n,). Equals share a rank."""
    keys = np.array(["\U0010ffff" if not text else natural(text) for text in texts], dtype=np.str_)
    return _ranks(keys)


def ranks_of_numbers(numbers: Sequence[float | None]) -> Ranks:
    """The rank of each number, missing ones last; shape (n,)."""
    return _ranks(np.array([np.inf if one is None else one for one in numbers], dtype=np.float64))


def _ranks(keys: NDArray[np.str_] | NDArray[np.float64]) -> Ranks:
    if not len(keys):
        return np.zeros(0, dtype=np.int64)
    ranks: Ranks = np.unique(keys, return_inverse=True)[1].astype(np.int64)
    return ranks


def ordered(kept: NDArray[np.bool_], ranks: Ranks, *, descending: bool) -> NDArray[np.intp]:
    """The kept rows in order of their ranks; equals stay as they came, in both directions.

    >>> ordered(np.array([True, True, False]), np.array([5, 3, 1]), descending=False).tolist()
    [1, 0]
    """
    rows = np.flatnonzero(kept)
    keys = ranks[rows]
    sorted_rows: NDArray[np.intp] = rows[np.argsort(-keys if descending else keys, kind="stable")]
    return sorted_rows
