"""The words of the preview, of versions, of derived rows, and of the forms."""

from dataclasses import replace
from datetime import date

import pytest

from fluiddesk.desktop.viewstate.limit_derive import derived_details, derived_sentence
from fluiddesk.desktop.viewstate.limit_forms import (
    draft_form,
    find_box,
    force_form,
    interval_form,
    interval_of,
    limit_of,
    off_form,
    row_form,
)
from fluiddesk.desktop.viewstate.limit_preview import (
    budget_note,
    findings_note,
    moves_sorted,
    year_lines,
)
from fluiddesk.desktop.viewstate.limit_reading import shown_anew
from fluiddesk.desktop.viewstate.limit_versions import (
    ChangeColumn,
    change_text,
    choice_text,
    interval_details,
    rule_text,
)
from fluiddesk.desktop.viewstate.record_form import FormDraft, RecordForm, Values
from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.limits.limit_set import Scope
from fluiddesk.domain.severity import Severity
from fluiddesk.services.limit_rules import shown
from fluiddesk.services.limit_rules.facts import ChangeKind, FindingScore, RowChange
from tests.desktop.makers_limits import (
    BOXES,
    CATALOGUE,
    INTERVALS,
    draft_of,
    facts_of,
    make_derived,
    make_latest,
    make_year,
    small_set,
)
from tests.desktop.makers_results import make_limit

WHO = "Kim Reliability"


def filled(form: RecordForm, **texts: str) -> Values:
    draft = FormDraft(form)
    for key, text in texts.items():
        draft.write(key, text)
    assert not draft.problems
    return draft.values()


def row_values(**texts: str) -> Values:
    form = row_form(make_limit(), scope=Scope(), catalogue=CATALOGUE, boxes=BOXES)
    return filled(form, **texts)


# --- preview ----------------------------------------------------------------------------------


def test_that_boxes_that_get_worse_come_first_the_worst_before_all() -> None:
    order = [(one.machine, one.after) for one in moves_sorted(make_latest())]
    assert order[0] == ("AT-604", Severity.URGENT)
    assert order[-1] == ("WL-207", Severity.NORMAL)


def test_that_without_findings_nothing_is_said_of_faults_caught() -> None:
    none = FindingScore(caught=0, missed=0, false_alarms=0)
    year = replace(make_year(), findings_before=none, findings_after=none)
    assert [line.name for line in year_lines(year)] == ["Alarms a month", "Healthy flagged"]
    assert findings_note(year).startswith("No confirmed fault")


def test_that_a_share_without_a_healthy_sample_is_a_dash_with_the_reason() -> None:
    budget = replace(make_year().budget_after, measured=None, low=None, high=None)
    year = replace(make_year(), budget_after=budget)
    line = year_lines(year)[-1]
    assert (line.after, line.change) == ("\N{EN DASH}", "")
    assert "no share can be given" in budget_note(year)


def test_that_the_share_of_healthy_samples_comes_with_its_interval() -> None:
    assert budget_note(make_year()) == (
        "The draft flags 2.2 % to 4.4 % (95 %) of 1012 healthy samples, 2.7 a month."
    )


# --- versions ---------------------------------------------------------------------------------


def test_that_a_version_is_named_by_number_state_and_name() -> None:
    assert choice_text(facts_of(draft_of(small_set()))) == "2, draft: Autumn review"


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        (make_limit(), make_limit(watch=50.0), ("60 / 100 / 150", "50 / 100 / 150")),
        (None, make_limit(urgent=None), ("not there", "60 / 100 / -")),
        (make_limit(), None, ("60 / 100 / 150", "left out")),
        (make_limit(), make_limit(source="manual"), ("60 / 100 / 150", "source or note")),
        (
            make_limit(),
            make_limit(is_off=True, off_until=date(2027, 3, 1), note="running in"),
            ("60 / 100 / 150", "off until 2027-03-01"),
        ),
    ],
)
def test_that_a_difference_is_told_by_its_bounds(before, after, words) -> None:
    change = RowChange(kind=ChangeKind.CHANGED, place=0, before=before, after=after, told="")
    told = [change_text(change, at, CATALOGUE) for at in (ChangeColumn.BEFORE, ChangeColumn.AFTER)]
    assert tuple(told) == words


def test_that_an_interval_is_told_in_one_phrase_and_in_full() -> None:
    assert rule_text(INTERVALS[0]) == "250 h or 90 d, \N{PLUS-MINUS SIGN}10 %, rolling"
    assert "within 15 % of the interval" in dict(interval_details(INTERVALS[2]))["Window"]


def test_that_only_the_words_of_changed_limits_are_made_anew() -> None:
    before = small_set()
    facts = shown(before, CATALOGUE)
    limits = (replace(before.limits[0], watch=50.0), *before.limits[1:])
    after = replace(before, limits=limits)
    anew = shown_anew(facts, before, after, CATALOGUE)
    assert anew.lines == shown(after, CATALOGUE).lines
    kept = {id(line) for line in facts.lines} & {id(line) for line in anew.lines}
    assert len(kept) == len(facts.lines) - 1


def test_that_a_row_added_makes_all_words_anew() -> None:
    before = small_set()
    after = replace(before, limits=(*before.limits, make_limit(analyte="lead")))
    anew = shown_anew(shown(before, CATALOGUE), before, after, CATALOGUE)
    assert anew == shown(after, CATALOGUE)


# --- derived ----------------------------------------------------------------------------------


def test_that_a_derived_row_tells_percentiles_with_intervals_and_what_they_flag() -> None:
    told = derived_details(make_derived().rows[0])
    assert "Watch 48 (98 %, 44.6 to 51.8)." in told
    assert "Drawn towards Every engine: 98 % own figures." in told
    assert "5 of 41 flagged now, 5 of 26 then." in told


def test_that_the_sentence_tells_what_was_left_out_and_that_a_person_decides() -> None:
    told = derived_sentence(make_derived())
    assert "2 of 3 rows have enough samples." in told
    assert "Left out: 14 suspect, 22 with a known fault." in told
    assert "until a person takes a row into a draft" in told


# --- forms ------------------------------------------------------------------------------------


def test_that_every_form_says_what_its_button_does() -> None:
    forms = (
        draft_form(1, "Starter limits"),
        off_form("Iron"),
        force_form(name="Autumn", who=WHO, today=date(2026, 11, 20), changed=3),
        interval_form(scope=Scope(), catalogue=CATALOGUE, boxes=BOXES),
    )
    assert [one.save_label for one in forms] == [
        "Make the draft",
        "Switch it off",
        "Put in force",
        "Add the interval",
    ]


def test_that_a_set_takes_force_by_the_named_person_with_a_note() -> None:
    form = force_form(name="Autumn", who=WHO, today=date(2026, 11, 20), changed=1)
    draft = FormDraft(form)
    assert draft.problems == {"note": "What and why is missing. Write it."}
    assert next(one for one in form.fields if one.key == "who").is_fixed
    assert "with 1 row changed" in form.about


def test_that_a_new_row_is_filled_in_like_the_chosen_one() -> None:
    added = limit_of(row_values(machine_kind="excavator"), like=make_limit(), boxes=BOXES, who=WHO)
    assert added == make_limit(
        scope=Scope(machine_kind="excavator", compartment_kind="engine"),
        source="own decision",
        set_by=WHO,
    )


def test_that_a_box_is_found_however_it_is_written() -> None:
    assert find_box(" ex-105,  ENGINE ", BOXES) == BOXES[0]


def test_that_a_box_of_another_kind_than_chosen_is_refused() -> None:
    values = row_values(box="EX-105, Hydraulic system")
    with pytest.raises(OperatorError, match="not of the compartment kind that is chosen"):
        limit_of(values, like=make_limit(), boxes=BOXES, who=WHO)


def test_that_bounds_out_of_order_are_refused_with_their_values() -> None:
    with pytest.raises(OperatorError, match="120 / 100 / 150"):
        limit_of(row_values(watch="120"), like=make_limit(), boxes=BOXES, who=WHO)


def test_that_an_interval_needs_hours_or_days() -> None:
    form = interval_form(scope=Scope(compartment_kind="engine"), catalogue=CATALOGUE, boxes=BOXES)
    with pytest.raises(OperatorError, match="Give at least one"):
        interval_of(filled(form), boxes=BOXES, who=WHO)
    rule = interval_of(filled(form, hours="250", window="20"), boxes=BOXES, who=WHO)
    assert (rule.interval_hours, rule.interval_days, rule.window_share) == (250, None, 0.2)
