"""Values that decide a verdict are entered twice, where the desk asks for it."""

import pytest

from fluiddesk.domain.errors import OperatorError, UsageError
from fluiddesk.services.keyed_results.basis import SecondEntry
from fluiddesk.services.keyed_results.facts import Answer, WarningKind
from fluiddesk.services.keyed_results.second_entry import (
    deciding_analytes,
    enter_second,
    second_entry,
    set_second_entry,
)
from tests.fleets import NOW, Fleet
from tests.services.keyed_results.clerk import at_the_desk, open_for


def asked(fleet: Fleet, mode: str, *analytes: str):
    """A report with every expected value typed, at a desk that asks for a second entry."""
    setting = SecondEntry(mode=mode, analytes=analytes or ("iron", "copper"))
    set_second_entry(fleet.place, setting, moment=NOW)
    clerk = at_the_desk(fleet)
    clerk.type_as_expected()
    return clerk


def again(clerk, code: str, text: str) -> None:
    clerk.draft = enter_second(
        clerk.place, clerk.report, clerk.draft, clerk.key(code), text, moment=NOW
    )


def test_that_nothing_is_entered_twice_unless_the_desk_asks(fleet: Fleet):
    assert second_entry(fleet.place).mode == "off"
    clerk = at_the_desk(fleet)
    clerk.type_as_expected()
    assert clerk.checked.second_wanted == ()
    assert not any(cell.decides for cell in clerk.report.cells)


def test_that_the_usual_deciding_values_are_analytes_of_the_catalogue(fleet: Fleet):
    assert set(deciding_analytes()) <= set(fleet.place.catalogue.analytes)


def test_that_only_deciding_values_are_asked_for_again(fleet: Fleet):
    clerk = asked(fleet, "same")
    assert clerk.checked.second_wanted == ("Fe", "Cu")
    assert [cell.key for cell in clerk.report.cells if cell.decides] == ["Fe", "Cu"]
    with pytest.raises(OperatorError, match="second time"):
        clerk.save()


def test_that_the_same_value_written_otherwise_agrees(fleet: Fleet):
    clerk = asked(fleet, "same")
    again(clerk, "iron", clerk.draft.cells["Fe"] + ",0")
    again(clerk, "copper", clerk.draft.cells["Cu"])
    assert clerk.checked.can_save
    clerk.save()


def test_that_a_mismatch_is_told_and_corrected_either_way(fleet: Fleet):
    clerk = asked(fleet, "same")
    first = clerk.draft.cells["Fe"]
    again(clerk, "iron", f"{first}7")
    warning = clerk.warning(WarningKind.SECOND_ENTRY)
    assert warning.is_hard
    assert warning.told == f"Fe: first {first}, second {first}7."
    clerk.answer(warning, Answer.CORRECTED, new_text=first)
    assert "Fe" in clerk.checked.second_wanted, "a corrected value is entered again"
    again(clerk, "iron", first)
    assert WarningKind.SECOND_ENTRY not in clerk.kinds()


def test_that_another_person_makes_the_second_entry_where_the_desk_asks_for_one(fleet: Fleet):
    clerk = asked(fleet, "other")
    with pytest.raises(OperatorError, match="Another person must make the second"):
        again(clerk, "iron", "4")
    other = open_for(fleet, clerk.report.bottle_code, who="Sam")
    again(other, "iron", clerk.draft.cells["Fe"])
    assert other.draft.second_by == "Sam"


def test_that_a_setting_that_cannot_be_is_refused(fleet: Fleet):
    with pytest.raises(UsageError, match="Choose one of"):
        set_second_entry(fleet.place, SecondEntry(mode="always"), moment=NOW)
    with pytest.raises(UsageError, match='no analyte "gold"'):
        set_second_entry(fleet.place, SecondEntry(mode="same", analytes=("gold",)), moment=NOW)
