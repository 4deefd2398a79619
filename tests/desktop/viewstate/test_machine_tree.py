"""The machine tree as index arrays."""

import time

from fluiddesk.desktop.viewstate.machine_tree import BOX, MACHINE, SITE, MachineTreeState
from fluiddesk.domain.severity import Severity
from fluiddesk.services.fleet_condition import condition_columns
from tests.desktop.makers_fleet import TODAY, box_row, catalogue, fleet

CATALOGUE = catalogue()
Node = tuple[int, int]


def state_of_two_sites() -> MachineTreeState:
    rows = [
        box_row(site="North", machine="A", machine_id=b"A", compartment_id=b"A1", severity=0),
        box_row(
            site="North",
            machine="A",
            machine_id=b"A",
            compartment_id=b"A2",
            kind="hydraulic",
            severity=2,
        ),
        box_row(site="South", machine="B", machine_id=b"B", compartment_id=b"B1", severity=None),
    ]
    return MachineTreeState(condition_columns(rows, today=TODAY), CATALOGUE)


def all_nodes(state: MachineTreeState, above: Node | None = None) -> list[Node]:
    found = []
    for row in range(state.child_count(above)):
        node = state.child(above, row)
        assert state.parent(node) == above
        assert state.row(node) == row
        found += [node, *all_nodes(state, node)]
    return found


def test_that_sites_hold_machines_and_machines_hold_boxes() -> None:
    state = state_of_two_sites()
    told = [(node[0], state.node(node).text) for node in all_nodes(state)]
    assert told == [
        (SITE, "North"), (MACHINE, "A"), (BOX, "Engine"), (BOX, "Hydraulic system"),
        (SITE, "South"), (MACHINE, "B"), (BOX, "Engine"),
    ]  # fmt: skip


def test_that_a_machine_and_its_site_show_their_worst() -> None:
    state = state_of_two_sites()
    severities = [state.node(node).severity for node in all_nodes(state) if node[0] != BOX]
    assert severities == [Severity.ACT, Severity.ACT, Severity.NO_VERDICT, Severity.NO_VERDICT]


def test_that_the_filter_leaves_only_sites_with_machines_that_meet_it() -> None:
    state = state_of_two_sites()
    state.narrow("south exc")
    assert [state.node(node).text for node in all_nodes(state)] == ["South", "B", "Engine"]
    assert not state.shows((MACHINE, 0))
    state.narrow("nothing like this")
    assert state.child_count(None) == 0


def test_that_rows_and_parents_agree_in_a_narrowed_fleet() -> None:
    state = MachineTreeState(fleet(60), CATALOGUE)
    assert len([node for node in all_nodes(state) if node[0] == BOX]) == len(state.condition)
    state.narrow("dozer")
    machines = [node for node in all_nodes(state) if node[0] == MACHINE]
    assert len(machines) == state.machines_shown == 12


def test_that_a_box_is_found_by_its_identifier() -> None:
    state = state_of_two_sites()
    assert state.box_node(b"A2") == (BOX, 1)
    assert state.compartment((BOX, 1)) == b"A2"
    assert state.compartment((MACHINE, 0)) is None
    assert state.box_node(b"none") is None


def test_that_an_empty_fleet_is_an_empty_tree() -> None:
    state = MachineTreeState(condition_columns([], today=TODAY), CATALOGUE)
    state.narrow("x")
    assert state.child_count(None) == 0


def test_that_five_thousand_machines_are_narrowed_to_the_right_ones() -> None:
    facts = fleet(5_000)
    began = time.perf_counter()
    state = MachineTreeState(facts, CATALOGUE)
    made = time.perf_counter()
    state.narrow("loader")
    narrowed = time.perf_counter()
    assert state.machines_shown == 1_000
    # For whoever measures; no time is asserted.
    print(f"tree made {(made - began) * 1e3:.1f} ms, narrowed {(narrowed - made) * 1e3:.1f} ms")  # noqa: T201
