"""What the programme is measured by, whole fleet in few statements: samples, states, hand-overs."""

from typing import Any, Final

from fluiddesk.storage.session import Session

ROUTINE_COLUMNS: Final = ("compartment_id", "sample_id", "taken_on", "true_hours", "state", "trust",
                          "taken_by", "bottle_code")  # fmt: skip
STATE_COLUMNS: Final = ("machine_id", "state", "since")
HOURS_COLUMNS: Final = ("machine_id", "read_on", "true_hours")
STEP_COLUMNS: Final = ("site_id", "bottle_code", "step", "at", "known_by", "shipment_id")

_ROUTINE: Final = (
    "SELECT compartment_id, id, taken_on, true_hours, state, trust, taken_by, bottle_code "
    "FROM sample WHERE reason = 'routine' AND origin = 'plan' AND taken_on IS NOT NULL "
    "AND state NOT IN ('void', 'not_taken')"
)
_STATES: Final = (
    "SELECT machine_id, state, since FROM machine_state_history "
    "ORDER BY site_id, machine_id, since, id"
)
_HOURS: Final = (
    "SELECT machine_id, read_on, true_hours FROM meter_reading WHERE voided_reason IS NULL "
    "ORDER BY site_id, machine_id, read_on, true_hours"
)
_STEPS: Final = (
    "SELECT site_id, bottle_code, step, at, known_by, shipment_id FROM custody_step "
    "WHERE voided_reason IS NULL ORDER BY site_id, bottle_code, at, id"
)


class ProgrammeQuery:
    """Reads plain rows of the whole fleet; days and moments are text on SQLite."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def routine_samples(self) -> list[tuple[Any, ...]]:
        """Routine samples of the plan that were drawn, in no order: a sort would cost most."""
        return self._session.rows(_ROUTINE)

    def machine_states(self) -> list[tuple[Any, ...]]:
        """Every change of state of every machine, by machine and day."""
        return self._session.rows(_STATES)

    def meter_hours(self) -> list[tuple[Any, ...]]:
        """True hours at every meter reading, by machine and day."""
        return self._session.rows(_HOURS)

    def custody_steps(self) -> list[tuple[Any, ...]]:
        """Every hand-over of every bottle, by bottle and moment."""
        return self._session.rows(_STEPS)
