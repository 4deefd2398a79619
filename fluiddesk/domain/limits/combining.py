"""How the bands of many limits make one severity (common practice, no source, but as marked).

In this order: bands that need companions of their own group; a statistical exceedance alone stops
at Watch unless it is also more than the method's reproducibility R (ASTM D7669: neighbouring limits
lie further apart than repeatability); what stands until it is cleared (``hysteresis.py``); two
statistical kinds that agree, or one beside an absolute Watch, are Act; companions of one pattern
raise it by a step; a sample in doubt raises nothing past Watch, except signs that the fluid itself
is unsafe.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import IntFlag
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.analytes import Analyte, AnalyteFamily
from fluiddesk.domain.limits.bands import Bands
from fluiddesk.domain.limits.limit_set import STATISTICAL_KINDS, Limit, LimitKind
from fluiddesk.domain.severity import Severity

Key = tuple[str, LimitKind, str]


class Why(IntFlag):
    """Why a limit stands in another band than its figure alone puts it in."""

    HELD = 1
    MASKED = 2
    RAISED = 4
    AGREED = 8
    STOPPED = 16
    CAPPED = 32
    LACKS = 64
    RUN_IN = 128


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """Analytes that move together when one thing goes wrong; ``signs``: analyte and direction.

    ``groups`` are the groups of compartment kinds it is known in; none: all of them. ``against``:
    analytes that would have moved too; all of them tested and Normal speak against the pattern.
    """

    code: str
    name: str
    groups: tuple[str, ...]
    signs: tuple[tuple[str, Literal["up", "down"]], ...]
    source: str
    against: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Companions:
    """Which analytes corroborate each other, and which tell of a fluid unsafe to run on.

    ``group_of``: the group of each kind of compartment. ``fluid_clears``: contamination that leaves
    with the old fluid, because what brought it was in the fluid.
    """

    patterns: tuple[Pattern, ...]
    unsafe_fluid: frozenset[str]
    group_of: Mapping[str, str]
    fluid_clears: frozenset[str] = frozenset()

    def of(self, compartment_kind: str) -> tuple[Pattern, ...]:
        """The patterns known in a kind of compartment."""
        group = self.group_of.get(compartment_kind, "")
        return tuple(one for one in self.patterns if not one.groups or group in one.groups)


NO_COMPANIONS: Final = Companions(patterns=(), unsafe_fluid=frozenset(), group_of={})


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """What the k columns of a table of bands look at; all shape (k,).

    Attributes:
        keys: analyte, kind and direction.
        is_statistical: whether it says "unusual" only.
        is_absolute: whether it says "harmful" by a figure.
        is_unsafe_fluid: whether it stands also on a sample in doubt: coolant, fuel, water,
            viscosity off its grade.
        fluid_clears: whether a fluid change clears it.
    """

    keys: tuple[Key, ...]
    is_statistical: NDArray[np.bool_]
    is_absolute: NDArray[np.bool_]
    is_unsafe_fluid: NDArray[np.bool_]
    fluid_clears: NDArray[np.bool_]


_KEPT_BY_THE_FAULT: Final = (AnalyteFamily.WEAR, AnalyteFamily.CONTAMINATION)
"""Families whose alarm no fluid change clears: what brought the metal or dirt is still there."""


def columns_of(
    keys: Sequence[Key], *, analytes: Mapping[str, Analyte], companions: Companions
) -> Columns:
    """What the columns look at.

    Args:
        keys: one a column.
        analytes: the catalogue, by code.
        companions: which analytes tell of an unsafe fluid, and which leave with it.
    """
    kinds = [kind for _, kind, _ in keys]
    return Columns(
        keys=tuple(keys),
        is_statistical=np.array([kind in STATISTICAL_KINDS for kind in kinds], dtype=bool),
        is_absolute=np.array(
            [
                kind not in STATISTICAL_KINDS and kind is not LimitKind.MISSING_TEST
                for kind in kinds
            ],
            dtype=bool,
        ),
        is_unsafe_fluid=np.array(
            [
                kind is LimitKind.OFF_GRADE
                or (
                    code in companions.unsafe_fluid
                    and kind not in STATISTICAL_KINDS
                    and kind is not LimitKind.MISSING_TEST
                )
                for code, kind, _ in keys
            ],
            dtype=bool,
        ),
        fluid_clears=np.array(
            [
                analytes[code].family not in _KEPT_BY_THE_FAULT or code in companions.fluid_clears
                for code, _, _ in keys
            ],
            dtype=bool,
        ),
    )


def cap_groups(
    bands: Bands, limits: Sequence[Limit], column: NDArray[np.intp]
) -> NDArray[np.bool_]:
    """Lower bands that need companions of their group in the same sample and lack them.

    Args:
        bands: shape (n, k), changed in place.
        limits: the k limits.
        column: shape (k,), which analyte each looks at.

    Returns:
        Shape (n, k), which were lowered.
    """
    lowered = np.zeros(bands.shape, dtype=bool)
    groups = {limit.group for limit in limits if limit.group}
    for group in groups:
        members = [index for index, limit in enumerate(limits) if limit.group == group]
        columns = [column[members] == one for one in np.unique(column[members])]
        for level, needed in ((Severity.URGENT, "urgent_needs"), (Severity.ACT, "act_needs")):
            reached = bands[:, members] >= level
            # Analytes count, not limits: one analyte past two of its limits is no company.
            together = np.sum([reached[:, own].any(axis=1) for own in columns], axis=0)
            for index in members:
                lacking = together < getattr(limits[index], needed)
                capped = np.minimum(bands[:, index], np.int8(level - 1))
                lowered[:, index] |= lacking & (capped < bands[:, index])
                bands[:, index] = np.where(lacking, capped, bands[:, index])
    return lowered


def combine(
    standing: Bands,
    *,
    columns: Columns,
    patterns: Sequence[Pattern],
    companions_needed: int,
) -> tuple[Bands, NDArray[np.uint8]]:
    """Raise what agrees, lower by a step what strong evidence speaks against, never below Watch.

    Evidence against is that other analytes are Normal: a worse band of theirs takes it away, so
    that a worse band never makes a better verdict.

    Args:
        standing: shape (n, k).
        columns: what the columns look at.
        patterns: analytes that move together in this kind of box.
        companions_needed: how many of a pattern raise it; 0 raises nothing.

    Returns:
        The bands, and the reasons they were raised as ``Why`` bits; shape (n, k) each.
    """
    # In the order the columns lie in memory: turned round, every later step would be slow.
    bands, why = standing.copy(order="K"), np.zeros_like(standing, dtype=np.uint8)
    rows = np.flatnonzero((standing > Severity.NORMAL).any(axis=1))
    if not len(rows):
        return bands, why
    some, reasons = bands[rows], why[rows]
    _statistics_agree(some, reasons, columns)
    if companions_needed:
        _companions_raise(some, reasons, columns, patterns, companions_needed)
        _evidence_against(some, standing[rows], reasons, columns, patterns)
    bands[rows], why[rows] = some, reasons
    return bands, why


def _statistics_agree(bands: Bands, why: NDArray[np.uint8], columns: Columns) -> None:
    pairs: dict[tuple[str, str], list[int]] = {}
    for index, (code, _, direction) in enumerate(columns.keys):
        if columns.is_statistical[index] or columns.is_absolute[index]:
            pairs.setdefault((code, direction), []).append(index)
    for members in pairs.values():
        statistical = columns.is_statistical[members]
        if len(members) == 1 or not statistical.any():
            continue
        fired = bands[:, members] > Severity.NORMAL
        agrees = fired[:, statistical].any(axis=1) & (fired.sum(axis=1) > 1)
        for place, index in enumerate(members):
            raised = agrees & fired[:, place] & (bands[:, index] < Severity.ACT)
            bands[raised, index] = Severity.ACT
            why[raised, index] |= np.uint8(Why.AGREED)


def _companions_raise(
    bands: Bands,
    why: NDArray[np.uint8],
    columns: Columns,
    patterns: Sequence[Pattern],
    needed: int,
) -> None:
    told = bands.copy()
    for pattern in patterns:
        members, analyte = _members(pattern, columns)
        if len(set(analyte)) < needed:
            continue
        own = told[:, members]
        fired = own > Severity.NORMAL
        together = np.sum(
            [fired[:, np.array(analyte) == one].any(axis=1) for one in set(analyte)], axis=0
        )
        rows = np.flatnonzero(together >= needed)
        if not len(rows):
            continue
        for place, index in enumerate(members):
            raised = rows[fired[rows, place] & (own[rows, place] < Severity.URGENT)]
            # One step at most, however many patterns an analyte belongs to.
            bands[raised, index] = np.maximum(bands[raised, index], told[raised, index] + 1)
            why[raised, index] |= np.uint8(Why.RAISED)


def _evidence_against(
    bands: Bands,
    told: Bands,
    why: NDArray[np.uint8],
    columns: Columns,
    patterns: Sequence[Pattern],
) -> None:
    """Lower by a step where everything that would have moved too was tested and is Normal.

    Signs that the fluid itself is unsafe are never lowered.
    """
    for pattern in patterns:
        if not pattern.against:
            continue
        rows = np.flatnonzero(_all_normal(told, pattern.against, columns))
        for index in _members(pattern, columns)[0] if len(rows) else ():
            if columns.is_unsafe_fluid[index]:
                continue
            lowered = rows[bands[rows, index] > Severity.WATCH]
            bands[lowered, index] -= 1
            why[lowered, index] |= np.uint8(Why.LACKS)


def _all_normal(bands: Bands, analytes: Sequence[str], columns: Columns) -> NDArray[np.bool_]:
    """Rows in which each of some analytes was judged and nothing of it fired."""
    clear = np.ones(len(bands), dtype=bool)
    for code in analytes:
        own = [index for index, key in enumerate(columns.keys) if key[0] == code]
        if not own:
            return np.zeros(len(bands), dtype=bool)
        clear &= bands[:, own].max(axis=1) == Severity.NORMAL
    return clear


def _members(pattern: Pattern, columns: Columns) -> tuple[list[int], list[str]]:
    """The columns a pattern looks at, and the analyte of each."""
    found = [
        (index, code)
        for index, (code, kind, direction) in enumerate(columns.keys)
        if (code, direction) in pattern.signs and kind is not LimitKind.MISSING_TEST
    ]
    return [index for index, _ in found], [code for _, code in found]
