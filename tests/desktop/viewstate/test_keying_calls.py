"""The clerk's calls on a real database."""

from dataclasses import replace

from fluiddesk.desktop.viewstate.keying_calls import KeyingCalls
from fluiddesk.domain.severity import Severity
from tests.fleets import LAST_DAY, NOW, Fleet


def two_bottles(fleet: Fleet) -> tuple[str, str]:
    boxes = fleet.boxes("engine", Severity.NORMAL)
    return fleet.draw(boxes[0], 1), fleet.draw(boxes[1], 2)


def test_that_a_report_typed_for_the_wrong_bottle_moves_to_the_right_one(fleet: Fleet) -> None:
    calls = KeyingCalls(place=fleet.place)
    wrong, right = two_bottles(fleet)
    report = calls.open_report(wrong, layout="", today=LAST_DAY)
    draft = calls.open_draft(report, moment=NOW)
    iron = report.cells[0].key
    draft = calls.keep(
        report,
        replace(draft, cells={iron: "22"}, heads={**draft.heads, "report_number": "A-1"}),
        moment=NOW,
    )
    other, moved = calls.move(report, draft, right, moment=NOW, today=LAST_DAY)
    assert (other.bottle_code, other.layout) == (right, report.layout)
    assert moved.cells == {iron: "22"}
    assert moved.heads["report_number"] == "A-1"
    begun = [one.bottle_code for one in calls.queue(today=LAST_DAY).to_key]
    assert begun == [right]


def test_that_a_draft_begun_for_the_right_bottle_is_not_overwritten(fleet: Fleet) -> None:
    calls = KeyingCalls(place=fleet.place)
    wrong, right = two_bottles(fleet)
    own = calls.open_report(right, layout="", today=LAST_DAY)
    first = calls.open_draft(own, moment=NOW)
    iron = own.cells[0].key
    calls.keep(own, replace(first, cells={iron: "31"}), moment=NOW)
    report = calls.open_report(wrong, layout="", today=LAST_DAY)
    draft = calls.open_draft(report, moment=NOW)
    draft = calls.keep(report, replace(draft, cells={iron: "22"}), moment=NOW)
    _, found = calls.move(report, draft, right, moment=NOW, today=LAST_DAY)
    assert found.cells == {iron: "31"}
    assert len(calls.queue(today=LAST_DAY).to_key) == 2


def test_that_the_first_form_of_a_laboratory_is_found(fleet: Fleet) -> None:
    calls = KeyingCalls(place=fleet.place)
    assert calls.layout_of("lab_b") == "lab_b"
    assert calls.layout_of("nobody") == ""
