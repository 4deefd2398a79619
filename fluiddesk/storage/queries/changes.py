"""Planned fluid changes, and when the fluid was last changed; whole fleet in one statement."""

from collections.abc import Collection, Iterable, Mapping
from datetime import date
from typing import Any, NamedTuple

from sqlalchemy import and_, or_, select

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
            .outerjoin(
                event,
                and_(
                    event.site_id == box.site_id,
                    event.compartment_id == box.id,
                    event.kind == EventKind.FLUID_CHANGE.value,
                    event.certainty != Certainty.DENIED.value,
                    event.superseded_by.is_(None),
                    event.happened_on <= until,
                ),
            )
            .where(or_(has_interval, box.id.in_(list(also))) if also else has_interval)
            .order_by(box.site_id, box.id, event.happened_on, event.id)
        )  # fmt: skip
        if compartment is not None:
            wanted = wanted.where(self._session.any_site(box.site_id), box.id == compartment)
        return _newest(self._session.connection.execute(wanted))


def _newest(rows: Iterable[Any]) -> dict[bytes, ChangePlanRow]:
    """The last change of each box: rows come by day, and the later hours of a day count."""
    found: dict[bytes, ChangePlanRow] = {}
    for row in rows:
        key, one = bytes(row[0]), ChangePlanRow(*row[1:])
        before = found.get(key)
        is_same_day = before is not None and before.changed_on == one.changed_on
        if is_same_day and before and (before.changed_at_hours or 0) > (one.changed_at_hours or 0):
            continue
        found[key] = one
    return found
