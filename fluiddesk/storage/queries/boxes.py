"""What of each compartment decides its limits, in one statement."""

from collections.abc import Collection
from typing import Any, Final

from sqlalchemy import and_, select

from fluiddesk.storage.session import Session
from fluiddesk.storage.tables.catalogue import FluidRow
from fluiddesk.storage.tables.derived import CurrentConditionRow
from fluiddesk.storage.tables.fleet import CompartmentRow, MachineRow, SiteRow

BOX_COLUMNS: Final[tuple[str, ...]] = (
    "site_id", "compartment_id", "site", "machine", "machine_kind", "model", "kind", "position",
    "fluid_class", "severity", "sample_id", "machine_id", "residue_share", "capacity_l",
    "interval_hours", "interval_days", "fluid_code", "test_list",
)  # fmt: skip
"""What stands where in a row.

``severity`` and ``sample_id`` (of the sample the box stands by) are ``None`` before the first one;
``test_list`` is ``None`` where the list of its kind holds.
"""

FEW: Final = 500
"""Up to so many compartments are asked for by name; more are read with the whole fleet."""


class BoxQuery:
    """Reads which kind of box each compartment is."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def rows(self, compartments: Collection[bytes] | None = None) -> list[tuple[Any, ...]]:
        """Every compartment in use, or only some, in the order of ``BOX_COLUMNS``."""
        box, now = CompartmentRow, CurrentConditionRow
        wanted = (
            select(
                box.site_id, box.id, SiteRow.name, MachineRow.code, MachineRow.kind,
                MachineRow.model, box.kind, box.position, FluidRow.fluid_class, now.severity,
                now.sample_id, box.machine_id, box.residue_share, box.capacity_l,
                box.interval_hours, box.interval_days, box.fluid_code, box.test_list_code,
            )
            .join(
                MachineRow,
                and_(MachineRow.site_id == box.site_id, MachineRow.id == box.machine_id),
            )
            .join(SiteRow, SiteRow.site_id == box.site_id)
            .join(FluidRow, FluidRow.code == box.fluid_code)
            .outerjoin(now, and_(now.site_id == box.site_id, now.compartment_id == box.id))
            .where(box.retired.is_(False))
            .order_by(box.site_id, box.id)
        )  # fmt: skip
        if compartments is not None and len(compartments) <= FEW:
            wanted = wanted.where(
                self._session.any_site(box.site_id), box.id.in_(list(compartments))
            )
        found = self._session.connection.execute(wanted).all()
        if compartments is None or len(compartments) <= FEW:
            return [tuple(row) for row in found]
        chosen = set(compartments)
        return [tuple(row) for row in found if row[1] in chosen]
