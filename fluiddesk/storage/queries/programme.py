"""What the programme is measured by, whole fleet in few statements: samples, states, hand-overs."""

from collections.abc import Mapping
from datetime import date
from typing import Any, Final

from sqlalchemy import func, or_, select

from fluiddesk.storage.queries.drawn import (
    DrawnColumns,
    ReadingColumns,
    drawn_samples,
    meter_hours,
)
from fluiddesk.storage.session import Session
from fluiddesk.storage.tables.fleet import ComponentFitRow, MachineStateRow
from fluiddesk.storage.tables.programme import SpecialIntervalRow

STATE_COLUMNS: Final = ("machine_id", "state", "since")
ANSWER_COLUMNS: Final = ("site_id", "laboratory_code", "compartment_id", "taken_on", "received_on",
                         "issued_on", "saved_at")  # fmt: skip
STEP_COLUMNS: Final = ("site_id", "bottle_code", "step", "at", "known_by", "shipment_id")

_STATES: Final = (
    "SELECT machine_id, state, since FROM machine_state_history "
    "ORDER BY site_id, machine_id, since, id"
)
_STEPS: Final = (
    "SELECT site_id, bottle_code, step, at, known_by, shipment_id FROM custody_step "
    "WHERE voided_reason IS NULL ORDER BY site_id, bottle_code, at, id"
)

_ANSWERS: Final = (
    "SELECT r.site_id, r.laboratory_code, s.compartment_id, s.taken_on, r.received_on, "
    "r.issued_on, CASE WHEN r.intake_id IS NULL THEN NULL ELSE r.created_at END "
    "FROM result_sheet r JOIN sample s ON s.site_id = r.site_id AND s.id = r.sample_id "
    "WHERE r.issue = 1 AND r.voided_reason IS NULL AND r.issued_on >= '{since}' "
    "AND s.taken_on IS NOT NULL AND s.origin <> 'past'"
)
_AWAY: Final = (
    "SELECT s.compartment_id, s.bottle_code, s.taken_on, t.at, coalesce(h.laboratory_code, '') "
    "FROM sample s LEFT JOIN custody_step t ON t.site_id = s.site_id "
    "AND t.bottle_code = s.bottle_code AND t.step = 'shipped' AND t.voided_reason IS NULL "
    "LEFT JOIN shipment h ON h.site_id = t.site_id AND h.id = t.shipment_id "
    "WHERE s.site_id IN (SELECT site_id FROM site) AND s.state IN ('shipped', 'received') "
    "AND s.bottle_code <> '' AND s.taken_on IS NOT NULL"
)
_WAYS: Final = (
    "SELECT coalesce(h.laboratory_code, ''), t.at, r.issued_on FROM custody_step t "
    "JOIN sample s ON s.site_id = t.site_id AND s.bottle_code = t.bottle_code "
    "JOIN result_sheet r ON r.site_id = s.site_id AND r.sample_id = s.id AND r.is_current "
    "LEFT JOIN shipment h ON h.site_id = t.site_id AND h.id = t.shipment_id "
    "WHERE t.site_id IN (SELECT site_id FROM site) AND t.step = 'shipped' AND t.at >= '{since}' "
    "AND t.voided_reason IS NULL AND r.issued_on IS NOT NULL AND s.bottle_code <> ''"
)
_FITS: Final = (
    "SELECT compartment_id, max(fitted_at_hours) FROM component_fit "
    "WHERE fitted_at_hours IS NOT NULL GROUP BY compartment_id"
)


class ProgrammeQuery:
    """Reads plain rows of the whole fleet; days and moments are text on SQLite."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def drawn_samples(self, boxes: Mapping[bytes, int]) -> DrawnColumns:
        """Every sample that was drawn of some boxes, by the place each is to have."""
        return drawn_samples(self._session, boxes)

    def machine_states(self, machine: bytes | None = None) -> list[tuple[Any, ...]]:
        """Every change of state of every machine (or of one), by machine and day."""
        if machine is None:
            return self._session.rows(_STATES)
        row = MachineStateRow
        wanted = (
            select(row.machine_id, row.state, row.since)
            .where(self._session.any_site(row.site_id), row.machine_id == machine)
            .order_by(row.since, row.id)
        )
        return [tuple(found) for found in self._session.connection.execute(wanted)]

    def meter_hours(self, machines: Mapping[bytes, int]) -> ReadingColumns:
        """True hours at every meter reading of some machines, by the place each is to have."""
        return meter_hours(self._session, machines)

    def custody_steps(self) -> list[tuple[Any, ...]]:
        """Every hand-over of every bottle, by bottle and moment."""
        return self._session.rows(_STEPS)

    def away(self, compartment: bytes | None = None) -> list[tuple[Any, ...]]:
        """Bottles on their way or at the laboratory, of every box or of one.

        Compartment, code, day drawn, moment shipped (``None`` if unknown), laboratory ("" too).
        """
        found = self._session.rows(_AWAY)
        if compartment is None:
            return [(bytes(one[0]), *one[1:]) for one in found]
        return [(bytes(one[0]), *one[1:]) for one in found if bytes(one[0]) == compartment]

    def ways(self, since: date) -> list[tuple[Any, ...]]:
        """Laboratory, moment shipped, day of the report of each bottle shipped since a day."""
        return self._session.rows(_WAYS.format(since=since.isoformat()))

    def answers(self, since: date) -> list[tuple[Any, ...]]:
        """The first report of each sample of ours that was issued on a day or later, in no order.

        ``saved_at`` is ``None`` for a report that came by no intake: nobody waited for it here.
        """
        return self._session.rows(_ANSWERS.format(since=since.isoformat()))

    def newest_fits(self, compartment: bytes | None = None) -> dict[bytes, float]:
        """By compartment (or of one), the machine's hours when its newest component was fitted."""
        if compartment is None:
            found = self._session.rows(_FITS)
            return {bytes(key): float(hours) for key, hours in found}
        row = ComponentFitRow
        wanted = select(func.max(row.fitted_at_hours)).where(
            self._session.any_site(row.site_id), row.compartment_id == compartment
        )
        hours = self._session.connection.execute(wanted).scalar()
        return {} if hours is None else {compartment: float(hours)}

    def special_intervals(self, day: date) -> list[Mapping[str, Any]]:
        """The special intervals that hold on a day."""
        row = SpecialIntervalRow
        wanted = select(row.__table__).where(
            row.valid_from <= day, or_(row.ended_on.is_(None), row.ended_on > day)
        )
        return [dict(found) for found in self._session.connection.execute(wanted).mappings()]
