"""`forecasts`: keep those of now, tell how they fared."""

from fluiddesk.cli.output import Exit
from tests.cli.conftest import Run
from tests.fleets import Fleet


def test_that_forecasts_are_kept_and_their_score_is_told(run: Run, fleet: Fleet):
    empty = run("forecasts", "--database", fleet.address)
    assert empty.code == Exit.OK
    assert "fluiddesk forecasts keep" in empty.err
    told = run("forecasts", "keep", "--database", fleet.address, "--format", "json")
    assert told.code == Exit.OK
    assert "forecasts kept" in told.err
    assert sum(row["open"] for row in told.json) > 0
    assert {"kind", "inside", "median_error_hours", "sentence"} <= set(told.json[0])
    again = run("forecasts", "keep", "--database", fleet.address)
    assert " 0 forecasts kept" in again.err
