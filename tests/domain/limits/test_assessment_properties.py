"""What holds for every set of limits and every column of samples."""

from dataclasses import replace

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st

from fluiddesk.domain.limits.assessment import assess
from fluiddesk.domain.limits.combining import Why
from fluiddesk.domain.limits.limit_set import LimitKind, check_limit
from fluiddesk.domain.limits.limit_table import limit_table
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.reassess.judging import rows_of
from tests.makers import make_columns
from tests.strategies import (
    ANALYTES,
    NUMBERS,
    figures,
    limit_lists,
    limits,
    references,
    sample_columns,
)


def judged(columns, chosen, new):
    table = limit_table(chosen, analytes=ANALYTES, numbers=NUMBERS)
    return assess(columns, table, references=new)


@given(
    columns=sample_columns(),
    chosen=limit_lists(min_size=1),
    new=references(),
    which=st.integers(0, 5),
    by=st.integers(1, 40),
)
def test_that_tightening_a_limit_never_lowers_a_severity(columns, chosen, new, which, by):
    which %= len(chosen)
    loose = chosen[which]
    step = -by / 2 if loose.direction == "up" else by / 2
    tight = replace(
        loose,
        **{
            name: None if (bound := getattr(loose, name)) is None else bound + step
            for name in ("watch", "act", "urgent")
        },
    )
    before = judged(columns, chosen, new)
    after = judged(columns, [*chosen[:which], tight, *chosen[which + 1 :]], new)
    # A tighter limit may leave open what "<50" says of it; that is no better news.
    still_judged = after.bands[:, which] != Severity.NO_VERDICT
    assert (after.severity >= before.severity)[still_judged].all()
    assert (after.bands >= before.bands)[still_judged].all()


@given(
    columns=sample_columns(),
    chosen=limit_lists(),
    new=references(),
    shuffle=st.randoms(use_true_random=False),
)
def test_that_the_order_of_limits_never_matters(columns, chosen, new, shuffle):
    mixed = list(chosen)
    shuffle.shuffle(mixed)
    one, other = judged(columns, chosen, new), judged(columns, mixed, new)
    assert one.severity.tolist() == other.severity.tolist()
    assert one.digest.tolist() == other.digest.tolist()
    assert one.load.tolist() == other.load.tolist()


@given(columns=sample_columns(min_size=1), chosen=limit_lists(), new=references())
def test_that_a_sample_alone_is_judged_as_within_its_column(columns, chosen, new):
    together = judged(columns, chosen, new)
    for row in range(len(columns)):
        alone = judged(rows_of(columns, slice(row, row + 1)), chosen, new)
        for name in ("severity", "bands", "compared", "load", "digest"):
            part = getattr(together, name)[row : row + 1]
            assert np.array_equal(getattr(alone, name), part, equal_nan=name == "compared")


@given(value=figures, limit=limits(group=""), new=references())
def test_that_a_value_on_the_safe_side_of_a_figure_is_never_worse_than_it(value, limit, new):
    safe = Sign.BELOW if limit.direction == "up" else Sign.ABOVE
    row = [value] * 4
    plain, censored = (
        judged(make_columns([row], analytes=NUMBERS, signs=sign, reference=0), [limit], new)
        for sign in (Sign.PLAIN, safe)
    )
    # In percent of a new fluid below zero, such as a freezing point, the sides change places.
    assume(limit.kind is not LimitKind.CHANGE_PERCENT or not (new[0] < 0).any())
    assert censored.severity[0] <= plain.severity[0]


@given(columns=sample_columns(), chosen=limit_lists(), new=references())
def test_that_there_is_no_verdict_only_where_nothing_was_judged(columns, chosen, new):
    answer = judged(columns, chosen, new)
    nothing = (answer.bands == Severity.NO_VERDICT).all(axis=1)
    assert (answer.severity == Severity.NO_VERDICT).tolist() == nothing.tolist()
    assert (answer.load[nothing] == 0).all()


@given(columns=sample_columns(min_size=2), chosen=limit_lists(min_size=1), new=references())
def test_that_digests_are_equal_exactly_where_severity_and_fired_bands_are(columns, chosen, new):
    answer = judged(columns, chosen, new)
    said = [
        (severity, *np.maximum(bands, Severity.NORMAL).tolist(), *(why & Why.CAPPED).tolist())
        for severity, bands, why in zip(
            answer.severity.tolist(), answer.bands, answer.why, strict=True
        )
    ]
    for first in range(len(columns)):
        for second in range(len(columns)):
            same = answer.digest[first] == answer.digest[second]
            assert same == (said[first] == said[second])


@given(
    columns=sample_columns(signs=(Sign.PLAIN,), min_size=1),
    limit=limits(group=""),
    new=references(),
)
def test_that_a_load_of_one_or_more_means_act_or_worse(columns, limit, new):
    limit = replace(limit, boundary="at")
    assume(limit.act is not None)
    answer = judged(columns, [limit], new)
    believed = (answer.severity != Severity.NO_VERDICT) & (columns.trust == Trust.GOOD)
    acting = answer.severity[believed] >= Severity.ACT
    assert acting.tolist() == (answer.load[believed] >= 1).tolist()


@given(limit=limits())
def test_that_the_limits_of_these_properties_contradict_themselves_nowhere(limit):
    check_limit(limit)
