"""A record being edited, without a window."""

from datetime import date

import pytest

from fluiddesk.desktop.viewstate.record_form import FieldKind, FormDraft, FormField, RecordForm
from fluiddesk.desktop.viewstate.stale_edit import clash

CAPACITY = FormField(
    key="capacity_l", label="Capacity", kind=FieldKind.NUMBER, value="38", above=0, is_needed=True
)
FORM = RecordForm(
    key="box",
    title="Engine",
    save_label="Save",
    fields=(
        CAPACITY,
        FormField(key="days", label="Days", kind=FieldKind.WHOLE, least=1, most=999),
        FormField(key="on", label="On", kind=FieldKind.DAY),
        FormField(
            key="fluid",
            label="Fluid",
            kind=FieldKind.CHOICE,
            value="a",
            choices=(("a", "Oil A"), ("b", "Oil B")),
        ),
        FormField(key="note", label="Note"),
    ),
)


def test_that_an_untouched_form_has_nothing_to_save() -> None:
    draft = FormDraft(FORM)
    assert not draft.is_changed
    assert not draft.can_save


def test_that_fields_are_read_by_their_kinds() -> None:
    draft = FormDraft(FORM)
    for key, text in (("capacity_l", "38,5"), ("days", "90"), ("on", "2026-06-30"), ("fluid", "b")):
        draft.write(key, text)
    assert draft.values() == {
        "capacity_l": 38.5,
        "days": 90,
        "on": date(2026, 6, 30),
        "fluid": "b",
        "note": "",
    }
    assert draft.changed == ("Capacity", "Days", "On", "Fluid")
    assert draft.can_save


@pytest.mark.parametrize(
    ("key", "text", "told"),
    [
        ("capacity_l", "0", "0 is too low. Write more than 0."),
        ("capacity_l", "", "Capacity is missing. Write it."),
        ("capacity_l", "12,4O", '"12,4O" is not a number. Write digits, such as 38.5.'),
        ("capacity_l", "nan", '"nan" is not a number. Write digits, such as 38.5.'),
        ("days", "0", "0 is too low. Write 1 or more."),
        ("days", "1000", "1000 is too high. Write 999 or less."),
        ("days", "2.5", '"2.5" is not a whole number.'),
        ("on", "30.06.2026", '"30.06.2026" is not a date. Write year-month-day.'),
        ("fluid", "c", '"c" is not in the list. Choose one that is.'),
    ],
)
def test_that_a_wrong_field_is_told_with_its_value_and_remedy(
    key: str, text: str, told: str
) -> None:
    draft = FormDraft(FORM)
    draft.write(key, text)
    assert draft.problem(key) == told
    assert not draft.can_save


def test_that_two_edits_of_one_record_are_shown_side_by_side() -> None:
    draft = FormDraft(FORM)
    draft.write("capacity_l", "40")
    theirs = RecordForm(
        key="box",
        title="Engine",
        save_label="Save",
        fields=tuple(
            FormField(**{**{name: getattr(one, name) for name in one.__slots__}, "value": value})
            for one, value in zip(FORM.fields, ("42", "", "", "b", ""), strict=True)
        ),
    )
    both = clash(draft, theirs)
    assert both.mine == {"capacity_l": "40"}
    assert both.told == (
        'Capacity: was "38", you wrote "40", now "42".\nFluid: was "Oil A", now "Oil B".'
    )
