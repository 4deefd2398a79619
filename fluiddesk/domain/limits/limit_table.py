"""The limits that hold for one kind of box, laid out as arrays against analyte columns."""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.analytes import Analyte
from fluiddesk.domain.limits.limit_set import JUDGED_KINDS, Limit, LimitKind
from fluiddesk.domain.severity import Severity

PERCENT_PLACES = 1
"""Places at which a change in percent is compared with its limit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitTable:
    """k limits of one box, each bound to one of m analyte columns.

    Attributes:
        limits: the k limits.
        column: shape (k,), which analyte column each looks at.
        bounds: shape (k, 3), Watch, Act, Urgent; NaN where a limit has no such band.
        places: shape (k,), decimals at which values are compared: the method's, or finer where a
            bound is written finer.
        weight: shape (k, 4), a fingerprint of what each limit says in each band (0 in Normal), the
            same in every run.
        scopes: the k scopes in words.
    """

    limits: tuple[Limit, ...]
    column: NDArray[np.intp]
    bounds: NDArray[np.float64]
    places: NDArray[np.int64]
    weight: NDArray[np.uint64]
    scopes: tuple[str, ...]


def limit_table(
    limits: Sequence[Limit], *, analytes: Mapping[str, Analyte], numbers: Sequence[int]
) -> LimitTable:
    """Lay limits out against the analyte columns that a group of samples was tested for.

    Args:
        limits: the limits in force for the box.
        analytes: the catalogue, by code.
        numbers: analyte numbers of the columns, one each.

    Returns:
        The limits of judged kinds whose analyte is among the columns.
    """
    place = {number: index for index, number in enumerate(numbers)}
    kept = [
        limit
        for limit in limits
        if limit.kind in JUDGED_KINDS
        and limit.analyte in analytes
        and analytes[limit.analyte].number in place
    ]
    bounds = [[np.nan if bound is None else bound for bound in one.bounds()] for one in kept]
    return LimitTable(
        limits=tuple(kept),
        column=np.array([place[analytes[one.analyte].number] for one in kept], dtype=np.intp),
        bounds=np.array(bounds, dtype=np.float64).reshape(len(kept), 3),
        places=np.array([_places(one, analytes[one.analyte]) for one in kept], dtype=np.int64),
        weight=np.array([_fingerprints(one) for one in kept], dtype=np.uint64).reshape(-1, 4),
        scopes=tuple(one.scope.text for one in kept),
    )


def _places(limit: Limit, analyte: Analyte) -> int:
    written = [
        len(f"{bound:.6f}".rstrip("0").partition(".")[2])
        for bound in limit.bounds()
        if bound is not None
    ]
    own = PERCENT_PLACES if limit.kind is LimitKind.CHANGE_PERCENT else analyte.decimals
    return max([own, *written])


def bound_reached(limit: Limit, band: Severity) -> float:
    """The bound behind a band: its own, else the last one given before it, or the first there is.

    A band has no bound of its own where a worse one was lowered for want of companions.
    """
    given = [bound for bound in limit.bounds()[:band] if bound is not None]
    every = [bound for bound in limit.bounds() if bound is not None]
    return given[-1] if given else every[0]


def _fingerprints(limit: Limit) -> list[int]:
    """One number a band, of all that a reader would see of the limit there."""
    told = (
        limit.analyte,
        limit.kind.value,
        limit.direction,
        limit.scope,
        limit.boundary,
        limit.source,
        limit.set_by,
    )
    bands = (Severity.WATCH, Severity.ACT, Severity.URGENT)
    return [0, *(_hash(*told, int(band), bound_reached(limit, band)) for band in bands)]


def _hash(*parts: object) -> int:
    named = "|".join(map(str, parts))
    return int.from_bytes(hashlib.blake2b(named.encode(), digest_size=8).digest(), "little") | 1
