from dataclasses import replace
from datetime import date

import pytest

from fluiddesk.desktop.viewstate.planned_change import change_text
from fluiddesk.domain.sampling.due import DueState
from fluiddesk.services.compartment_history.facts import ChangeFacts, DueFacts

TODAY = date(2026, 11, 20)
DUE = DueFacts(
    state=DueState.NOT_YET,
    due_on=date(2026, 12, 2),
    window=None,
    hours_left=132.0,
    by_hours=True,
    interval="250 h or 90 days",
)
AT_HOURS = ChangeFacts(
    planned_on=date(2026, 12, 9),
    at_hours=12_500.0,
    hours_left=190.0,
    when="at 12,500 h",
    window_from=date(2026, 12, 7),
    is_sampled=False,
)
ON_A_DAY = replace(AT_HOURS, at_hours=None, hours_left=None, when="on 2026-12-09")


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (None, ""),
        (AT_HOURS, "Next fluid change planned at 12,500 h, about 2026-12-09"),
        (ON_A_DAY, "Next fluid change planned on 2026-12-09"),
        (
            replace(ON_A_DAY, is_sampled=True),
            "Next fluid change planned on 2026-12-09; sample before it drawn",
        ),
        (
            replace(AT_HOURS, planned_on=date(2026, 11, 1)),
            "Fluid change was planned at 12,500 h, about 2026-11-01",
        ),
        (replace(AT_HOURS, sets_due=True), ""),
    ],
)
def test_that_the_next_planned_change_is_told_once(change: ChangeFacts | None, told: str) -> None:
    assert change_text(replace(DUE, next_change=change), today=TODAY) == told
