import numpy as np
import pytest

from fluiddesk.domain.sampling.compliance import (
    RoutineSamples,
    Share,
    compliance,
    honoured,
    share_that,
)
from fluiddesk.domain.sampling.outcome import Outcome, OutcomeColumns
from fluiddesk.domain.sampling.turnaround import turnaround
from fluiddesk.domain.wear.inputs import WearInputError
from tests.domain.reference.reading import worked_examples

NO_SAMPLES = RoutineSamples(
    group=np.zeros(0, np.int64), taken_on=np.zeros(0, np.int64), is_early=np.zeros(0, bool)
)


def columns(*timings, lost=(), late_by=0.2):
    timing = np.array(timings, dtype=np.int8)
    outcome = timing.copy()
    outcome[list(lost)] = Outcome.UNUSABLE
    return OutcomeColumns(
        outcome=outcome, timing=timing, late_by=np.where(timing == Outcome.LATE, late_by, 0.0)
    )


def one_group(events, samples=NO_SAMPLES, closed_on=None, first_day=1, last_day=31):
    size = len(events.timing)
    found = compliance(
        events,
        samples,
        group=np.zeros(size, np.int64),
        groups=1,
        closed_on=np.full(size, 15) if closed_on is None else np.array(closed_on),
        first_day=first_day,
        last_day=last_day,
    )
    return found[0]


FORTY = columns(
    *[Outcome.EXCUSED] * 3, *[Outcome.ON_TIME] * 28, *[Outcome.LATE] * 5, *[Outcome.MISSED] * 4,
    lost=(10, 33),
)  # fmt: skip


@pytest.mark.parametrize("row", worked_examples("compliance"), ids=lambda row: row["id"])
def test_that_forty_due_events_give_the_shares_of_the_worked_example(row):
    found = one_group(FORTY)
    counts = (found.due, found.excused, found.on_time, found.late, found.missed, found.usable)
    assert counts == (40, 3, 28, 5, 4, 31)
    percent = getattr(found, row["measure"]).percent
    assert percent == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


def test_that_shares_are_told_in_words():
    found = one_group(FORTY)
    assert found.on_time_share.words == "76 % (28 of 37)"
    assert found.missed_share.words == "11 % (4 of 37)"
    assert found.mean_lateness_percent == pytest.approx(20.0)


def test_that_a_period_without_a_due_event_has_no_share():
    found = one_group(FORTY, first_day=100, last_day=130)
    assert found.due == 0
    assert found.on_time_share.percent is None
    assert found.mean_lateness_percent is None
    assert Share(count=0, of=0).words == "none owed"


def test_that_only_windows_that_closed_in_the_period_count():
    events = columns(Outcome.ON_TIME, Outcome.MISSED, Outcome.OPEN, Outcome.EARLY)
    found = one_group(events, closed_on=[0, 1, 31, 32])
    assert (found.due, found.missed, found.still_open, found.early) == (2, 1, 1, 0)


def test_that_sampling_early_to_look_good_shows():
    samples = RoutineSamples(
        group=np.zeros(4, np.int64),
        taken_on=np.array([2, 3, 4, 99]),
        is_early=np.array([True, False, False, True]),
    )
    found = one_group(columns(Outcome.EARLY, Outcome.ON_TIME), samples)
    assert found.early_samples == Share(count=1, of=3)
    assert found.on_time_share == Share(count=1, of=2)
    assert found.early == 1


def test_that_groups_do_not_mix():
    found = compliance(
        FORTY,
        NO_SAMPLES,
        group=np.where(np.arange(40) < 20, 0, 2),
        groups=3,
        closed_on=np.full(40, 15),
        first_day=1,
        last_day=31,
    )
    assert [one.due for one in found] == [20, 0, 20]
    assert sum(one.usable for one in found) == 31


def test_that_a_period_that_ends_before_it_begins_is_refused():
    with pytest.raises(WearInputError, match="ends before it begins"):
        one_group(FORTY, first_day=31, last_day=1)


def test_that_only_what_has_come_due_or_was_done_is_counted_as_honoured():
    found = honoured(
        due_on=np.array([10, 10, 10, 90]),
        done_on=np.array([10.0, 11.0, np.nan, 50.0]),
        today=60,
    )
    assert found == Share(count=2, of=4)
    assert share_that(np.array([True, False])) == Share(count=1, of=2)


def test_that_turnaround_counts_what_has_come():
    found = turnaround(left_at=np.array([0.0, 0.0, 0.0]), came_at=np.array([2.0, 4.0, np.nan]))
    assert (found.median_days, found.p90_days, found.samples) == (3.0, 3.8, 2)
    nothing = turnaround(left_at=np.zeros(1), came_at=np.array([np.nan]))
    assert (nothing.median_days, nothing.p90_days, nothing.samples) == (None, None, 0)
    with pytest.raises(WearInputError, match="Row 1: the sample came 1 days before it left"):
        turnaround(left_at=np.ones(1), came_at=np.zeros(1))
