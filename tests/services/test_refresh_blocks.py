"""Packed histories after a change of readings: unchanged samples keep their verdicts."""

from dataclasses import replace

import numpy as np

from fluiddesk.domain.samples import Sign
from fluiddesk.services.reassess.blocks import refresh_blocks, with_known_verdicts
from tests.fleets import NOW, Fleet, differing_tables
from tests.makers import make_columns

JUDGED = {"severity": [0, 1, 2], "digest": [11, 22, 33]}


def judged(values, **given):
    return make_columns(values, **(JUDGED | given))


def unjudged(values, **given):
    return make_columns(values, severity=-1, digest=0, **given)


def kept(fresh, before):
    columns = with_known_verdicts(fresh, before)
    return columns.severity.tolist(), columns.digest.tolist()


def test_that_an_unchanged_sample_keeps_its_verdict():
    assert kept(unjudged([5, 6, 7]), judged([5, 6, 7])) == ([0, 1, 2], [11, 22, 33])


def test_that_a_changed_value_loses_its_verdict_alone():
    assert kept(unjudged([5, 60, 7]), judged([5, 6, 7])) == ([0, -1, 2], [11, 0, 33])


def test_that_a_changed_sign_loses_its_verdict():
    fresh = unjudged([5, 6, 7], signs=[[Sign.PLAIN], [Sign.BELOW], [Sign.PLAIN]])
    assert kept(fresh, judged([5, 6, 7])) == ([0, -1, 2], [11, 0, 33])


def test_that_another_trust_day_fill_or_reference_loses_the_verdict():
    before = judged([5, 6, 7])
    for name, value in (("trust", 2), ("taken_on", 700_000), ("fill", 3), ("reference", 4)):
        fresh = unjudged([5, 6, 7])
        changed = getattr(fresh, name).copy()
        changed[1] = value
        assert kept(replace(fresh, **{name: changed}), before)[0] == [0, -1, 2], name


def test_that_samples_are_known_by_their_identifier_not_their_place():
    before = judged([5, 6, 7])
    fresh = unjudged([7, 5, 6])
    turned = replace(fresh, sample_id=np.roll(before.sample_id, 1, axis=0))
    assert kept(turned, before) == ([2, 0, 1], [33, 11, 22])


def test_that_an_analyte_tested_nowhere_before_is_no_change_where_it_is_not_tested_now():
    wider = unjudged([[5, np.nan], [6, 40], [7, np.nan]], analytes=(1, 9))
    assert kept(wider, judged([5, 6, 7])) == ([0, -1, 2], [11, 0, 33])


def test_that_an_analyte_that_is_gone_loses_the_verdict_of_those_that_had_it():
    before = judged([[5, np.nan], [6, 40], [7, np.nan]], analytes=(1, 9))
    assert kept(unjudged([5, 6, 7]), before) == ([0, -1, 2], [11, 0, 33])


def test_that_a_history_without_samples_gives_nothing():
    assert kept(unjudged([]), judged([5, 6, 7])) == ([], [])
    assert kept(unjudged([5, 6, 7]), judged([], severity=[], digest=[])) == ([-1] * 3, [0] * 3)


def test_that_building_every_history_anew_from_its_readings_changes_none(fleet: Fleet):
    before = fleet.dump()
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        refresh_blocks(desk, [box.compartment_id for box in fleet.boxes()])
    assert differing_tables(before, fleet.dump()) == set()
