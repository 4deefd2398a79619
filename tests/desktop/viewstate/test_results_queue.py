from datetime import date

from fluiddesk.desktop.viewstate.event_questions import halfway, question_words, read_day
from fluiddesk.desktop.viewstate.keying_example import example_draft
from fluiddesk.desktop.viewstate.results_queue import (
    QueueColumn,
    QueuePart,
    QueueState,
    queue_sentence,
)
from fluiddesk.desktop.viewstate.saved_report import revised_words, saved_caption
from fluiddesk.services.keyed_results.facts import ValueChange
from tests.desktop.makers_keying import (
    make_cell,
    make_line,
    make_question,
    make_queue,
    make_report,
    make_saved,
)


def test_that_the_sentence_counts_only_what_waits() -> None:
    assert queue_sentence(make_queue()) == "2 bottles at the laboratory."
    busy = make_queue(to_key=(make_line(),), held_back=(make_line(), make_line()))
    assert queue_sentence(busy) == "2 bottles at the laboratory, 1 report begun, 2 rows held back."
    assert queue_sentence(make_queue(waiting=())) == "Nothing waits: every bottle is answered for."


def test_that_all_lists_stand_under_headings_and_one_list_alone_without() -> None:
    state = QueueState(make_queue(warnings_open=(make_line(note="asked the laboratory"),)))
    titles = [state.text(row, QueueColumn.BOTTLE) for row in range(len(state.rows))]
    assert titles[0] == "Warnings open"
    assert titles[2] == "At the laboratory"
    assert state.count(QueuePart.ALL) == 3
    state.show(QueuePart.OPEN)
    assert len(state.rows) == 1
    assert state.text(0, QueueColumn.NOTE) == "asked the laboratory"


def test_that_a_held_row_without_a_bottle_says_so() -> None:
    state = QueueState(make_queue(held_back=(make_line("", machine="", taken_on=None, days=None),)))
    assert state.text(1, QueueColumn.BOTTLE) == "no code"
    assert state.text(1, QueueColumn.DRAWN) == state.text(1, QueueColumn.DAYS) == ""
    assert state.text(1, QueueColumn.LAST) == ""


def test_that_a_question_offers_the_day_halfway_and_counts_those_behind_it() -> None:
    question = make_question()
    assert halfway(question) == date(2026, 5, 16)
    assert question_words(question, more=0) == question.told
    assert question_words(question, more=2).endswith("(2 more)")
    assert read_day("31.05.2026") is None


def test_that_a_revision_tells_what_it_changed() -> None:
    changes = tuple(ValueChange(name=f"V{n}", before="1", after="2") for n in range(8))
    saved = make_saved(revised=changes)
    assert saved_caption(saved).endswith("revision saved")
    assert revised_words(saved).endswith("V5 1 to 2 and 2 more.")
    assert revised_words(make_saved()) == ""


def test_that_the_example_has_one_slip_of_the_decimal_point() -> None:
    cells = (make_cell("Fe"), make_cell("Ca", expected="2384"), make_cell("Cu"), make_cell("Si"))
    draft = example_draft(make_report(*cells))
    assert draft.cells["Ca"] == "238.4"
    assert "Si" not in draft.cells
