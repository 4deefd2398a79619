"""What fired on the last sample stands on its curve, whichever kind of limit it was."""

from dataclasses import replace

import numpy as np

from fluiddesk.domain.severity import Severity
from fluiddesk.services.compartment_history.series import with_reasons
from tests.desktop.makers_history import make_history


def test_that_a_reason_raises_the_last_value_of_its_curve_and_brings_it_first() -> None:
    history = make_history()
    reason = history.reasons[0]
    rule = reason.rule._replace(analyte="tin", severity=Severity.URGENT)
    found = with_reasons(history.series, [replace(reason, rule=rule)])
    assert found[0].analyte.code == "tin"
    assert found[0].severity[-1] == Severity.URGENT
    before = next(one for one in history.series if one.analyte.code == "tin")
    assert before.severity[-1] < Severity.URGENT
    assert np.array_equal(found[0].severity[:-1], before.severity[:-1])


def test_that_a_milder_reason_takes_nothing_back() -> None:
    history = make_history()
    iron = next(one for one in history.series if one.analyte.code == "iron")
    found = with_reasons(history.series, history.reasons)
    assert (
        next(one for one in found if one.analyte.code == "iron").severity[-1] == (iron.severity[-1])
    )
