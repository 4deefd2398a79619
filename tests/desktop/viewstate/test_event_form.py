"""Each kind of event has its own fields, and makes its own entry."""

from datetime import date

import pytest

from fluiddesk.desktop.viewstate.event_form import KINDS, entry_of, event_form, kind_of
from fluiddesk.desktop.viewstate.record_form import FormDraft
from fluiddesk.domain.fleet import EventKind
from tests.desktop.makers_history import TODAY, make_history

FLUIDS = (("eo", "Engine oil 15W-40"), ("hyd", "Hydraulic oil VG 46"))


def draft_of(kind: EventKind, **texts: str) -> FormDraft:
    form = event_form(kind, make_history(), fluids=FLUIDS, today=TODAY)
    draft = FormDraft(form)
    for key, text in texts.items():
        draft.write(key, text)
    return draft


def keys(kind: EventKind) -> set[str]:
    return {one.key for one in draft_of(kind).form.fields}


def test_that_every_kind_is_on_offer() -> None:
    assert {code for code, _ in KINDS} == {kind.value for kind in EventKind}


def test_that_a_top_up_needs_its_litres() -> None:
    assert draft_of(EventKind.TOP_UP).problem("litres") == "Litres is missing. Write it."
    entry = entry_of(draft_of(EventKind.TOP_UP, litres="4,5"), is_confirmed=False)
    assert entry is not None
    assert entry.litres == 4.5
    assert entry.happened_on == TODAY


def test_that_a_change_may_name_another_fluid() -> None:
    entry = entry_of(draft_of(EventKind.FLUID_CHANGE, fluid="hyd"), is_confirmed=True)
    assert entry is not None
    assert (entry.fluid, entry.litres, entry.is_confirmed) == ("hyd", None, True)
    plain = entry_of(draft_of(EventKind.FLUID_CHANGE), is_confirmed=False)
    assert plain is not None
    assert plain.fluid is None


def test_that_a_component_asks_for_its_serial_and_a_repair_for_words() -> None:
    assert {"serial", "condition", "hours_before"} <= keys(EventKind.COMPONENT_FIT)
    assert entry_of(draft_of(EventKind.REPAIR), is_confirmed=False) is None
    entry = entry_of(draft_of(EventKind.REPAIR, note="pump shaft seal"), is_confirmed=False)
    assert entry is not None
    assert entry.note == "pump shaft seal"


def test_that_a_filter_change_asks_for_no_litres() -> None:
    assert not {"litres", "fluid", "serial"} & keys(EventKind.FILTER_CHANGE)


def test_that_day_meter_and_note_stay_when_another_kind_is_chosen() -> None:
    written = draft_of(
        EventKind.TOP_UP, happened_on="2026-11-03", meter_value="12400", note="by night shift"
    ).texts
    form = event_form(
        EventKind.FILTER_CHANGE, make_history(), fluids=FLUIDS, today=TODAY, written=written
    )
    entry = entry_of(FormDraft(form), is_confirmed=False)
    assert entry is not None
    assert entry.kind is EventKind.FILTER_CHANGE
    assert (entry.happened_on, entry.meter_value) == (date(2026, 11, 3), 12_400.0)
    assert entry.note == "by night shift"


@pytest.mark.parametrize("text", ["yesterday", "2026-13-01"])
def test_that_a_day_that_cannot_be_read_makes_no_entry(text: str) -> None:
    draft = draft_of(EventKind.FILTER_CHANGE, happened_on=text)
    assert entry_of(draft, is_confirmed=False) is None
    assert kind_of(draft) is EventKind.FILTER_CHANGE
