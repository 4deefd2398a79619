"""The lists of the Rules page keep Qt's rules, and say what people read."""

from dataclasses import replace

import pytest
from PySide6.QtCore import QObject, Qt
from PySide6.QtTest import QAbstractItemModelTester
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.models.limit_derive import DerivedModel
from fluiddesk.desktop.models.limit_lists import (
    ChangeModel,
    FigureModel,
    HeldModel,
    IntervalModel,
    MoveModel,
    ProblemModel,
    VersionModel,
)
from fluiddesk.desktop.models.limit_rules import CHANGED_ROLE, PROBLEM_ROLE, LimitModel
from fluiddesk.desktop.theme import Theme, make_theme
from fluiddesk.desktop.viewstate.limit_draft import RuleDraft
from fluiddesk.desktop.viewstate.limit_preview import count_lines, year_lines
from fluiddesk.desktop.viewstate.limit_rules import LimitColumn
from fluiddesk.desktop.viewstate.limit_writing import written, written_interval
from fluiddesk.domain.severity import Severity
from fluiddesk.services.limit_rules import shown
from fluiddesk.services.limit_rules.facts import RuleProblem
from tests.desktop.makers_limits import (
    CATALOGUE,
    INTERVALS,
    TODAY,
    RuleCallsDouble,
    draft_of,
    facts_of,
    make_derived,
    make_latest,
    make_year,
    small_set,
)

STRICT = QAbstractItemModelTester.FailureReportingMode.Fatal
WHO = "Kim Reliability"


@pytest.fixture
def theme(qtbot: QtBot) -> Theme:
    return make_theme("light")


@pytest.fixture
def home(qtbot: QtBot) -> QObject:
    return QObject()


def row_of(model: object, row: int) -> list[str]:
    return [model.index(row, at).data() for at in range(model.columnCount())]  # type: ignore[attr-defined]


def drafting(theme: Theme) -> tuple[LimitModel, RuleDraft]:
    model = LimitModel(theme=theme)
    QAbstractItemModelTester(model, STRICT, model)
    draft = RuleDraft(draft_of(small_set()), base=small_set())
    model.show(shown(draft.written, CATALOGUE), draft)
    model.choose(0)
    return model, draft


def write(model: LimitModel, draft: RuleDraft, key: int, name: str, text: str) -> None:
    draft.limits.put(key, written(draft.limits.row(key), name, text, who=WHO))
    model.show(shown(draft.written, CATALOGUE), draft)


def test_that_every_list_keeps_qts_rules_while_its_rows_come_and_go(
    theme: Theme, home: QObject
) -> None:
    calls = RuleCallsDouble(small_set(), draft_of(small_set()))
    box = calls.box_limits(b"", day=TODAY)  # type: ignore[arg-type]
    problem = RuleProblem(place=0, where="Engine", told="Wrong.", remedy="Mend it.")
    cases = (
        (VersionModel(theme=theme, parent=home), [facts_of(one) for one in calls.sets.values()]),
        (ChangeModel(CATALOGUE, theme=theme, parent=home), list(calls.compare(1, 2))),
        (FigureModel(theme=theme, parent=home), count_lines(make_latest())),
        (MoveModel(theme=theme, parent=home), list(make_latest().moves)),
        (ProblemModel(theme=theme, parent=home), [problem]),
        (HeldModel(CATALOGUE, theme=theme, parent=home), list(box.held)),
        (DerivedModel(theme=theme, parent=home), list(make_derived().rows)),
        (IntervalModel(CATALOGUE, theme=theme, parent=home), list(INTERVALS)),
    )
    for model, rows in cases:
        QAbstractItemModelTester(model, STRICT, model)
        for some in (rows, rows[:1], [], rows):
            model.show(some)  # type: ignore[attr-defined]
            assert model.rowCount() == len(some)
        texts = [text for row in range(len(rows)) for text in row_of(model, row)]
        assert any(texts)


def test_that_figures_of_the_year_follow_those_of_the_boxes(theme: Theme) -> None:
    model = FigureModel(theme=theme)
    model.show([*count_lines(make_latest()), *year_lines(make_year())])
    assert row_of(model, 0) == ["Urgent", "3", "4", "+1"]
    assert model.index(0, 0).data(Qt.ItemDataRole.UserRole) is Severity.URGENT
    assert [row_of(model, row)[0] for row in range(5, 10)] == [
        "Alarms a month",
        "Faults caught",
        "Faults missed",
        "False alarms",
        "Healthy flagged",
    ]


def test_that_only_bounds_and_source_of_a_draft_can_be_typed_into(theme: Theme) -> None:
    model, _ = drafting(theme)
    editable = Qt.ItemFlag.ItemIsEditable
    open_columns = [
        LimitColumn(at)
        for at in range(model.columnCount())
        if model.flags(model.index(1, at)) & editable
    ]
    assert open_columns == [
        LimitColumn.WATCH,
        LimitColumn.ACT,
        LimitColumn.URGENT,
        LimitColumn.SOURCE,
    ]
    model.show(shown(small_set(), CATALOGUE))
    assert not model.flags(model.index(1, LimitColumn.WATCH)) & editable


def test_that_what_is_typed_is_told_with_the_rows_key(theme: Theme, qtbot: QtBot) -> None:
    model, _ = drafting(theme)
    row = model.row_of(0)
    assert row is not None
    with qtbot.waitSignal(model.typed) as typed:
        assert model.setData(model.index(row, LimitColumn.WATCH), "50")
    assert typed.args == [0, "watch", "50"]
    with qtbot.assertNotEmitted(model.typed):
        model.setData(model.index(row, LimitColumn.WATCH), "60")


def test_that_a_kept_text_is_shown_with_its_problem_and_marked_as_changed(theme: Theme) -> None:
    model, draft = drafting(theme)
    write(model, draft, 0, "act", "1OO")
    row = model.row_of(0)
    cell = model.index(row or 0, LimitColumn.ACT)
    assert cell.data() == "1OO"
    assert cell.data(Qt.ItemDataRole.EditRole) == "1OO"
    assert "is not a number" in cell.data(PROBLEM_ROLE)
    assert cell.data(CHANGED_ROLE)
    other = model.index(row or 0, LimitColumn.WATCH)
    assert not other.data(PROBLEM_ROLE)
    assert not other.data(CHANGED_ROLE)


def test_that_a_step_leaves_the_rows_where_they_are(theme: Theme, qtbot: QtBot) -> None:
    model, draft = drafting(theme)
    with qtbot.assertNotEmitted(model.modelReset):
        write(model, draft, 0, "watch", "50")
    assert model.index(model.row_of(0) or 0, LimitColumn.WATCH).data().strip() == "50"


def test_that_a_row_taken_out_is_gone_and_comes_back(theme: Theme) -> None:
    model, draft = drafting(theme)
    row = draft.limits.row(1)
    draft.limits.put(1, None)
    model.show(shown(draft.written, CATALOGUE), draft)
    assert model.row_of(1) is None
    draft.limits.put(1, row)
    model.show(shown(draft.written, CATALOGUE), draft)
    assert model.row_of(1) is not None


def test_that_interval_cells_keep_unreadable_texts_and_tell_changes(
    theme: Theme, home: QObject, qtbot: QtBot
) -> None:
    model = IntervalModel(CATALOGUE, theme=theme, parent=home)
    QAbstractItemModelTester(model, STRICT, model)
    draft = RuleDraft(draft_of(small_set()), base=small_set())
    model.show_rules(draft.written.intervals, draft)
    with qtbot.waitSignal(model.typed) as typed:
        model.setData(model.index(0, 1), "25O")
    assert typed.args == [0, "interval_hours", "25O"]
    row = written_interval(draft.intervals.row(0), "interval_hours", "25O", who=WHO)
    draft.intervals.put(0, row)
    model.show_rules(draft.written.intervals, draft)
    assert model.index(0, 1).data() == "25O"
    assert "is not a number" in model.index(0, 1).data(PROBLEM_ROLE)
    assert model.index(0, 1).data(CHANGED_ROLE)
    assert not model.flags(model.index(0, 0)) & Qt.ItemFlag.ItemIsEditable


def test_that_versions_tell_their_days_and_a_draft_none(theme: Theme) -> None:
    model = VersionModel(theme=theme)
    waiting = replace(facts_of(small_set(number=3)), holds_today=False)
    model.show([waiting, facts_of(draft_of(small_set())), facts_of(small_set())])
    assert row_of(model, 0)[2:4] == ["Waits for its day", "2026-01-01"]
    assert row_of(model, 1)[2:4] == ["Draft", ""]
    assert row_of(model, 2)[2:4] == ["In force", "2026-01-01"]


def test_that_a_derived_row_without_enough_says_what_is_missing(theme: Theme) -> None:
    model = DerivedModel(theme=theme)
    model.show(make_derived().rows)
    assert row_of(model, 0)[4:6] == ["60 / 100 / 150", "48 / 77 / 121"]
    assert row_of(model, 2)[5] == "12 samples, 30 are needed"
