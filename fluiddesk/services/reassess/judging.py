"""Judge every sample of many boxes by the limits in force on its day; columns in, columns out."""

from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field, fields, replace
from datetime import date
from functools import partial
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.analytes import Analyte
from fluiddesk.domain.errors import CancelledError
from fluiddesk.domain.limits.alone import Part
from fluiddesk.domain.limits.assessment import Judged, assess_history, reference_matrix
from fluiddesk.domain.limits.combining import NO_COMPANIONS, Companions
from fluiddesk.domain.limits.context import JudgingContext
from fluiddesk.domain.limits.figures import Figures
from fluiddesk.domain.limits.fired import FiredRule, rules_by_sample
from fluiddesk.domain.limits.limit_set import (
    Box,
    Limit,
    LimitSet,
    LimitSetState,
    limits_in_force,
)
from fluiddesk.domain.limits.limit_table import LimitTable, limit_table
from fluiddesk.domain.limits.settings import JudgingSettings, settings_of
from fluiddesk.domain.samples import SampleColumns
from fluiddesk.domain.severity import Severity

CHUNK = 40_000
"""Samples judged in one go: bounds the memory of the (samples x limits) work arrays."""

THREADS: Final = 2
"""Threads a large group is judged by."""

Progress = Callable[[int, int | None], bool]
"""Told (done, total or unknown); answers whether to go on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rulebook:
    """The limit sets that ever held, the catalogue and the new-fluid references.

    ``references``: by reference number, values by analyte number; ``fluids_of_references``: by
    reference number, the fluid's code. ``companions``: patterns that corroborate each other.
    """

    sets: Sequence[LimitSet]
    analytes: Mapping[str, Analyte]
    references: Mapping[int, Mapping[int, float]]
    fluids_of_references: Mapping[int, str] = field(default_factory=dict)
    companions: Companions = NO_COMPANIONS

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Period:
    """Days on which one set judges by the same limits: an "off" of it may end inside its time."""

    limit_set: LimitSet
    first: int
    last: int
    settings: JudgingSettings


_FAR: Final = date.max.toordinal()


def rows_of(columns: SampleColumns, which: slice | NDArray[np.bool_]) -> SampleColumns:
    """Some rows of a group of samples; a slice copies nothing."""
    picked = {
        field.name: getattr(columns, field.name)[which]
        for field in fields(columns)
        if field.name != "analytes"
    }
    return replace(columns, **picked)


def singled_out(rulebook: Rulebook) -> frozenset[str]:
    """The compartments that a limit of their own names."""
    named = {limit.scope.compartment for one in rulebook.held() for limit in one.limits}
    return frozenset(named - {""})


def box_profiles(boxes: Sequence[Box], rulebook: Rulebook) -> tuple[NDArray[np.int32], list[Box]]:
    """Number boxes so that those with the same limits share a number.

    Returns:
        The profile of each box, shape (len(boxes),), and one box for each profile.
    """
    single = singled_out(rulebook)
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


def periods_of(rulebook: Rulebook) -> list[Period]:
    """The periods of all sets that are or were in force; of two that hold, the later one counts."""
    found = []
    for one in rulebook.held():
        first = one.valid_from.toordinal()
        last = _FAR if one.valid_until is None else one.valid_until.toordinal() - 1
        ends = {limit.off_until.toordinal() for limit in one.limits if limit.off_until is not None}
        inside = sorted(end for end in ends if first <= end < last)
        settings = settings_of(one.settings)
        for begin, end in zip([first, *(e + 1 for e in inside)], [*inside, last], strict=True):
            found.append(Period(limit_set=one, first=begin, last=end, settings=settings))
    return found


def period_on(days: NDArray[np.int32], periods: Sequence[Period]) -> NDArray[np.int32]:
    """Which period holds on each day, as ``set_in_force`` says; -1 where none does."""
    which = np.full(len(days), -1, dtype=np.int32)
    for index, one in enumerate(periods):
        which[(days >= one.first) & (days <= one.last)] = index
    return which


class Judge:
    """Judges groups of samples by one rulebook; keeps the tables of limits it has laid out.

    Args:
        rulebook: limit sets, catalogue, references.
        kinds: one box for each profile.
    """

    def __init__(self, rulebook: Rulebook, kinds: Sequence[Box]) -> None:
        self.rulebook = rulebook
        self.periods = periods_of(rulebook)
        self._kinds = kinds
        self._tables: dict[tuple[int, int, tuple[int, ...]], LimitTable] = {}
        self._by_kind = [_by_compartment_kind(one.limit_set.limits) for one in self.periods]

    def figures(
        self, group: SampleColumns, context: JudgingContext | None, settings: JudgingSettings
    ) -> Figures:
        """What the limits compare of a group."""
        return Figures(
            group,
            references=reference_matrix(self.rulebook.references, numbers=group.analytes),
            analytes=self.rulebook.analytes,
            context=context,
            settings=settings,
        )

    def runs(
        self,
        group: SampleColumns,
        context: JudgingContext | None,
        profile: NDArray[np.int32],
        kept: dict[JudgingSettings, Figures] | None = None,
        wanted: NDArray[np.bool_] | None = None,
    ) -> Iterator[tuple[slice, NDArray[np.int32], Judged, NDArray[np.bool_]]]:
        """Judge a group run by run: rows, period of each, verdicts, and which rows they hold for.

        A run comes once for each settings that its sets were judged with; one without a wanted row
        is passed over.
        """
        kept = {} if kept is None else kept
        period = period_on(group.taken_on, self.periods)
        tasks = self._tasks(group, context, profile, kept, period, wanted)
        if len(group) <= CHUNK:
            for rows, own, work in tasks:
                yield rows, period[rows], work(), np.isin(period[rows], own)
            return
        # numpy lets another thread work while it counts.
        with ThreadPoolExecutor(max_workers=THREADS) as pool:
            ahead: deque[tuple[slice, list[int], Future[Judged]]] = deque()
            for rows, own, work in tasks:
                ahead.append((rows, own, pool.submit(work)))
                if len(ahead) > THREADS:
                    done, held, found = ahead.popleft()
                    yield done, period[done], found.result(), np.isin(period[done], held)
            for done, held, found in ahead:
                yield done, period[done], found.result(), np.isin(period[done], held)

    def _tasks(
        self,
        group: SampleColumns,
        context: JudgingContext | None,
        profile: NDArray[np.int32],
        kept: dict[JudgingSettings, Figures],
        period: NDArray[np.int32],
        wanted: NDArray[np.bool_] | None,
    ) -> Iterator[tuple[slice, list[int], Callable[[], Judged]]]:
        """What is to be judged: rows, the periods the answer holds for, and the work itself."""
        for rows in runs_of(group, profile):
            if wanted is not None and not wanted[rows].any():
                continue
            inside = period[rows]
            there = [int(one) for one in np.unique(inside) if one >= 0]
            kind = int(profile[group.compartment[rows.start]])
            is_whole = len(there) == 1 and bool((inside >= 0).all())
            parts = [
                Part(
                    at=slice(0, len(inside)) if is_whole else np.flatnonzero(inside == one),
                    table=self._table(one, kind, group.analytes),
                )
                for one in there
            ]
            for settings in dict.fromkeys(self.periods[one].settings for one in there):
                if settings not in kept:
                    kept[settings] = self.figures(group, context, settings)
                own = [one for one in there if self.periods[one].settings == settings]
                yield (
                    rows,
                    own,
                    partial(
                        assess_history,
                        kept[settings],
                        rows,
                        parts,
                        companions=self.rulebook.companions,
                        compartment_kind=self._kinds[kind].compartment_kind,
                    ),
                )

    def _table(self, period: int, kind: int, numbers: tuple[int, ...]) -> LimitTable:
        key = (period, kind, numbers)
        if key not in self._tables:
            held, box = self.periods[period], self._kinds[kind]
            by_kind = self._by_kind[period]
            about = [*by_kind.get("", ()), *by_kind.get(box.compartment_kind, ())]
            in_force = limits_in_force(about, box, date.fromordinal(held.first))
            self._tables[key] = limit_table(
                in_force,
                analytes=self.rulebook.analytes,
                numbers=numbers,
                settings=held.settings,
            )
        return self._tables[key]


def _by_compartment_kind(limits: Sequence[Limit]) -> Mapping[str, Sequence[Limit]]:
    found: dict[str, list[Limit]] = {}
    for limit in limits:
        found.setdefault(limit.scope.compartment_kind, []).append(limit)
    return found


def runs_of(group: SampleColumns, profile: NDArray[np.int32]) -> Iterator[slice]:
    """Runs of rows of boxes with the same profile, whole boxes each, of bounded length."""
    if not len(group):
        return
    box = group.compartment
    starts = np.flatnonzero(np.diff(box, prepend=box[0] - 1))
    kind = profile[box[starts]].tolist()
    edges = [*starts.tolist(), len(group)]
    begin = 0
    for place in range(1, len(edges)):
        last = place == len(kind)
        if last or kind[place] != kind[begin] or edges[place + 1] - edges[begin] > CHUNK:
            yield slice(edges[begin], edges[place])
            begin = place


def judge(
    groups: Sequence[SampleColumns],
    *,
    profile: NDArray[np.int32],
    kinds: Sequence[Box],
    rulebook: Rulebook,
    contexts: Sequence[JudgingContext] | None = None,
    progress: Progress | None = None,
) -> Iterator[Verdicts]:
    """Judge groups of samples.

    Args:
        groups: samples; ``compartment`` indexes ``profile``. Samples of one box stand together, in
            the order taken; boxes of one profile should too, so that they are judged together.
        profile: shape (number of boxes,), which of ``kinds`` each box is like.
        kinds: one box for each profile.
        rulebook: limit sets, catalogue, references.
        contexts: what came before and beside the samples, one a group; without them limits that
            need other samples are not judged.
        progress: told the samples done so far.

    Raises:
        CancelledError: when ``progress`` says to stop.
    """
    total = sum(len(group) for group in groups)
    done = 0
    judges = Judge(rulebook, kinds)
    for place, group in enumerate(groups):
        yield _judge_group(judges, group, contexts[place] if contexts else None, profile)
        done += len(group)
        if progress is not None and not progress(done, total):
            raise CancelledError("Stopped before anything was saved; nothing has changed.")


def _judge_group(
    judges: Judge,
    group: SampleColumns,
    context: JudgingContext | None,
    profile: NDArray[np.int32],
) -> Verdicts:
    size = len(group)
    severity = np.full(size, Severity.NO_VERDICT, dtype=np.int8)
    digest = np.zeros(size, dtype=np.uint64)
    load = np.zeros(size)
    set_number = np.zeros(size, dtype=np.int32)
    reasons: dict[int, tuple[FiredRule, ...]] = {}
    numbers = np.array([one.limit_set.number for one in judges.periods], dtype=np.int32)
    for rows, period, judged, holds in judges.runs(group, context, profile):
        at = rows.start + np.flatnonzero(holds)
        severity[at], load[at] = judged.severity[holds], judged.load[holds]
        digest[at], set_number[at] = judged.digest[holds], numbers[period[holds]]
        differs = (judged.digest != group.digest[rows]) | (judged.severity != group.severity[rows])
        told = np.flatnonzero(differs & holds & (judged.severity > Severity.NORMAL))
        found = rules_by_sample(judged, samples=told)
        reasons.update((rows.start + row, rules) for row, rules in found.items())
    return Verdicts(
        columns=group,
        severity=severity,
        digest=digest,
        load=load,
        limit_set=set_number,
        changed=(digest != group.digest) | (severity != group.severity),
        reasons=reasons,
    )
