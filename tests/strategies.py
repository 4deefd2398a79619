"""Hypothesis strategies: limits, groups of limits, samples and new-fluid references."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from hypothesis import strategies as st
from numpy.typing import NDArray

from fluiddesk.domain.analytes import Analyte
from fluiddesk.domain.limits.limit_set import Box, Limit, LimitKind, Scope
from fluiddesk.domain.samples import SampleColumns, Sign
from fluiddesk.domain.severity import Trust
from tests.makers import make_analyte, make_box, make_columns, make_limit

ANALYTES: dict[str, Analyte] = {
    "iron": make_analyte("iron", number=1),
    "copper": make_analyte("copper", number=2, decimals=1),
    "viscosity": make_analyte("viscosity", number=4, decimals=2, unit="mm2/s", harmful="both"),
    "freeze_point": make_analyte("freeze_point", number=9, unit="C"),
}
NUMBERS = tuple(analyte.number for analyte in ANALYTES.values())

# Coarse steps, so that values meet bounds often, and both sides of zero.
figures = st.integers(-40, 240).map(lambda half: half / 2)


@st.composite
def limits(draw: st.DrawFn, group: str | None = None) -> Limit:
    """A limit that contradicts itself nowhere, of a kind that is judged, for the whole fleet."""
    direction = draw(st.sampled_from(["up", "down"]))
    steps = draw(st.lists(figures, min_size=3, max_size=3, unique=True))
    ordered: list[float | None] = [*sorted(steps, reverse=direction == "down")]
    given = draw(st.sampled_from([(0,), (1,), (2,), (0, 1), (0, 2), (1, 2), (0, 1, 2)]))
    return make_limit(
        draw(st.sampled_from(sorted(ANALYTES))),
        [bound if place in given else None for place, bound in enumerate(ordered)],
        kind=draw(st.sampled_from([LimitKind.LEVEL, LimitKind.CHANGE, LimitKind.CHANGE_PERCENT])),
        direction=direction,
        boundary=draw(st.sampled_from(["at", "beyond"])),
        group=draw(st.sampled_from(["", "wear"])) if group is None else group,
        act_needs=draw(st.integers(1, 3)),
        urgent_needs=draw(st.integers(1, 3)),
    )


def limit_lists(min_size: int = 0) -> st.SearchStrategy[list[Limit]]:
    """Limits that can hold for one box together: no two rivals."""
    return st.lists(limits(), min_size=min_size, max_size=6, unique_by=lambda limit: limit.key)


@st.composite
def sample_columns(
    draw: st.DrawFn, signs: Sequence[Sign] = tuple(Sign), min_size: int = 0
) -> SampleColumns:
    """Up to six samples of the four analytes, with every sign, trust and reference."""
    n = draw(st.integers(min_size, 6))
    many = {"min_size": n, "max_size": n}
    cells = draw(
        st.lists(st.tuples(figures, st.sampled_from(signs)), min_size=4 * n, max_size=4 * n)
    )
    return make_columns(
        [value if sign.has_number else _shown(sign) for value, sign in cells],
        analytes=NUMBERS,
        signs=[sign for _, sign in cells],
        trust=draw(st.lists(st.sampled_from(Trust), **many)),
        reference=draw(st.lists(st.integers(-1, 2), **many)),
    )


def _shown(sign: Sign) -> float:
    return {Sign.ABSENT: 0.0, Sign.PRESENT: 1.0}.get(sign, float("nan"))


@st.composite
def references(draw: st.DrawFn) -> NDArray[np.float64]:
    """Three new fluids; any value may be unknown or 0."""
    known = figures | st.just(0.0) | st.just(float("nan"))
    values = draw(st.lists(known, min_size=12, max_size=12))
    return np.array(values).reshape(3, 4)


BOX = make_box()
OTHER_BOXES = [
    make_box(compartment="0b" * 16),
    make_box(model="truck 60 t", compartment="0c" * 16),
    make_box(compartment_kind="hydraulic", fluid_class="hydraulic_zinc", compartment="0d" * 16),
    make_box(machine_kind="loader", model="loader 20 t", compartment="0e" * 16),
]
BOXES: list[Box] = [BOX, *OTHER_BOXES]

scopes = st.builds(
    Scope,
    machine_kind=st.sampled_from(["", "haul_truck", "loader"]),
    model=st.sampled_from(["", "truck 40 t", "truck 60 t"]),
    compartment_kind=st.sampled_from(["", "engine", "hydraulic"]),
    compartment=st.sampled_from(["", BOX.compartment]),
    fluid_class=st.sampled_from(["", "engine_oil"]),
)


@st.composite
def scoped_limits(draw: st.DrawFn) -> Limit:
    """A limit for any scope, now and then switched off."""
    return replace(
        draw(limits()), scope=draw(scopes), is_off=draw(st.sampled_from([False, False, True]))
    )
