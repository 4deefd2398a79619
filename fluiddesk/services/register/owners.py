"""Which records a machine's record goes on from, at the sites that owned it before."""

from fluiddesk.domain.identity import CompartmentId, MachineId
from fluiddesk.storage import Desk, RecordKind


def earlier_machines(desk: Desk, machine: MachineId) -> list[MachineId]:
    """The records that a machine's own goes on from, oldest first."""
    came_from = {
        row["to_machine_id"]: MachineId(row["machine_id"])
        for row in desk.register.all(RecordKind.TRANSFER)
    }
    chain: list[MachineId] = []
    while machine in came_from:
        machine = came_from[machine]
        chain.insert(0, machine)
    return chain


def earlier_boxes(desk: Desk, compartment: CompartmentId) -> tuple[CompartmentId, ...]:
    """The records of the same box at sites that owned the machine before, oldest first."""
    box = desk.fleet.compartment(compartment)
    return tuple(
        CompartmentId(row["id"])
        for machine in earlier_machines(desk, box.machine)
        for row in desk.register.all(RecordKind.COMPARTMENT, machine_id=machine)
        if (row["kind"], row["position"]) == (box.kind, box.position)
    )
