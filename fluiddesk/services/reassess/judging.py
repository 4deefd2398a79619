"""Judge every sample of many boxes by the limits in force on its day; columns in, columns out."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.analytes import Analyte
from fluiddesk.domain.errors import CancelledError
from fluiddesk.domain.limits.assessment import (
    FiredRule,
    assess,
    reference_matrix,
    rules_by_sample,
)
from fluiddesk.domain.limits.limit_set import Box, LimitSet, LimitSetState, limits_in_force
from fluiddesk.domain.limits.limit_table import LimitTable, limit_table
from fluiddesk.domain.samples import SampleColumns
from fluiddesk.domain.severity import Severity

CHUNK = 40_000
"""Samples judged in one go: bounds the memory of the (samples x limits) work arrays."""

Progress = Callable[[int, int | None], bool]
"""Told (done, total or unknown); answers whether to go on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rulebook:
    """The limit sets that ever held, the catalogue and the new-fluid references.

    ``references``: by reference number, values by analyte number.
    """

    sets: Sequence[LimitSet]
    analytes: Mapping[str, Analyte]
    references: Mapping[int, Mapping[int, float]]

    def held(self) -> list[LimitSet]:
        """The sets that are or were in force, oldest first."""
        known = [one for one in self.sets if one.state is not LimitSetState.DRAFT]
        return sorted(known, key=lambda one: (one.valid_from, one.number))


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdicts:
    """The verdicts on one group of samples; all columns shape (n,).

    ``reasons`` holds the rules that fired, by row, for rows whose verdict differs from the stored
    one.
    """

    columns: SampleColumns
    severity: NDArray[np.int8]
    digest: NDArray[np.uint64]
    load: NDArray[np.float64]
    limit_set: NDArray[np.int32]
    changed: NDArray[np.bool_]
    reasons: Mapping[int, tuple[FiredRule, ...]]


def rows_of(columns: SampleColumns, which: slice | NDArray[np.bool_]) -> SampleColumns:
    """Some rows of a group of samples; a slice copies nothing."""
    picked = {
        field.name: getattr(columns, field.name)[which]
        for field in fields(columns)
        if field.name != "analytes"
    }
    return replace(columns, **picked)


def box_profiles(boxes: Sequence[Box], rulebook: Rulebook) -> tuple[NDArray[np.int32], list[Box]]:
    """Number boxes so that those with the same limits share a number.

    Returns:
        The profile of each box, shape (len(boxes),), and one box for each profile.
    """
    single = {limit.scope.compartment for one in rulebook.held() for limit in one.limits} - {""}
    seen: dict[tuple[str, ...], int] = {}
    numbers = np.empty(len(boxes), dtype=np.int32)
    kinds: list[Box] = []
    for index, box in enumerate(boxes):
        own = box.compartment if box.compartment in single else ""
        key = (box.machine_kind, box.model, box.compartment_kind, box.fluid_class, own)
        number = seen.setdefault(key, len(kinds))
        if number == len(kinds):
            kinds.append(box)
        numbers[index] = number
    return numbers, kinds


def judge(
    groups: Sequence[SampleColumns],
    *,
    profile: NDArray[np.int32],
    kinds: Sequence[Box],
    rulebook: Rulebook,
    progress: Progress | None = None,
) -> Iterator[Verdicts]:
    """Judge groups of samples.

    Args:
        groups: samples; ``compartment`` indexes ``profile``. Boxes of one profile should stand
            together, so that they are judged without being copied.
        profile: shape (number of boxes,), which of ``kinds`` each box is like.
        kinds: one box for each profile.
        rulebook: limit sets, catalogue, references.
        progress: told the samples done so far.

    Raises:
        CancelledError: when ``progress`` says to stop.
    """
    total = sum(len(group) for group in groups)
    done = 0
    tables: dict[tuple[int, int, tuple[int, ...]], LimitTable] = {}
    for group in groups:
        yield _judge_group(group, profile=profile, kinds=kinds, rulebook=rulebook, tables=tables)
        done += len(group)
        if progress is not None and not progress(done, total):
            raise CancelledError("Stopped before anything was saved; nothing has changed.")


def _judge_group(
    group: SampleColumns,
    *,
    profile: NDArray[np.int32],
    kinds: Sequence[Box],
    rulebook: Rulebook,
    tables: dict[tuple[int, int, tuple[int, ...]], LimitTable],
) -> Verdicts:
    size = len(group)
    severity = np.full(size, Severity.NO_VERDICT, dtype=np.int8)
    digest = np.zeros(size, dtype=np.uint64)
    load = np.zeros(size)
    set_number = np.zeros(size, dtype=np.int32)
    reasons: dict[int, tuple[FiredRule, ...]] = {}
    references = reference_matrix(rulebook.references, numbers=group.analytes)
    held = rulebook.held()
    for start, stop, kind, which in _stretches(group, profile, held):
        if which < 0:
            continue
        key = (which, kind, group.analytes)
        if key not in tables:
            in_force = limits_in_force(held[which].limits, kinds[kind])
            tables[key] = limit_table(in_force, analytes=rulebook.analytes, numbers=group.analytes)
        part = rows_of(group, slice(start, stop))
        judged = assess(part, tables[key], references=references)
        severity[start:stop], load[start:stop] = judged.severity, judged.load
        digest[start:stop] = judged.digest
        set_number[start:stop] = held[which].number
        stored_differs = (judged.digest != part.digest) | (judged.severity != part.severity)
        told = np.flatnonzero(stored_differs & (judged.severity > Severity.NORMAL))
        found = rules_by_sample(part, judged, tables[key], samples=told, references=references)
        reasons.update((start + row, rules) for row, rules in found.items())
    return Verdicts(
        columns=group,
        severity=severity,
        digest=digest,
        load=load,
        limit_set=set_number,
        changed=(digest != group.digest) | (severity != group.severity),
        reasons=reasons,
    )


def _stretches(
    group: SampleColumns, profile: NDArray[np.int32], held: Sequence[LimitSet]
) -> Iterator[tuple[int, int, int, int]]:
    """Runs of rows that share a profile and a limit set: (start, stop, profile, index of set)."""
    if not len(group):
        return
    which = _set_on(group.taken_on, held)
    kind = profile[group.compartment]
    breaks = (np.diff(kind) != 0) | (np.diff(which) != 0)
    edges = np.concatenate([[0], np.flatnonzero(breaks) + 1, [len(group)]])
    for first, last in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True):
        for start in range(first, last, CHUNK):
            yield start, min(start + CHUNK, last), int(kind[first]), int(which[first])


def _set_on(days: NDArray[np.int32], held: Sequence[LimitSet]) -> NDArray[np.int32]:
    """Which set held on each day, as ``set_in_force`` says; -1 where none did."""
    which = np.full(len(days), -1, dtype=np.int32)
    for index, one in enumerate(held):
        holds = days >= one.valid_from.toordinal()
        if one.valid_until is not None:
            holds &= days < one.valid_until.toordinal()
        which[holds] = index
    return which
