"""Settings of a draft as they are typed: units, spans, the usual value, and what is saved."""

import pytest

from fluiddesk.desktop.viewstate.limit_draft import RuleDraft
from fluiddesk.desktop.viewstate.limit_settings import SettingRows, written_setting
from fluiddesk.domain.limits.settings import SPANS, USUAL
from fluiddesk.services.limit_rules.settings_told import SETTINGS
from tests.desktop.makers_limits import draft_of, small_set

NAMES = [one.name for one in SETTINGS]


def row(name: str, **saved: object):
    return SettingRows(saved, {}).row(NAMES.index(name))


def test_that_every_setting_is_told_and_its_usual_value_lies_in_its_span() -> None:
    assert set(NAMES) == set(SPANS)
    for one in SETTINGS:
        low, high = one.span
        parts = one.usual if one.is_list else (one.usual,)
        assert all(low <= part * one.scale <= high for part in parts)
        assert one.meaning.endswith(".")
        assert one.unit


@pytest.mark.parametrize(
    ("name", "text", "value"),
    [
        ("clears_at", "90", 0.9),
        ("clears_at", "90 %", 0.9),
        ("run_in", "2; 1,5; 1.2", (2.0, 1.5, 1.2)),
        ("run_in", "3", (3.0,)),
        ("least_earlier", "8", 8),
        ("stale_after", "", USUAL.stale_after),
    ],
)
def test_that_figures_are_read_in_the_unit_they_are_told_in(name, text, value) -> None:
    after = written_setting(row(name), text)
    assert (after.value, after.problem) == (value, "")


@pytest.mark.parametrize(
    ("name", "text", "told"),
    [
        ("clears_at", "120", "is out of its span. Give 50 to 100 % of its bound"),
        ("least_earlier", "4.5", "is no whole number. Count whole samples."),
        ("smoothing", "soon", '"soon" is not a number.'),
        ("run_in", "2; 9", "is out of its span. Give 1 to 5"),
    ],
)
def test_that_what_cannot_be_taken_is_kept_as_typed_and_told(name, text, told) -> None:
    after = written_setting(row(name), text)
    assert told in after.problem
    assert after.text == text
    assert after.value == row(name).value


def test_that_a_draft_saves_only_what_differs_from_the_usual() -> None:
    base = small_set()
    draft = RuleDraft(draft_of(base), base=base)
    key = NAMES.index("stale_after")
    draft.settings.put(key, written_setting(draft.settings.row(key), "3"))
    edits, noted = draft.unsaved()
    assert [edit.settings for edit in edits] == [{"stale_after": 3.0}]
    assert draft.counting.settings == {"stale_after": 3.0}
    assert draft.changed_count == 1
    noted()
    assert draft.unsaved()[0] == []
