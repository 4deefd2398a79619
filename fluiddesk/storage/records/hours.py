"""Meter readings and samples by the hours they were taken at, for working those out anew."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from sqlalchemy import bindparam, select, update

from fluiddesk.domain.identity import MachineId, SiteId
from fluiddesk.storage.session import Session
from fluiddesk.storage.tables.derived import MachineUsageRow
from fluiddesk.storage.tables.fleet import CompartmentRow, MeterReadingRow
from fluiddesk.storage.tables.sampling import SampleRow

_SINCE: Final = (
    "SELECT machine_id, read_on, true_hours FROM meter_reading WHERE voided_reason IS NULL "
    "AND true_hours IS NOT NULL AND read_on >= '{since}' "
    "ORDER BY site_id, machine_id, read_on, true_hours"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class HoursRecord:
    """A meter value on a day and the true hours kept for it; ``value`` may be unknown.

    ``compartment`` and ``fluid_hours`` are a sample's; a reading has neither.
    """

    site: SiteId
    id: bytes
    on: date
    value: float | None
    true_hours: float | None
    compartment: bytes = b""
    fluid_hours: float | None = None


class HoursRecords:
    """Reads what meters showed and writes the hours that follow."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def readings(self, machine: MachineId) -> list[HoursRecord]:
        """A machine's meter readings that are not voided, by day and in the order made."""
        row = MeterReadingRow
        wanted = (
            select(row.site_id, row.id, row.read_on, row.value, row.true_hours)
            .where(
                self._session.any_site(row.site_id),
                row.machine_id == machine,
                row.voided_reason.is_(None),
            )
            .order_by(row.read_on, row.id)
        )
        return [
            HoursRecord(
                site=SiteId(one.site_id),
                id=one.id,
                on=one.read_on,
                value=one.value,
                true_hours=one.true_hours,
            )
            for one in self._session.connection.execute(wanted)
        ]

    def readings_since(self, since: date) -> list[tuple[bytes, date | str, float]]:
        """Machine, day and true hours of all readings from a day on; by machine and by day.

        Days are text on SQLite.
        """
        return self._session.rows(_SINCE.format(since=since.isoformat()))

    def samples(self, machine: MachineId, *, since: date) -> list[HoursRecord]:
        """The samples of a machine with a meter value, taken on a day or later."""
        row, box = SampleRow, CompartmentRow
        wanted = (
            select(
                row.site_id, row.id, row.taken_on, row.meter_value, row.true_hours,
                row.compartment_id, row.fluid_hours,
            )
            .join(box, (box.site_id == row.site_id) & (box.id == row.compartment_id))
            .where(
                self._session.any_site(box.site_id),
                box.machine_id == machine,
                row.meter_value.is_not(None),
                row.taken_on >= since,
            )
            .order_by(row.taken_on, row.id)
        )  # fmt: skip
        return [
            HoursRecord(
                site=SiteId(one.site_id),
                id=one.id,
                on=one.taken_on,
                value=one.meter_value,
                true_hours=one.true_hours,
                compartment=one.compartment_id,
                fluid_hours=one.fluid_hours,
            )
            for one in self._session.connection.execute(wanted)
        ]

    def set_reading_hours(self, hours: Iterable[tuple[HoursRecord, float]]) -> None:
        """Write the true hours of readings."""
        rows = [{"site": one.site, "key": one.id, "hours": age} for one, age in hours]
        self._update(MeterReadingRow, {"true_hours": bindparam("hours")}, rows)

    def set_sample_hours(self, hours: Iterable[tuple[HoursRecord, float, float | None]]) -> None:
        """Write the true hours and the fluid hours of samples."""
        rows = [
            {"site": one.site, "key": one.id, "hours": age, "fluid": fluid}
            for one, age, fluid in hours
        ]
        values: dict[str, Any] = {
            "true_hours": bindparam("hours"),
            "fluid_hours": bindparam("fluid"),
        }
        self._update(SampleRow, values, rows)

    def forget_usage(self, site: SiteId, machine: MachineId) -> None:
        """Take away what is known of how much a machine runs: no reading is left."""
        row = MachineUsageRow
        table = row.metadata.tables["machine_usage"]
        self._session.connection.execute(
            table.delete().where(row.site_id == site, row.machine_id == machine)
        )

    def _update(self, row: Any, values: dict[str, Any], rows: Sequence[dict[str, Any]]) -> None:
        if rows:
            statement = (
                update(row.metadata.tables[row.__tablename__])
                .where(row.site_id == bindparam("site"), row.id == bindparam("key"))
                .values(**values)
            )
            self._session.connection.execute(statement, list(rows))
