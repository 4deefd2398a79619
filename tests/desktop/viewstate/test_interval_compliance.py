"""Compliance as lines, and the due events behind each."""

import csv
from pathlib import Path

import pytest

from fluiddesk.desktop.viewstate.interval_compliance import (
    ComplianceShown,
    EventPart,
    Period,
    Wanted,
    compliance_shown,
    counts_of,
    event_cells,
    events_of,
    table_cells,
    write_csv,
)
from fluiddesk.desktop.viewstate.sampling_calls import SamplingCalls
from fluiddesk.domain.errors import CannotWriteError
from fluiddesk.domain.sampling.outcome import Outcome
from fluiddesk.services.interval_compliance.facts import GroupBy
from tests.fleets import LAST_DAY, Fleet


def shown(fleet: Fleet, wanted: Wanted) -> ComplianceShown:
    events = SamplingCalls(place=fleet.place).events(today=LAST_DAY)
    return compliance_shown(events, fleet.place.catalogue, wanted, today=LAST_DAY)


@pytest.mark.parametrize("by", list(GroupBy))
def test_that_every_line_opens_to_as_many_events_as_it_counts(fleet: Fleet, by: GroupBy) -> None:
    found = shown(fleet, Wanted(by=by))
    assert found.table.total.due == len(found.events)
    for line in found.table.lines:
        assert len(events_of(found, line.group, EventPart.ALL)) == line.measures.due
        excused = events_of(found, line.group, EventPart.EXCUSED)
        assert len(excused) == line.measures.excused
        counts = counts_of(found, line.group)
        for part in EventPart:
            assert counts[part] == len(events_of(found, line.group, part))


def test_that_what_was_not_on_time_is_listed_with_its_outcome(fleet: Fleet) -> None:
    found = shown(fleet, Wanted(period=Period.TWO_YEARS))
    wrong = events_of(found, "", EventPart.NOT_ON_TIME)
    assert wrong
    assert Outcome.ON_TIME not in {line.outcome for line in wrong}
    assert event_cells(wrong[0])[0] == wrong[0].outcome.word
    assert table_cells(found.table)[0][0] == b""


def test_that_the_trend_holds_two_years_of_months(fleet: Fleet) -> None:
    months = [one.month for one in shown(fleet, Wanted(period=Period.MONTH)).months]
    assert months == sorted(months)
    assert months[-1] == f"{LAST_DAY:%Y-%m}"
    assert len(months) <= 24


def test_that_lines_are_written_as_csv(fleet: Fleet, tmp_path: Path) -> None:
    found = shown(fleet, Wanted())
    path = tmp_path / "compliance.csv"
    write_csv(["Group"], [cells for _, cells in table_cells(found.table)], path)
    rows = list(csv.reader(path.read_text(encoding="utf-8").splitlines()))
    assert rows[0] == ["Group"]
    assert rows[1][:2] == ["All", str(found.table.total.due)]
    with pytest.raises(CannotWriteError, match="cannot be written"):
        write_csv([], [], tmp_path / "nowhere" / "x.csv")
