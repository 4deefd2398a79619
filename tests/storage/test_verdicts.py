"""Verdicts kept apart from the histories they belong to."""

from dataclasses import replace

import numpy as np

from fluiddesk.storage import unpack_fleet, with_verdicts
from fluiddesk.storage.blocks import pack
from fluiddesk.storage.verdicts import fits, pack_verdicts
from tests.makers import make_columns


def columns(values, **given):
    return make_columns(values, severity=[0] * len(values), **given)


def judged(group, severity, digest):
    return replace(
        group,
        severity=np.array(severity, dtype=np.int8),
        digest=np.array(digest, dtype=np.uint64),
    )


def test_that_verdicts_are_read_as_they_were_written():
    group = columns([1.0, 2.0, 3.0])
    blob = pack_verdicts(judged(group, [3, -1, 2], [7, 2**63, 9]))
    [found] = with_verdicts([group], [blob])
    assert found.severity.tolist() == [3, -1, 2]
    assert found.digest.tolist() == [7, 2**63, 9]
    assert found.values is group.values


def test_that_each_box_gets_its_own_and_one_without_keeps_those_of_its_history():
    first, second = columns([1.0, 2.0]), columns([3.0])
    second = replace(second, sample_id=second.sample_id + np.uint8(7))
    groups = unpack_fleet([pack(judged(first, [1, 1], [5, 6])), pack(judged(second, [1], [8]))])
    blob = pack_verdicts(judged(second, [3], [9]))
    [found] = with_verdicts(groups, [None, blob])
    assert found.severity.tolist() == [1, 1, 3]
    assert found.digest.tolist() == [5, 6, 9]


def test_that_verdicts_of_other_samples_or_damaged_ones_count_for_nothing():
    group = judged(columns([1.0, 2.0]), [1, 2], [5, 6])
    blob = pack_verdicts(judged(group, [3, 3], [0, 0]))
    other = replace(group, sample_id=group.sample_id[::-1].copy())
    for history, verdicts in ((other, blob), (group, blob[:-1]), (group, b""), (group, b"x" * 40)):
        assert not fits(history, verdicts)
        assert with_verdicts([history], [verdicts])[0].severity.tolist() == [1, 2]
    assert fits(group, blob)


def test_that_no_samples_have_no_verdicts():
    empty = columns([])
    assert len(with_verdicts([empty], [pack_verdicts(empty)])[0]) == 0
