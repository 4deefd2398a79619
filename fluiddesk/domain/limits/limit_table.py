"""The limits that hold for one kind of box, laid out as arrays against analyte columns."""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.analytes import Analyte, AnalyteFamily
from fluiddesk.domain.limits.limit_set import JUDGED_KINDS, Limit, LimitKind
from fluiddesk.domain.limits.settings import USUAL, JudgingSettings
from fluiddesk.domain.severity import Severity

PERCENT_PLACES = 1
"""Places at which a change in percent is compared with its limit."""

_PLACES: Final[Mapping[LimitKind, int]] = {
    LimitKind.CHANGE_PERCENT: PERCENT_PLACES,
    LimitKind.OFF_GRADE: PERCENT_PLACES,
    LimitKind.OWN_STEP: 1,
    LimitKind.LEFT_RIGHT_RATIO: 2,
    LimitKind.COMPANION_RATIO: 2,
    LimitKind.PLAIN_RATIO: 2,
    LimitKind.MISSING_TEST: 0,
}
"""Places at which figures of a kind are compared; of other kinds those of the method."""

_CLEAR_AT_BOUND: Final = (LimitKind.MISSING_TEST, LimitKind.PERCENTILE)

_RUN_IN_KINDS: Final = frozenset(
    {LimitKind.LEVEL, LimitKind.CHANGE, LimitKind.RATE_PER_100H, LimitKind.PERCENTILE}
)
"""The kinds whose wear limits are wider while a fitted component runs in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitTable:
    """k limits of one box, each bound to one of m analyte columns.

    Attributes:
        limits: the k limits.
        column: shape (k,), which analyte column each looks at; -1 for a test that was never made.
        bounds: shape (k, 3), Watch, Act, Urgent; NaN where a limit has no such band.
        clears: shape (k, 3), the figures short of which each band clears.
        runs_in: shape (k,), whether the bounds are wider while a fitted component runs in.
        places: shape (k,), decimals at which values are compared: the method's, or finer where a
            bound is written finer.
        weight: shape (k, 4), a fingerprint of what each limit says in each band (0 in Normal), the
            same in every run.
        scopes: the k scopes in words.
        analytes: the catalogue, by code.
    """

    limits: tuple[Limit, ...]
    column: NDArray[np.intp]
    bounds: NDArray[np.float64]
    clears: NDArray[np.float64]
    runs_in: NDArray[np.bool_]
    places: NDArray[np.int64]
    weight: NDArray[np.uint64]
    scopes: tuple[str, ...]
    analytes: Mapping[str, Analyte]


def limit_table(
    limits: Sequence[Limit],
    *,
    analytes: Mapping[str, Analyte],
    numbers: Sequence[int],
    settings: JudgingSettings = USUAL,
) -> LimitTable:
    """Lay limits out against the analyte columns that a group of samples was tested for.

    Args:
        limits: the limits in force for the box.
        analytes: the catalogue, by code.
        numbers: analyte numbers of the columns, one each.
        settings: numbers of the rules.

    Returns:
        The limits of judged kinds whose analyte is among the columns; a missing test may concern
        an analyte that is not.
    """
    place = {number: index for index, number in enumerate(numbers)}
    kept = [
        limit
        for limit in limits
        if limit.kind in JUDGED_KINDS
        and limit.analyte in analytes
        and (analytes[limit.analyte].number in place or limit.kind is LimitKind.MISSING_TEST)
    ]
    levels = [one for one in kept if one.kind is LimitKind.LEVEL]
    two_sided = {one.analyte for one in levels if one.direction == "up"}
    two_sided &= {one.analyte for one in levels if one.direction == "down"}
    bounds = [[np.nan if bound is None else bound for bound in one.bounds()] for one in kept]
    return LimitTable(
        limits=tuple(kept),
        column=np.array(
            [place.get(analytes[one.analyte].number, -1) for one in kept], dtype=np.intp
        ),
        bounds=np.array(bounds, dtype=np.float64).reshape(len(kept), 3),
        clears=np.array(
            [
                _clears(
                    one,
                    settings,
                    is_two_sided=one.analyte in two_sided,
                    is_code=analytes[one.analyte].unit == "code",
                )
                for one in kept
            ],
            dtype=np.float64,
        ).reshape(len(kept), 3),
        runs_in=np.array(
            [
                one.kind in _RUN_IN_KINDS and analytes[one.analyte].family is AnalyteFamily.WEAR
                for one in kept
            ],
            dtype=bool,
        ),
        places=np.array([_places(one, analytes[one.analyte]) for one in kept], dtype=np.int64),
        weight=np.array([_fingerprints(one) for one in kept], dtype=np.uint64).reshape(-1, 4),
        scopes=tuple(one.scope.text for one in kept),
        analytes=analytes,
    )


def _clears(
    limit: Limit, settings: JudgingSettings, *, is_two_sided: bool, is_code: bool
) -> list[float]:
    """Where each band clears: short of the bound by 15 % of it, by the usual settings.

    A level with limits on both sides (pH, glycol) clears at the bound itself: 15 % of pH 8 would
    lie past the limit of the other side. So does a contamination code: one code less is half as
    many particles. A test that was made clears that it was missing. A percentile only says
    "unusual": it too clears at the bound, since 15 % short of that of a steady figure, such as an
    additive's or a viscosity, would be unusual on the other side.
    """
    share = 0.0 if is_code else 1.0 - settings.clears_at
    if limit.kind in _CLEAR_AT_BOUND or (limit.kind is LimitKind.LEVEL and is_two_sided):
        share = 0.0
    turn = 1.0 if limit.direction == "up" else -1.0
    return [
        np.nan if bound is None else round(bound - turn * share * abs(bound), 9)
        for bound in limit.bounds()
    ]


def _places(limit: Limit, analyte: Analyte) -> int:
    written = [
        len(f"{bound:.6f}".rstrip("0").partition(".")[2])
        for bound in limit.bounds()
        if bound is not None
    ]
    own = _PLACES.get(limit.kind, analyte.decimals)
    if limit.kind is LimitKind.RATE_PER_100H:
        own += 1  # a rate is computed, not read: 19.6 per 100 h is short of 20
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
