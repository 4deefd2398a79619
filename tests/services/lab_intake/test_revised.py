"""A revised report shows what it says otherwise."""

from fluiddesk.domain.severity import Severity
from fluiddesk.services.lab_intake.facts import RowFate
from tests.fleets import Fleet, results


def test_that_a_revision_in_a_file_shows_each_value_that_changed(fleet: Fleet):
    code = fleet.draw(fleet.boxes("engine", Severity.NORMAL)[0], 1)
    fleet.take_in(fleet.lab_file("first.csv", results(code, iron=21, copper=3, lead="<1")))
    preview = fleet.preview(
        fleet.lab_file("second.csv", results(code, issue=2, iron=12, copper=3, tin=1))
    )
    [row] = preview.rows
    assert row.fate is RowFate.REVISION
    assert [one.line for one in row.revised] == [
        "Iron 12 mg/kg, was 21 mg/kg",
        "Lead not tested, was <1 mg/kg",
        "Tin 1 mg/kg, was not tested",
    ]


def test_that_a_first_report_has_nothing_revised(fleet: Fleet):
    code = fleet.draw(fleet.boxes("engine", Severity.NORMAL)[0], 1)
    [row] = fleet.preview(fleet.lab_file("first.csv", results(code, iron=21))).rows
    assert row.revised == ()
