"""Past results as lines on the Register page, without a window."""

from datetime import date

from fluiddesk.desktop.viewstate.past_results import (
    taken_sentence,
    waiting_lines,
    waiting_sentence,
)
from fluiddesk.domain.identity import CompartmentId, SiteId
from fluiddesk.services.past_results.facts import PastCandidate, PastTaken, WaitingRow


def waiting(*candidates: PastCandidate) -> WaitingRow:
    return WaitingRow(
        site_id=SiteId(1),
        intake_id=b"i",
        row=4,
        file_name="past.csv",
        machine_printed="HT 1",
        compartment_printed="drive",
        report="P1",
        sampled_on=date(2024, 3, 5),
        candidates=candidates,
    )


LEFT = PastCandidate(
    compartment_id=CompartmentId(b"left"),
    site="Kestrel pit",
    machine="HT-01",
    compartment="Final drive, left",
    score=0.5,
    doubts=("the side is not printed", "2 boxes fit about as well"),
)


def test_that_a_waiting_row_tells_its_best_match_and_its_doubts() -> None:
    [line] = waiting_lines([waiting(LEFT)])
    assert line.match == "HT-01, Final drive, left (50 %)"
    assert line.why == "the side is not printed; 2 boxes fit about as well"
    assert line.key == (1, b"i", 4)


def test_that_a_row_that_fits_nothing_says_what_to_do() -> None:
    [line] = waiting_lines([waiting()])
    assert line.match == "none"
    assert "choose the compartment yourself, or leave it out" in line.why


def test_that_the_sentences_count_what_was_done_and_what_waits() -> None:
    assert waiting_sentence(0).startswith("No past result waits.")
    assert waiting_sentence(1) == "1 past result waits until you say whose it is."
    assert waiting_sentence(3) == "3 past results wait until you say whose they are."
    assert taken_sentence(PastTaken(taken_in=2, waiting=1)) == (
        "2 past results taken in, 1 to confirm; none of them counts in compliance."
    )
