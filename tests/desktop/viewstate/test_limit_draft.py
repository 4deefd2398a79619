"""A draft while it is edited: what is typed, what is wrong, what counts, and what is saved."""

import random
from dataclasses import replace
from datetime import date

import pytest

from fluiddesk.desktop.viewstate.limit_draft import RuleDraft
from fluiddesk.desktop.viewstate.limit_writing import (
    OWN_DECISION,
    read_number,
    switched_off,
    switched_on,
    written,
    written_interval,
)
from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.limits.limit_set import LimitSet
from fluiddesk.services.limit_rules.editing import edited
from tests.desktop.makers_limits import draft_of, small_set
from tests.desktop.makers_results import make_limit

WHO = "Kim Reliability"


def made() -> RuleDraft:
    return RuleDraft(draft_of(small_set()), base=small_set())


def write(draft: RuleDraft, key: int, name: str, text: str) -> None:
    draft.limits.put(key, written(draft.limits.row(key), name, text, who=WHO))


def saved(draft: RuleDraft, before: LimitSet) -> LimitSet:
    """What the database holds once the draft's edits are done on what it held."""
    edits, noted = draft.unsaved()
    after, _ = edited(before, edits)
    noted()
    return after


def test_that_a_fresh_draft_has_nothing_to_save_and_nothing_wrong() -> None:
    draft = made()
    assert draft.unsaved()[0] == []
    assert (draft.changed_count, draft.problem_count) == (0, 0)


@pytest.mark.parametrize("text", ["50", " 50,0 ", "+50", "5e1"])
def test_that_a_bound_is_read_as_people_write_it(text: str) -> None:
    assert read_number(text, name="Watch") == 50


@pytest.mark.parametrize("text", ["5O", "1.2.3", "inf", "nan", "sixty"])
def test_that_what_is_no_number_is_refused_with_value_and_remedy(text: str) -> None:
    with pytest.raises(OperatorError, match="Write digits") as refused:
        read_number(text, name="Watch")
    assert f'"{text}"' in str(refused.value)


def test_that_a_changed_bound_is_set_by_the_person_and_their_own_decision() -> None:
    draft = made()
    write(draft, 0, "watch", "50")
    rule = draft.limits.row(0).rule
    assert (rule.watch, rule.set_by, rule.source) == (50, WHO, OWN_DECISION)


def test_that_a_source_the_person_wrote_is_kept_when_bounds_change_again() -> None:
    draft = made()
    write(draft, 0, "source", "manual of the engine, page 12")
    write(draft, 0, "watch", "50")
    assert draft.limits.row(0).rule.source == "manual of the engine, page 12"


def test_that_a_bound_brought_back_leaves_no_change() -> None:
    draft = made()
    write(draft, 0, "watch", "50")
    write(draft, 0, "watch", "60")
    assert draft.changed_count == 0
    assert draft.unsaved()[0] == []


def test_that_a_derived_bound_changed_by_hand_is_derived_no_more() -> None:
    base = small_set(limits=(make_limit(derivation='{"n": 900}'),))
    draft = RuleDraft(draft_of(base), base=base)
    write(draft, 0, "act", "90")
    assert draft.limits.row(0).rule.derivation == ""


def test_that_an_unreadable_text_is_kept_while_the_last_sound_row_counts() -> None:
    draft = made()
    write(draft, 0, "watch", "50")
    write(draft, 0, "act", "1OO")
    row = draft.limits.row(0)
    assert row.typed == {"act": "1OO"}
    assert row.cell_problem("act").startswith('Act: "1OO" is not a number.')
    assert row.cell_problem("watch") == ""
    assert draft.counting.limits[0].watch == 50
    assert draft.problem_count == 1
    assert saved(draft, draft_of(small_set())).limits[0].act == 100


def test_that_bounds_out_of_order_wait_until_the_row_is_sound_again() -> None:
    draft = made()
    write(draft, 0, "watch", "110")
    assert "Each must lie further up" in draft.limits.row(0).problem
    assert draft.counting.limits[0].watch == 60
    write(draft, 0, "act", "130")
    assert draft.limits.row(0).problem == ""
    assert draft.counting.limits[0].bounds() == (110, 130, 150)


def test_that_an_emptied_bound_is_none_and_a_row_without_any_is_refused() -> None:
    draft = made()
    for name in ("watch", "act"):
        write(draft, 0, name, "")
    assert draft.limits.row(0).rule.bounds() == (None, None, 150)
    write(draft, 0, "urgent", "")
    assert "no bound is given" in draft.limits.row(0).problem


def test_that_switching_off_and_on_comes_back_to_where_it_was() -> None:
    draft = made()
    row = draft.limits.row(0)
    off = switched_off(row, reason=" Running in ", until=date(2027, 3, 1), who=WHO)
    assert (off.rule.note, off.rule.off_until, off.problem) == ("Running in", date(2027, 3, 1), "")
    assert switched_on(off, who=WHO).rule == row.rule


def test_that_an_off_row_without_a_reason_is_a_problem() -> None:
    row = made().limits.row(0)
    off = switched_off(row, reason=" ", until=date(2027, 3, 1), who=WHO)
    assert "needs a reason" in off.problem


def test_that_intervals_are_read_in_hours_days_percent_and_words() -> None:
    row = made().intervals.row(0)
    for name, text in (
        ("interval_hours", "200"),
        ("interval_days", ""),
        ("window_share", "15 %"),
        ("convention", "Grid"),
    ):
        row = written_interval(row, name, text, who=WHO)
    rule = row.rule
    assert (rule.interval_hours, rule.interval_days) == (200, None)
    assert (rule.window_share, rule.convention) == (0.15, "grid")


@pytest.mark.parametrize(
    ("name", "text", "told"),
    [
        ("interval_days", "12.5", "whole days"),
        ("convention", "sometimes", "rolling or grid"),
        ("window_share", "", "Write percent"),
        ("interval_hours", "25O", "not a number"),
    ],
)
def test_that_an_interval_that_cannot_be_read_says_what_to_write(
    name: str, text: str, told: str
) -> None:
    row = written_interval(made().intervals.row(0), name, text, who=WHO)
    assert told in row.cell_problem(name)
    assert row.counts == made().intervals.row(0).rule


def test_that_a_window_too_wide_is_told() -> None:
    row = written_interval(made().intervals.row(0), "window_share", "80", who=WHO)
    assert "at most 0.5" in row.problem


def test_that_a_row_of_the_same_scope_and_subject_is_found() -> None:
    draft = made()
    rival = draft.limits.rival(make_limit(watch=1.0))
    assert rival is not None
    assert rival.key == 0
    assert draft.limits.rival(make_limit(analyte="lead")) is None


def test_that_a_row_left_out_counts_as_a_change() -> None:
    draft = made()
    draft.limits.put(1, None)
    assert draft.sentence.endswith("1 row changed.")


@pytest.mark.parametrize("seed", range(40))
def test_that_any_run_of_steps_is_saved_as_what_counts(seed: int) -> None:
    chance = random.Random(seed)  # noqa: S311 - steps of a test, not a secret
    base = small_set()
    draft, held = RuleDraft(draft_of(base), base=base), draft_of(base)
    taken: list[object] = []
    for _ in range(30):
        rows = draft.limits.rows
        match chance.choice(("write", "out", "back", "add", "save", "interval")):
            case "write" if rows:
                row = chance.choice(rows)
                name, text = chance.choice(("watch", "act")), str(chance.randint(1, 140))
                draft.limits.put(row.key, written(row, name, text, who=WHO))
            case "out" if rows:
                row = chance.choice(rows)
                taken.append(row)
                draft.limits.put(row.key, None)
            case "back" if taken:
                back = taken.pop()
                draft.limits.put(back.key, back)  # type: ignore[attr-defined, arg-type]
            case "add":
                fresh = draft.limits.fresh(make_limit(analyte="lead", watch=chance.random()))
                draft.limits.put(fresh.key, fresh)
            case "interval":
                one = draft.intervals.rows[0]
                hours = replace(one.rule, interval_hours=float(chance.randint(100, 500)))
                draft.intervals.put(one.key, replace(one, rule=hours))
            case "save":
                held = saved(draft, held)
    held = saved(draft, held)
    assert held.limits == draft.counting.limits
    assert held.intervals == draft.counting.intervals
    assert draft.unsaved()[0] == []
