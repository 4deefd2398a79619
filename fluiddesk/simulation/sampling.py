"""How the fluid got into the bottle, and what went wrong on the way."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.samples import DrawMethod
from fluiddesk.simulation.families import METALS, OIL_STATES
from fluiddesk.simulation.plan import BoxName, ErrorRates
from fluiddesk.simulation.roster import Roster
from fluiddesk.simulation.run import FamilyTrace

IntArray = NDArray[np.int64]

DRAW_METHODS: Final = tuple(DrawMethod)
"""The methods in the order of the numbers kept in columns."""
_VALVE: Final = DRAW_METHODS.index(DrawMethod.VALVE_PROBE)
_TUBE: Final = DRAW_METHODS.index(DrawMethod.VACUUM_TUBE)
_DRAIN: Final = DRAW_METHODS.index(DrawMethod.DRAIN_STREAM)
_WITH_VALVE: Final = frozenset({"engine", "hydraulic", "transmission"})
_UNMIXED_FAMILIES: Final = frozenset({"differential", "final_drive", "swing_drive"})
_SETTLES: Final = METALS | {"silicon", "particles_4um"}


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueSwap:
    """Two bottles of one visit that changed places, as rows (family, row)."""

    first: tuple[str, int]
    second: tuple[str, int]


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """How the samples of one family were drawn, and the truth about spoiled ones."""

    method: NDArray[np.int8]
    spoiled: dict[str, IntArray]
    """Rows by error: drained, cold, unmixed, dirty_bottle."""


def draw(trace: FamilyTrace, rates: ErrorRates, rng: np.random.Generator) -> Drawn:
    """Spoil some samples in place: drained first oil, cold, unmixed, a dirty bottle."""
    family, states = trace.family, trace.states
    usual = _VALVE if family.name in _WITH_VALVE else _TUBE
    method = np.full(len(states), usual, dtype=np.int8)
    spoiled: dict[str, IntArray] = {}
    if family.states == OIL_STATES:
        settles = np.flatnonzero(family.mask(frozenset(_SETTLES)))
        for name, share, low, high in (
            ("drained", rates.drained, 1.6, 3.0),
            ("cold", rates.cold, 0.4, 0.85),
            ("unmixed", rates.unmixed * (family.name in _UNMIXED_FAMILIES), 0.25, 0.6),
        ):
            rows = np.flatnonzero(rng.random(len(states)) < share)
            factor = rng.uniform(low, high, size=(len(rows), 1)).astype(np.float32)
            states[np.ix_(rows, settles)] *= factor
            spoiled[name] = rows
        method[spoiled["drained"][::2]] = _DRAIN
        rows = np.flatnonzero(rng.random(len(states)) < rates.dirty_bottle)
        states[rows, family.place("silicon")] += rng.uniform(8, 25, size=len(rows))
        states[rows, family.place("sodium")] += rng.uniform(8, 30, size=len(rows))
        spoiled["dirty_bottle"] = rows
    return Drawn(method=method, spoiled=spoiled)


def swap_twins(
    trace: FamilyTrace, roster: Roster, share: float, rng: np.random.Generator
) -> list[TrueSwap]:
    """Exchange the bottles of two like boxes of one visit, in a share of such visits, in place."""
    machine = roster.box_machine[trace.compartment]
    order = np.lexsort((trace.compartment, trace.visit, machine))
    first, second = order[:-1], order[1:]
    twin = (machine[first] == machine[second]) & (trace.visit[first] == trace.visit[second])
    chosen = np.flatnonzero(twin & (rng.random(len(twin)) < share))
    apart = np.ones(len(chosen), dtype=np.bool_)
    apart[1:] = np.diff(chosen) > 1
    pairs = chosen[apart]
    a, b = order[pairs], order[pairs + 1]
    trace.states[a], trace.states[b] = trace.states[b], trace.states[a]
    name = trace.family.name
    return [
        TrueSwap(first=(name, i), second=(name, j))
        for i, j in zip(a.tolist(), b.tolist(), strict=True)
    ]


def swap_named(
    traces: dict[str, FamilyTrace], roster: Roster, first: BoxName, second: BoxName, day: int
) -> TrueSwap:
    """Exchange two bottles of one visit, the last up to a day, also between families of oil boxes.

    Raises:
        LookupError: when the two boxes were never sampled together by then.
    """
    places = []
    for name in (first, second):
        box = roster.box(name)
        family = roster.compartments[box].family
        trace = traces[family]
        rows = np.flatnonzero((trace.compartment == box) & (trace.day <= day))
        places.append((family, dict(zip(trace.visit[rows].tolist(), rows.tolist(), strict=True))))
    (family_a, rows_a), (family_b, rows_b) = places
    common = sorted(set(rows_a) & set(rows_b))
    if not common:
        raise LookupError(f"{first.machine}: {first.kind} and {second.kind} share no visit")
    a, b = rows_a[common[-1]], rows_b[common[-1]]
    one, other = traces[family_a].states, traces[family_b].states
    kept = one[a].copy()
    one[a] = other[b]
    other[b] = kept
    return TrueSwap(first=(family_a, a), second=(family_b, b))
