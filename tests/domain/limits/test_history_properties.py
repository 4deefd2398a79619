"""What holds for every set of limits and every history of boxes, all combining rules on."""

from dataclasses import replace

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.limits.combining import Companions, Pattern
from fluiddesk.domain.limits.limit_set import LimitKind, Scope, limits_in_force
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.severity import Severity, Trust
from tests.makers import judge_history, make_context
from tests.strategies import (
    ANALYTES,
    BOX,
    BOXES,
    limit_lists,
    references,
    sample_columns,
    scoped_limits,
)

PLAIN_KINDS = (LimitKind.LEVEL, LimitKind.CHANGE, LimitKind.CHANGE_PERCENT, LimitKind.PERCENTILE)
EVERY_SIGN = st.sampled_from(
    [(code, direction) for code in sorted(ANALYTES) for direction in ("up", "down")]
)


@st.composite
def companions(draw: st.DrawFn) -> Companions:
    """Up to three patterns, and some analytes that tell of an unsafe fluid or leave with it."""
    signs = st.lists(EVERY_SIGN, min_size=2, max_size=4, unique=True).map(tuple)
    some = st.frozensets(st.sampled_from(sorted(ANALYTES)), max_size=2)
    patterns = [
        Pattern(code=str(place), name="", groups=(), signs=one, source="invented for a test")
        for place, one in enumerate(draw(st.lists(signs, max_size=3)))
    ]
    return Companions(
        patterns=tuple(patterns),
        unsafe_fluid=draw(some),
        fluid_clears=draw(some),
        group_of={},
    )


@st.composite
def histories(draw: st.DrawFn):
    """Up to six samples of one or two boxes with fills, repairs and run-in, and their context."""
    columns = draw(sample_columns())
    n = len(columns)
    many = {"min_size": n, "max_size": n}
    small = st.integers(0, 1)
    columns = replace(
        columns,
        compartment=np.sort(np.array(draw(st.lists(small, **many)), dtype=np.int32)),
        fill=np.cumsum(np.array(draw(st.lists(small, **many)), dtype=np.int32), dtype=np.int32),
        taken_on=np.arange(100, 100 + n, dtype=np.int32),
        fluid_hours=np.array(draw(st.lists(st.sampled_from([20.0, 130.0, 250.0]), **many))),
    )
    repaired = np.array(draw(st.lists(st.integers(98, 106), **many)), dtype=np.int32)
    context = make_context(
        columns,
        repaired_on=np.minimum(repaired, columns.taken_on) * (repaired % 2),
        interval_hours=np.full(n, 250.0),
        fills_since_fit=np.array(draw(st.lists(st.integers(-1, 3), **many)), dtype=np.int8),
    )
    return columns, context


@st.composite
def mixed_limits(draw: st.DrawFn):
    """Limits of one box: no two rivals, of kinds that a value by itself decides."""
    chosen = draw(limit_lists(min_size=1))
    kinds = draw(st.lists(st.sampled_from(PLAIN_KINDS), min_size=6, max_size=6))
    turned = [replace(one, kind=kind) for one, kind in zip(chosen, kinds, strict=False)]
    return list({one.key: one for one in turned}.values())


def judged(history, chosen, new, beside):
    columns, context = history
    return judge_history(
        columns, chosen, ANALYTES, references=new, context=context, companions=beside
    )


def tightened(limit, by):
    step = -by / 2 if limit.direction == "up" else by / 2
    return replace(
        limit,
        **{
            name: None if (bound := getattr(limit, name)) is None else bound + step
            for name in ("watch", "act", "urgent")
        },
    )


@given(
    history=histories(),
    chosen=mixed_limits(),
    new=references(),
    beside=companions(),
    which=st.integers(0, 5),
    by=st.integers(1, 40),
)
def test_that_tightening_a_limit_never_lowers_a_severity(history, chosen, new, beside, which, by):
    which %= len(chosen)
    # Of "<50" a tighter limit may say nothing more: then nothing is known, and nothing is better.
    columns, context = history
    signs = np.where(
        (columns.signs == Sign.BELOW) | (columns.signs == Sign.ABOVE), Sign.PLAIN, columns.signs
    ).astype(np.uint8)
    history = (replace(columns, signs=signs), context)
    tight = tightened(chosen[which], by)
    before = judged(history, chosen, new, beside)
    after = judged(history, [*chosen[:which], tight, *chosen[which + 1 :]], new, beside)
    assert (after.severity >= before.severity).all()
    assert (after.bands >= before.bands).all()


@given(
    history=histories(),
    chosen=mixed_limits(),
    new=references(),
    beside=companions(),
    shuffle=st.randoms(use_true_random=False),
)
def test_that_the_order_of_limits_and_patterns_never_matters(history, chosen, new, beside, shuffle):
    mixed, patterns = list(chosen), list(beside.patterns)
    shuffle.shuffle(mixed)
    shuffle.shuffle(patterns)
    one = judged(history, chosen, new, beside)
    other = judged(history, mixed, new, replace(beside, patterns=tuple(patterns)))
    assert one.severity.tolist() == other.severity.tolist()
    assert one.digest.tolist() == other.digest.tolist()
    assert one.load.tolist() == other.load.tolist()


@given(history=histories(), chosen=mixed_limits(), new=references(), beside=companions())
def test_that_a_sample_is_never_better_than_a_believed_limit_alone_says(
    history, chosen, new, beside
):
    answer = judged(history, chosen, new, beside)
    good = history[0].trust == Trust.GOOD
    assert (answer.bands[good] >= answer.own[good]).all()


@given(history=histories(), chosen=mixed_limits(), new=references(), beside=companions())
def test_that_a_sample_in_doubt_raises_nothing_past_watch_but_an_unsafe_fluid(
    history, chosen, new, beside
):
    columns, context = history
    doubted = replace(columns, trust=np.full(len(columns), Trust.SUSPECT, dtype=np.int8))
    answer = judged((doubted, context), chosen, new, beside)
    capped = ~answer.columns.is_unsafe_fluid
    assert (answer.bands[:, capped] <= Severity.WATCH).all()


@given(chosen=st.lists(scoped_limits(), max_size=8), shuffle=st.randoms(use_true_random=False))
def test_that_the_order_of_rows_never_decides_which_limit_holds(chosen, shuffle):
    mixed = list(chosen)
    shuffle.shuffle(mixed)
    for box in BOXES:
        assert {repr(one) for one in limits_in_force(chosen, box)} == {
            repr(one) for one in limits_in_force(mixed, box)
        }


@given(chosen=st.lists(scoped_limits(), max_size=8), more=scoped_limits())
def test_that_a_row_for_a_single_box_changes_that_box_alone(chosen, more):
    row = replace(more, scope=Scope(compartment=BOX.compartment), is_off=False)
    for box in BOXES:
        before = limits_in_force(chosen, box)
        after = limits_in_force([*chosen, row], box)
        if box != BOX:
            assert after == before
        else:
            others = [one for one in after if one.key != row.key]
            assert others == [one for one in before if one.key != row.key]
