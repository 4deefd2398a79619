"""The traffic view without a screen."""

import time
from datetime import timedelta

import numpy as np
import pytest

from fluiddesk.desktop.viewstate.box_words import position_letters
from fluiddesk.desktop.viewstate.fleet_condition import FleetFilter, FleetMatrix, RowOrder
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.fleet_condition import BoxRow, condition_columns
from tests.desktop.makers_fleet import TODAY, box_row, catalogue, fleet

CATALOGUE = catalogue()


def matrix_of(*rows: BoxRow, last_look: dict[bytes, int] | None = None) -> FleetMatrix:
    return FleetMatrix(condition_columns(rows, today=TODAY), CATALOGUE, last_look=last_look)


def codes(matrix: FleetMatrix) -> list[str]:
    return [matrix.head(row).code for row in range(matrix.shape[0])]


def machine(code: str, *severities: int, **given: object) -> list[BoxRow]:
    kinds = ["engine", "transmission", "hydraulic", "swing_drive"]
    return [
        box_row(
            machine=code,
            machine_id=code.encode(),
            compartment_id=f"{code}-{index}".encode(),
            kind=kinds[index],
            severity=severity,
            **given,
        )
        for index, severity in enumerate(severities)
    ]


def test_that_the_worst_machine_comes_first_then_the_one_with_more_bad_boxes() -> None:
    matrix = matrix_of(
        *machine("A", 0, 1, 0), *machine("B", 2, 0, 0), *machine("C", 2, 2, 0), *machine("D", 3, 0)
    )
    assert codes(matrix) == ["D", "C", "B", "A"]


def test_that_of_equal_machines_the_one_whose_news_is_older_comes_first() -> None:
    matrix = matrix_of(
        *machine("A", 2, taken_on=TODAY - timedelta(days=5)),
        *machine("B", 2, taken_on=TODAY - timedelta(days=30)),
    )
    assert codes(matrix) == ["B", "A"]


def test_that_a_machine_without_any_verdict_comes_last() -> None:
    unknown = box_row(machine="U", machine_id=b"U", compartment_id=b"U", severity=None)
    matrix = matrix_of(unknown, *machine("Z", 0))
    assert codes(matrix) == ["Z", "U"]


def test_that_codes_are_ordered_as_people_count() -> None:
    matrix = matrix_of(*machine("EX-10", 0), *machine("EX-2", 0), *machine("DZ-7", 0))
    matrix.arrange(order=RowOrder.MACHINE)
    assert codes(matrix) == ["DZ-7", "EX-2", "EX-10"]


def test_that_sites_are_kept_together_when_ordered_by_site() -> None:
    matrix = matrix_of(
        *machine("A", 0, site="South"),
        *machine("B", 3, site="North"),
        *machine("C", 0, site="South"),
    )
    matrix.arrange(order=RowOrder.SITE)
    assert codes(matrix) == ["B", "A", "C"]


def test_that_ordering_by_a_column_puts_machines_without_such_a_box_last() -> None:
    matrix = matrix_of(*machine("A", 3), *machine("B", 0, 1), *machine("C", 0, 2))
    matrix.arrange(order=RowOrder.COLUMN, kind="transmission")
    assert codes(matrix) == ["C", "B", "A"]


def test_that_columns_follow_the_power_path_and_unused_ones_are_left_out() -> None:
    matrix = matrix_of(*machine("A", 0, 0, 0, 0), *machine("B", 1))
    shown = [matrix.kind_at(column) for column in range(matrix.shape[1])]
    assert shown == ["engine", "hydraulic", "transmission", "swing_drive"]
    matrix.arrange(FleetFilter(text="B"))
    assert [matrix.kind_at(column) for column in range(matrix.shape[1])] == ["engine"]


def test_that_a_cell_holds_every_box_of_its_kind_by_position() -> None:
    pair = [
        box_row(kind="final_drive", position=side, compartment_id=side.encode(), severity=severity)
        for side, severity in (("left", 0), ("right", 2))
    ]
    matrix = matrix_of(*pair)
    cell = matrix.cell(0, 0)
    assert [one.letter for one in cell] == ["L", "R"]
    assert [one.severity for one in cell] == [Severity.NORMAL, Severity.ACT]
    assert matrix.most_boxes(0) == 2


def test_that_a_machine_without_a_box_of_the_kind_has_an_empty_cell() -> None:
    matrix = matrix_of(*machine("A", 3, 0), *machine("B", 0))
    assert matrix.cell(1, 1) == ()
    assert matrix.plain_cell(1, 1) == ""


@pytest.mark.parametrize(
    ("chosen", "left"),
    [
        (FleetFilter(text="ex-2"), ["EX-2"]),
        (FleetFilter(text="excavator north"), ["EX-1"]),
        (FleetFilter(site="South"), ["EX-2", "DZ-1"]),
        (FleetFilter(machine_kind="dozer"), ["DZ-1"]),
        (FleetFilter(severities=frozenset({Severity.WATCH})), ["EX-2"]),
        (FleetFilter(severities=frozenset({Severity.WATCH, Severity.URGENT})), ["EX-1", "EX-2"]),
        (FleetFilter(only_overdue=True), ["DZ-1"]),
        (FleetFilter(only_moved=True), ["EX-2"]),
        (FleetFilter(site="South", severities=frozenset({Severity.URGENT})), []),
    ],
)
def test_that_a_filter_leaves_the_machines_that_meet_it(
    chosen: FleetFilter, left: list[str]
) -> None:
    long_ago = TODAY - timedelta(days=500)
    matrix = matrix_of(
        *machine("EX-1", 3, 0, site="North", previous_severity=None),
        *machine("EX-2", 1, site="South", previous_severity=0),
        *machine("DZ-1", 0, site="South", machine_kind="dozer", taken_on=long_ago),
    )
    matrix.arrange(chosen)
    assert codes(matrix) == left


def test_that_a_box_condition_must_be_met_by_one_and_the_same_box() -> None:
    late = TODAY - timedelta(days=500)
    matrix = matrix_of(
        box_row(compartment_id=b"1", severity=3),
        box_row(compartment_id=b"2", kind="hydraulic", taken_on=late),
    )
    matrix.arrange(FleetFilter(only_overdue=True, severities=frozenset({Severity.URGENT})))
    assert matrix.shape == (0, 0)


def test_that_moved_means_since_the_last_look_where_there_was_one() -> None:
    rows = [*machine("A", 2, previous_severity=2), *machine("B", 1, previous_severity=0)]
    seen = {b"A-0": 1, b"B-0": 1}
    matrix = matrix_of(*rows, last_look=seen)
    matrix.arrange(FleetFilter(only_moved=True))
    assert codes(matrix) == ["A"]


def test_that_a_box_new_since_the_last_look_has_not_moved() -> None:
    matrix = matrix_of(*machine("A", 2), last_look={})
    assert not matrix.is_moved.any()


def test_that_the_sentence_tells_verdict_reason_last_sample_and_due() -> None:
    matrix = matrix_of(
        box_row(severity=2, trust=1, headline="Iron 112 mg/kg, limit 100", interval_hours=None)
    )
    told = matrix.sentence(0)
    assert told.startswith("EX-01, Engine: Act (suspect sample). Iron 112 mg/kg, limit 100.")
    assert "Sampled 2026-11-10, 10 days ago at 4000 h." in told
    # 180 days after 2026-11-10.
    assert told.endswith("Next due 2027-05-09.")


def test_that_a_box_never_sampled_says_so() -> None:
    matrix = matrix_of(box_row(taken_on=None, severity=None, true_hours=None))
    assert matrix.sentence(0) == "EX-01, Engine: No verdict. Never sampled."
    assert matrix.cell(0, 0)[0].age_text == "never"


def test_that_an_overdue_box_tells_since_when() -> None:
    late = TODAY - timedelta(days=210)
    matrix = matrix_of(box_row(taken_on=late, interval_hours=None))
    assert matrix.cell(0, 0)[0].is_overdue
    assert matrix.sentence(0).endswith("Next was due 2026-10-21, 30 days ago.")


def test_that_copied_cells_are_tab_separated_with_a_header_when_asked() -> None:
    matrix = matrix_of(*machine("A", 2, 0))
    assert matrix.tsv([0], [0, 1], with_header=True).split("\n") == [
        "Site\tMachine\tKind\tEngine\tPowershift transmission",
        "North pit\tA\tExcavator\tAct 10 d\tNormal 10 d",
    ]


def test_that_a_box_is_found_again_wherever_the_order_puts_it() -> None:
    matrix = FleetMatrix(fleet(40), CATALOGUE)
    for order in (RowOrder.WORST, RowOrder.MACHINE, RowOrder.SITE):
        matrix.arrange(order=order)
        for box in (0, 17, len(matrix.condition) - 1):
            spot = next(
                matrix.spot(row, column, number)
                for row in range(matrix.shape[0])
                for column in range(matrix.shape[1])
                for number, found in enumerate(matrix.boxes(row, column).tolist())
                if found == box
            )
            matrix.arrange(order=RowOrder.MACHINE)
            place = matrix.place_of_spot(spot)
            assert place is not None
            row, column, number = place
            assert int(matrix.boxes(row, column)[number]) == box
            matrix.arrange(order=order)


def test_that_a_machine_that_needs_a_decision_names_its_worst_box() -> None:
    head = matrix_of(*machine("A", 2, 3)).head(0)
    assert (head.worst, head.others) == ("Powershift transmission", 1)
    calm = matrix_of(*machine("A", 1, 0)).head(0)
    assert (calm.worst, calm.others) == ("", 0)


def test_that_no_box_is_lost_or_shown_twice() -> None:
    matrix = FleetMatrix(fleet(60), CATALOGUE)
    rows, columns = matrix.shape
    shown = [
        one.box
        for row in range(rows)
        for column in range(columns)
        for one in matrix.cell(row, column)
    ]
    assert sorted(shown) == list(range(len(matrix.condition)))


def test_that_counts_add_up_to_all_boxes() -> None:
    matrix = FleetMatrix(fleet(60), CATALOGUE)
    assert sum(matrix.counts().values()) == len(matrix.condition)


def test_that_an_empty_fleet_has_no_cells_and_takes_any_filter() -> None:
    matrix = matrix_of()
    matrix.arrange(FleetFilter(text="x", only_overdue=True), order=RowOrder.SITE)
    assert matrix.shape == (0, 0)
    assert matrix.condition.sentence.startswith("No machines yet.")


def test_that_trust_is_told_apart_from_severity() -> None:
    matrix = matrix_of(box_row(trust=1))
    cell = matrix.cell(0, 0)[0]
    assert (cell.severity, cell.trust) == (Severity.NORMAL, Trust.SUSPECT)
    assert matrix.plain_cell(0, 0) == "Normal suspect 10 d"


@pytest.mark.parametrize(
    ("position", "letters"),
    [("left", "L"), ("rear", "B"), ("centre_right", "CR"), ("", ""), ("upper", "U")],
)
def test_that_positions_are_shortened_to_letters(position: str, letters: str) -> None:
    assert position_letters(position) == letters


def test_that_five_thousand_machines_keep_every_row_through_sort_and_filter() -> None:
    began = time.perf_counter()
    matrix = FleetMatrix(fleet(5_000), CATALOGUE)
    made = time.perf_counter()
    matrix.arrange(order=RowOrder.SITE)
    assert np.array_equal(np.sort(matrix.machines), np.arange(5_000))
    sorted_at = time.perf_counter()
    matrix.arrange(FleetFilter(text="excavator pit", severities=frozenset({Severity.ACT})))
    filtered = time.perf_counter()
    assert 0 < matrix.shape[0] < 1_000
    print(  # noqa: T201 - for whoever measures; no time is asserted
        f"{len(matrix.condition)} boxes: made with the fleet {made - began:.2f} s, "
        f"sort {(sorted_at - made) * 1e3:.1f} ms, filter {(filtered - sorted_at) * 1e3:.1f} ms"
    )
