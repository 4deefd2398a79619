"""Planned fluid changes, and when the fluid was last changed; whole fleet in one statement."""

from collections.abc import Collection, Mapping
from datetime import date
from typing import NamedTuple

from sqlalchemy import ScalarSelect, and_, func, or_, select

from fluiddesk.domain.fleet import Certainty, EventKind
from fluiddesk.storage.session import Session
from fluiddesk.storage.tables.fleet import CompartmentEventRow, CompartmentRow


class ChangePlanRow(NamedTuple):
    """A box's change intervals and its last change; ``None`` where unknown."""

    every_hours: float | None
    every_days: int | None
    changed_on: date | None
    changed_at_hours: float | None


class ChangeQuery:
    """Reads which boxes have their fluid changed by plan."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def planned(
        self, *, until: date, compartment: bytes | None = None, also: Collection[bytes] = ()
    ) -> Mapping[bytes, ChangePlanRow]:
        """Boxes with a change interval, by identifier, with their last change.

        Args:
            until: later changes are left out.
            compartment: only this box, where given.
            also: boxes to tell of that may have no change interval.
        """
        box, event = CompartmentRow, CompartmentEventRow
        has_interval = or_(
            box.change_interval_hours.is_not(None), box.change_interval_days.is_not(None)
        )
        wanted = (
            select(
                box.id, box.change_interval_hours, box.change_interval_days,
                event.happened_on, event.true_hours,
            )
            .select_from(box.__table__)
            .outerjoin(event, and_(event.site_id == box.site_id, event.id == _last(until)))
            .where(or_(has_interval, box.id.in_(list(also))) if also else has_interval)
        )  # fmt: skip
        if compartment is not None:
            wanted = wanted.where(self._session.any_site(box.site_id), box.id == compartment)
        found = self._session.connection.execute(wanted)
        return {bytes(row[0]): ChangePlanRow(*row[1:]) for row in found}


def _last(until: date) -> ScalarSelect[bytes]:
    """The last change of a box in force; of two on one day the one at more hours.

    Asked box by box, by the index of events: an age of changes is not read for its last one.
    """
    box, event = CompartmentRow, CompartmentEventRow.__table__.alias().c
    return (
        select(event.id)
        .where(
            event.site_id == box.site_id,
            event.compartment_id == box.id,
            event.kind == EventKind.FLUID_CHANGE.value,
            event.certainty != Certainty.DENIED.value,
            event.superseded_by.is_(None),
            event.happened_on <= until,
        )
        .order_by(
            event.happened_on.desc(), func.coalesce(event.true_hours, -1.0).desc(), event.id.desc()
        )
        .limit(1)
        .correlate(box.__table__)
        .scalar_subquery()
    )
