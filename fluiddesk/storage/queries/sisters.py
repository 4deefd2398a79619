"""Boxes of one kind on machines of one kind, for comparing a box with its like."""

from collections.abc import Collection
from typing import Any, Final

from sqlalchemy import and_, func, select

from fluiddesk.domain.fleet import Certainty, EventKind
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.storage.session import Session
from fluiddesk.storage.tables.catalogue import FluidRow
from fluiddesk.storage.tables.fleet import CompartmentEventRow, CompartmentRow, MachineRow
from fluiddesk.storage.tables.judgement import AssessmentRow
from fluiddesk.storage.tables.sampling import ResultSheetRow

SISTER_COLUMNS: Final[tuple[str, ...]] = (
    "compartment_id", "machine_id", "model", "position", "fluid_class", "fluid_code", "capacity_l",
    "residue_share",
)  # fmt: skip
"""What stands where in a row of ``SisterQuery.boxes``."""


class SisterQuery:
    """Reads which boxes are like one another."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def boxes(self, *, machine_kind: str, kind: str) -> list[tuple[Any, ...]]:
        """The boxes in use of one kind on one kind of machine, in the order of SISTER_COLUMNS."""
        box, machine = CompartmentRow, MachineRow
        wanted = (
            select(
                box.id, box.machine_id, machine.model, box.position, FluidRow.fluid_class,
                box.fluid_code, box.capacity_l, box.residue_share,
            )
            .join(machine, and_(machine.site_id == box.site_id, machine.id == box.machine_id))
            .join(FluidRow, FluidRow.code == box.fluid_code)
            .where(machine.kind == machine_kind, box.kind == kind, box.retired.is_(False))
            .order_by(box.site_id, box.id)
        )  # fmt: skip
        return [tuple(one) for one in self._session.connection.execute(wanted)]

    def topped_up(self, compartments: Collection[CompartmentId]) -> dict[CompartmentId, float]:
        """Litres ever topped up in each of some boxes, as far as they were recorded."""
        row = CompartmentEventRow
        wanted = (
            select(row.compartment_id, func.sum(row.litres))
            .where(
                self._session.any_site(row.site_id),
                row.compartment_id.in_(list(compartments)),
                row.kind == EventKind.TOP_UP.value,
                row.certainty != Certainty.DENIED.value,
                row.superseded_by.is_(None),
            )
            .group_by(row.compartment_id)
        )
        found = self._session.connection.execute(wanted)
        return {CompartmentId(key): float(litres or 0.0) for key, litres in found}

    def stamp(self, sites: Collection[int]) -> tuple[Any, ...]:
        """Changes whenever a sheet, an event or an assessment was added at one of some sites."""
        # The newest by its identifier, which begins with the moment; not max(), which knows no
        # bytes on some servers.
        newest = [
            select(table.id)
            .where(table.site_id == site)
            .order_by(table.site_id.desc(), table.id.desc())
            .limit(1)
            .scalar_subquery()
            for site in sorted(sites)
            for table in (ResultSheetRow, CompartmentEventRow, AssessmentRow)
        ]
        return tuple(self._session.connection.execute(select(*newest)).one()) if newest else ()
