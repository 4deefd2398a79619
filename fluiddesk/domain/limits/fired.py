"""The limits that fired on a sample, each with every number needed to check it by hand."""

import math
from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np

from fluiddesk.domain.analytes import AnalyteCode
from fluiddesk.domain.limits.alone import Part, Rows, run_in_factors
from fluiddesk.domain.limits.assessment import Judged
from fluiddesk.domain.limits.combining import Why
from fluiddesk.domain.limits.figures import Figures
from fluiddesk.domain.limits.limit_set import Limit, LimitKind
from fluiddesk.domain.limits.limit_table import bound_reached
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.severity import Severity

_FROM_NEW = (LimitKind.CHANGE, LimitKind.CHANGE_PERCENT)


class FiredRule(NamedTuple):
    """One limit that fired on one sample, with every number needed to check it by hand.

    A tuple, because a fleet that is judged anew makes some hundred thousand of them.

    Attributes:
        value: the reading, in the analyte's unit; NaN where there is none.
        reference: the new fluid's value where the limit looks at the change.
        compared: the figure that was held against ``bound``.
        alone: the band the figure alone puts the sample in, where ``severity``, the one the limit
            stands in after combining, is another.
        why: bits of ``Why``: what made the difference.
        factor: what the bounds were multiplied by while a component ran in.
        companion: the other analyte of a ratio.
        inputs: further numbers of the comparison, by name.
        beside: analytes of the same pattern that raised it.
    """

    analyte: AnalyteCode
    kind: LimitKind
    direction: str
    severity: Severity
    sign: Sign
    value: float
    reference: float | None
    compared: float
    bound: float
    scope: str
    source: str
    set_by: str
    alone: Severity | None = None
    why: int = 0
    factor: float = 1.0
    companion: AnalyteCode = ""
    inputs: tuple[tuple[str, float], ...] = ()
    beside: tuple[AnalyteCode, ...] = ()

    @property
    def margin(self) -> float:
        """How far past the bound, in the unit of the comparison; 0 where it stands over."""
        past = self.compared - self.bound if self.direction == "up" else self.bound - self.compared
        return max(past, 0.0) if math.isfinite(past) else 0.0

    @property
    def stands_over(self) -> bool:
        """Whether an earlier sample raised it and this one does not clear it."""
        return bool(self.why & (Why.HELD | Why.MASKED))


def fired_rules(judged: Judged, *, sample: int) -> tuple[FiredRule, ...]:
    """Every limit that fired on one sample, worst first, then furthest past its bound.

    Args:
        judged: what ``assess`` or ``assess_history`` said.
        sample: which of its samples.
    """
    return rules_by_sample(judged, samples=np.array([sample], dtype=np.intp)).get(sample, ())


def rules_by_sample(judged: Judged, *, samples: Rows) -> dict[int, tuple[FiredRule, ...]]:
    """The limits that fired on each of some samples, as ``fired_rules`` tells them for one.

    Samples on which nothing fired are left out.
    """
    found: dict[int, list[FiredRule]] = {}
    for part in judged.parts:
        wanted = _inside(part, samples, len(judged.severity))
        if len(wanted):
            _tell(judged, part, wanted, found)
    return {
        one: tuple(sorted(rules, key=_importance)) if len(rules) > 1 else tuple(rules)
        for one, rules in found.items()
    }


def _inside(part: Part, samples: Rows, size: int) -> Rows:
    inside = np.zeros(size, dtype=bool)
    inside[part.at] = True
    return samples[inside[samples]]


def _tell(judged: Judged, part: Part, wanted: Rows, found: dict[int, list[FiredRule]]) -> None:
    places = np.array(judged.places(part.table), dtype=np.intp)
    if not len(places):
        return
    at, index = np.nonzero(judged.bands[wanted[:, None], places[None, :]] > Severity.NORMAL)
    for which in np.unique(index).tolist():
        run = wanted[at[index == which]]
        told = _told_of(judged, part, which, run, place=int(places[which]))
        for one, rule in zip(run.tolist(), told, strict=True):
            found.setdefault(one, []).append(rule)


def _told_of(
    judged: Judged, part: Part, which: int, run: Rows, *, place: int
) -> Iterator[FiredRule]:
    """One limit's rule for each of some samples on which it fired."""
    table, figures, rows = part.table, judged.figures, run + judged.rows.start
    limit = table.limits[which]
    bounds = {band: bound_reached(limit, band) for band in _FIRED}
    runs_in = bool(table.runs_in[which])
    beside = _partners(judged, limit)
    columns = (
        run.tolist(),
        judged.bands[run, place].tolist(),
        judged.own[run, place].tolist(),
        judged.why[run, place].tolist(),
        judged.compared_by(part, which, run).tolist(),
        figures.level(limit.analyte, rows).tolist(),
        figures.signs(limit.analyte, rows).tolist(),
        _new(figures, limit, rows),
        run_in_factors(figures, rows).tolist(),
        _inputs(figures, limit, rows),
    )
    for one, band, own, why, compared, value, sign, new, factor, inputs in zip(
        *columns, strict=True
    ):
        bound = bounds[own if own > 0 else band]
        wide = runs_in and factor != 1.0
        yield FiredRule(
            analyte=limit.analyte,
            kind=limit.kind,
            direction=limit.direction,
            severity=_SEVERITIES[band],
            sign=_SIGNS[sign],
            value=value,
            reference=new,
            compared=compared,
            bound=round(bound * factor, 9) if wide else bound,
            scope=table.scopes[which],
            source=limit.source,
            set_by=limit.set_by,
            alone=None if own == band else _SEVERITIES[max(own, -1)],
            why=why | _RUN_IN if wide else why,
            factor=factor if wide else 1.0,
            companion=limit.companion,
            inputs=inputs,
            beside=_fired_beside(judged, beside, one) if why & _RAISED else (),
        )


# Looking a member up by number: calling the class each time costs ten times as much.
_SEVERITIES: Final = {int(one): one for one in Severity}
_SIGNS: Final = {int(one): one for one in Sign}
_FIRED: Final = (Severity.WATCH, Severity.ACT, Severity.URGENT)
_RAISED: Final = int(Why.RAISED)
_RUN_IN: Final = int(Why.RUN_IN)


def _new(figures: Figures, limit: Limit, rows: Rows) -> list[float | None]:
    if limit.kind not in _FROM_NEW:
        return [None] * len(rows)
    values: list[float] = figures.new_fluid(limit.analyte, rows).tolist()
    return [None if math.isnan(one) else one for one in values]


def _inputs(figures: Figures, limit: Limit, rows: Rows) -> list[tuple[tuple[str, float], ...]]:
    """The further numbers of a comparison, for each row."""
    columns = figures.inputs(limit, rows)
    if not columns:
        return [()] * len(rows)
    told = [column.tolist() for column in columns.values()]
    return [
        tuple(
            (name, value) for name, value in zip(columns, row, strict=True) if not math.isnan(value)
        )
        for row in zip(*told, strict=True)
    ]


def _partners(judged: Judged, limit: Limit) -> list[tuple[int, AnalyteCode]]:
    """The columns of other analytes that some pattern names together with this one."""
    sign = (limit.analyte, limit.direction)
    named = {one for pattern in judged.patterns if sign in pattern.signs for one in pattern.signs}
    return [
        (index, code)
        for index, (code, _, direction) in enumerate(judged.columns.keys)
        if (code, direction) in named and code != limit.analyte
    ]


def _fired_beside(
    judged: Judged, partners: list[tuple[int, AnalyteCode]], sample: int
) -> tuple[AnalyteCode, ...]:
    own = judged.own[sample].tolist()
    return tuple(dict.fromkeys(code for index, code in partners if own[index] > 0))


def _importance(rule: FiredRule) -> tuple[int, float, str, str]:
    size = abs(rule.bound) or 1.0
    return (-int(rule.severity), -rule.margin / size, rule.analyte, rule.kind.value)
