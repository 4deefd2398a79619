"""Which bound of which analyte ends the hours left, and what of an analyte can be foretold."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from fluiddesk.domain.analytes import Analyte, AnalyteFamily
from fluiddesk.domain.limits.limit_set import LimitKind
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.severity import Severity
from fluiddesk.services.compartment_history.facts import AnalyteSeries, LimitBand

_LEVELS: Final = frozenset({LimitKind.LEVEL, LimitKind.CHANGE, LimitKind.CHANGE_PERCENT})
"""Limits whose bounds stand on the analyte's own scale."""

NOT_DISSOLVED: Final = frozenset({"ferrous_debris"})
"""Coarse debris comes to rest within hours: the mass balance of fine metal does not hold for it."""
BUILDS_UP: Final = frozenset(
    {"silicon", "sodium", "potassium", "lithium", "soot", "oxidation", "nitration", "sulfation",
     "acid_number"}
)  # fmt: skip
"""Besides wear metals: what gathers in a fill (common practice, no source)."""
USED_UP: Final = frozenset(
    {"base_number_d2896", "base_number_d4739", "antiwear_band", "reserve_alkalinity"}
)
"""What a fill uses up (common practice, no source)."""
DRIFTS: Final = frozenset(
    {"viscosity_40c", "viscosity_100c", "boron", "calcium", "magnesium", "zinc", "phosphorus",
     "molybdenum", "nitrite", "molybdate", "silicate", "ph", "coolant_glycol"}
)  # fmt: skip
"""What may go either way over a fill. Water, fuel, glycol, particles and coarse debris come by
events or rest where filters hold them: hours say nothing of them (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """A bound that one analyte may reach.

    Attributes:
        analyte: which.
        column: its place in the box's columns.
        turn: 1 for a limit upward, -1 for one that is reached by falling.
        bound: on the analyte's own scale.
        severity: the band that starts there.
        is_signed: whether its rate may have either sign.
        is_past: whether the last value stands beyond it already.
    """

    analyte: Analyte
    column: int
    turn: float
    bound: float
    severity: Severity
    is_signed: bool
    is_past: bool

    @property
    def family(self) -> AnalyteFamily:
        """What it rises together with."""
        return self.analyte.family


def kind_of_drift(analyte: Analyte) -> float | None:
    """1 for what gathers, -1 for what is used up, 0 for either way; ``None``: hours say nothing."""
    is_metal = analyte.family is AnalyteFamily.WEAR and analyte.unit == "mg/kg"
    if analyte.code in BUILDS_UP or (is_metal and analyte.code not in NOT_DISSOLVED):
        return 1.0
    if analyte.code in USED_UP:
        return -1.0
    return 0.0 if analyte.code in DRIFTS else None


def targets_of(series: Sequence[AnalyteSeries], numbers: Sequence[int]) -> list[Target]:
    """The bounds that count now: Act of every analyte, or Urgent once one stands at Act.

    Where a limit has no such band the next one further out counts, and Watch where it has no other.

    Args:
        series: the box's curves.
        numbers: the analyte of each column of the box.
    """
    wanted = Severity.ACT
    pairs = [(one, band) for one in series for band in one.bands if band.kind in _LEVELS]
    if any(_reached(one, band.act, band) for one, band in pairs):
        wanted = Severity.URGENT
    found = []
    for one, band in pairs:
        target = _target(one, band, wanted, numbers)
        if target is not None:
            found.append(target)
    return found


def past_urgent(series: Sequence[AnalyteSeries]) -> tuple[Analyte, float] | None:
    """An analyte that stands past an Urgent bound already, and the bound; the worst of them.

    Of any analyte, also of those that come by events: where the box is past its limit there are no
    hours left, whatever brought it there.
    """
    found = [
        (one.weight, -one.analyte.number, one.analyte, band.urgent)
        for one in series
        for band in one.bands
        if band.kind in _LEVELS and band.urgent is not None and _reached(one, band.urgent, band)
    ]
    if not found:
        return None
    _, _, analyte, bound = max(found, key=lambda one: one[:2])
    return analyte, bound


def _target(
    series: AnalyteSeries, band: LimitBand, wanted: Severity, numbers: Sequence[int]
) -> Target | None:
    drift = kind_of_drift(series.analyte)
    turn = 1.0 if band.direction == "up" else -1.0
    if drift is None or drift not in (0.0, turn):
        return None
    bounds = {Severity.WATCH: band.watch, Severity.ACT: band.act, Severity.URGENT: band.urgent}
    order = [Severity.URGENT]
    if wanted is Severity.ACT:
        order = [Severity.ACT, Severity.URGENT, Severity.WATCH]
    for severity in order:
        bound = bounds[severity]
        if bound is not None:
            return Target(
                analyte=series.analyte,
                column=list(numbers).index(series.analyte.number),
                turn=turn,
                bound=bound,
                severity=severity,
                is_signed=drift == 0.0,
                is_past=_reached(series, bound, band),
            )
    return None


def _reached(series: AnalyteSeries, bound: float | None, band: LimitBand) -> bool:
    """Whether the last value that was measured stands at a bound or beyond."""
    told = np.flatnonzero(series.signs <= Sign.ABOVE)
    if bound is None or not len(told):
        return False
    last, sign = float(series.values[told[-1]]), Sign(int(series.signs[told[-1]]))
    up = band.direction == "up"
    if sign is Sign.BELOW:
        return not up and last <= bound
    if sign is Sign.ABOVE:
        return up and last >= bound
    return last >= bound if up else last <= bound
