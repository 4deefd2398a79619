"""Judging many boxes in columns says what judging each alone would say."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.errors import CancelledError
from fluiddesk.domain.limits.assessment import assess, reference_matrix
from fluiddesk.domain.limits.limit_set import LimitSetState, Scope, limits_in_force, set_in_force
from fluiddesk.domain.limits.limit_table import limit_table
from fluiddesk.domain.severity import Severity
from fluiddesk.services.reassess import judging
from fluiddesk.services.reassess.judging import (
    Rulebook,
    box_profiles,
    judge,
    rows_of,
)
from tests.makers import make_analyte, make_box, make_columns, make_limit, make_set
from tests.strategies import ANALYTES, BOXES, NUMBERS, sample_columns, scoped_limits

DAY = date(2025, 1, 1)
IRON = {"iron": make_analyte("iron")}


def rulebook(*sets, references=None, analytes=IRON):
    return Rulebook(sets=sets, analytes=analytes, references=references or {})


def verdicts(groups, rules, boxes=(BOXES[0],), progress=None):
    profile, kinds = box_profiles(boxes, rules)
    return list(judge(groups, profile=profile, kinds=kinds, rulebook=rules, progress=progress))


def days(*offsets):
    return [(DAY + timedelta(offset)).toordinal() for offset in offsets]


def test_that_every_sample_is_judged_by_the_set_of_its_own_day():
    old = make_set([make_limit()], 1, valid_until=DAY, state=LimitSetState.RETIRED)
    strict = make_set([make_limit(bounds=(5, 10, 15))], 2, valid_from=DAY)
    columns = make_columns([20.0] * 4, taken_on=[*days(-1, 0, 1), days(-2_000)[0]])
    [found] = verdicts([columns], rulebook(strict, old))
    assert found.severity.tolist() == [
        Severity.NORMAL, Severity.URGENT, Severity.URGENT, Severity.NO_VERDICT,
    ]  # fmt: skip
    assert found.limit_set.tolist() == [1, 2, 2, 0]


def test_that_a_set_that_ran_out_gives_way_to_the_one_that_still_holds():
    standing = make_set([make_limit()], 1)
    trial = make_set([make_limit(bounds=(5, 10, 15))], 2, valid_from=DAY,
                     valid_until=DAY + timedelta(30))  # fmt: skip
    columns = make_columns([20.0] * 3, taken_on=days(-1, 29, 30))
    [found] = verdicts([columns], rulebook(standing, trial))
    assert found.limit_set.tolist() == [1, 2, 1]


def test_that_after_the_last_set_ran_out_there_is_no_verdict():
    ended = make_set([make_limit()], 1, valid_until=DAY)
    [found] = verdicts([make_columns([500.0], taken_on=days(0))], rulebook(ended))
    assert (found.severity.tolist(), found.digest.tolist()) == ([-1], [0])


def test_that_a_draft_judges_nothing():
    draft = make_set([make_limit(bounds=(1, 2, 3))], 2, state=LimitSetState.DRAFT)
    columns = make_columns([20.0])
    [found] = verdicts([columns], rulebook(make_set([make_limit()], 1), draft))
    assert (found.severity.tolist(), found.limit_set.tolist()) == ([Severity.NORMAL], [1])
    [alone] = verdicts([columns], rulebook(draft))
    assert alone.severity.tolist() == [Severity.NO_VERDICT]


def test_that_a_group_without_samples_has_no_verdicts():
    [found] = verdicts([make_columns([])], rulebook(make_set([make_limit()])))
    assert len(found.severity) == 0


def test_that_boxes_of_one_kind_share_a_profile_unless_a_limit_names_one_of_them():
    twins = [make_box(compartment=f"{number:032x}") for number in (1, 2, 3)]
    plain, kinds = box_profiles(twins, rulebook(make_set([make_limit()])))
    assert (plain.tolist(), len(kinds)) == ([0, 0, 0], 1)
    single = make_limit(scope=Scope(compartment=twins[1].compartment))
    named, kinds = box_profiles(twins, rulebook(make_set([make_limit(), single])))
    assert (named.tolist(), kinds) == ([0, 1, 0], [twins[0], twins[1]])
    drafted = rulebook(make_set([single], state=LimitSetState.DRAFT))
    assert box_profiles(twins, drafted)[0].tolist() == [0, 0, 0]


def test_that_a_verdict_counts_as_changed_when_it_differs_from_the_stored_one():
    rules = rulebook(make_set([make_limit()]))
    columns = make_columns([20.0, 120.0])
    [first] = verdicts([columns], rules)
    assert first.changed.tolist() == [True, True]
    stored = replace(columns, severity=first.severity, digest=first.digest)
    [again] = verdicts([stored], rules)
    assert again.changed.tolist() == [False, False]
    assert again.reasons == {}


def test_that_reasons_are_told_of_changed_verdicts_past_a_limit_alone():
    [found] = verdicts([make_columns([20.0, 120.0])], rulebook(make_set([make_limit()])))
    [(row, [rule])] = found.reasons.items()
    assert (row, rule.value, rule.bound) == (1, 120.0, 100.0)


def test_that_reasons_stand_at_the_row_of_their_sample_in_the_whole_group():
    old = make_set([make_limit()], 1, valid_until=DAY)
    strict = make_set([make_limit(bounds=(5, 10, 15))], 2, valid_from=DAY)
    columns = make_columns(
        [20.0, 120.0, 1.0, 20.0], taken_on=days(-2, -1, 0, 1), compartment=[0, 0, 1, 1]
    )
    [found] = verdicts([columns], rulebook(old, strict), [BOXES[0], BOXES[0]])
    assert {row: rules[0].value for row, rules in found.reasons.items()} == {1: 120.0, 3: 20.0}


def test_that_progress_is_told_after_each_group():
    told = []
    groups = [make_columns([1.0, 2.0]), make_columns([3.0])]
    verdicts(groups, rulebook(make_set([make_limit()])), progress=lambda *at: not told.append(at))
    assert told == [(2, 3), (3, 3)]


def test_that_stopping_raises_and_judges_no_further_group():
    groups = [make_columns([1.0]), make_columns([2.0])]
    rules = rulebook(make_set([make_limit()]))
    profile, kinds = box_profiles(BOXES[:1], rules)
    running = judge(groups, profile=profile, kinds=kinds, rulebook=rules, progress=lambda *_: False)
    assert next(running).columns is groups[0]
    with pytest.raises(CancelledError, match="nothing has changed"):
        next(running)


def test_that_a_slice_of_rows_copies_nothing_and_a_choice_keeps_its_order():
    columns = make_columns([1.0, 2.0, 3.0], compartment=[4, 5, 6])
    assert np.shares_memory(rows_of(columns, slice(1, 3)).values, columns.values)
    picked = rows_of(columns, np.array([True, False, True]))
    assert (picked.compartment.tolist(), picked.values[:, 0].tolist()) == ([4, 6], [1.0, 3.0])


sets = st.lists(
    st.builds(
        lambda limits, start, length, draft: (limits, start, length, draft),
        st.lists(scoped_limits(), max_size=4),
        st.integers(0, 6),
        st.none() | st.integers(1, 6),
        st.booleans(),
    ),
    max_size=4,
).map(
    lambda drawn: [
        make_set(
            limits,
            number,
            valid_from=DAY + timedelta(start),
            valid_until=None if length is None else DAY + timedelta(start + length),
            state=LimitSetState.DRAFT if draft else LimitSetState.IN_FORCE,
        )
        for number, (limits, start, length, draft) in enumerate(drawn, start=1)
    ]
)
REFERENCES = {0: {1: 5.0, 4: 14.5}, 2: {2: 0.0, 9: -37.0}}


@given(
    columns=sample_columns(min_size=1),
    chosen=sets,
    boxes=st.lists(st.integers(0, len(BOXES) - 1), min_size=6, max_size=6),
    offsets=st.lists(st.integers(-1, 14), min_size=6, max_size=6),
    chunk=st.integers(1, 4),
)
def test_that_the_fleet_is_judged_as_each_sample_alone(columns, chosen, boxes, offsets, chunk):
    n = len(columns)
    columns = replace(
        columns,
        compartment=np.array(boxes[:n], dtype=np.int32),
        taken_on=np.array(days(*offsets[:n]), dtype=np.int32),
    )
    rules = rulebook(*chosen, references=REFERENCES, analytes=ANALYTES)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(judging, "CHUNK", chunk)
        [found] = verdicts([columns], rules, boxes=BOXES)
    [whole] = verdicts([columns], rules, boxes=BOXES)
    assert found.reasons == whole.reasons
    for row in range(n):
        held = set_in_force(chosen, DAY + timedelta(offsets[row]))
        expected = _alone(columns, row, held, rules)
        said = (found.severity[row], found.digest[row], found.load[row], found.limit_set[row])
        assert said == expected
        assert said == (
            whole.severity[row], whole.digest[row], whole.load[row], whole.limit_set[row],
        )  # fmt: skip


def _alone(columns, row, held, rules):
    if held is None:
        return (Severity.NO_VERDICT, 0, 0.0, 0)
    limits = limits_in_force(held.limits, BOXES[columns.compartment[row]])
    judged = assess(
        rows_of(columns, slice(row, row + 1)),
        limit_table(limits, analytes=rules.analytes, numbers=NUMBERS),
        references=reference_matrix(rules.references, numbers=NUMBERS),
    )
    return (judged.severity[0], judged.digest[0], judged.load[0], held.number)
