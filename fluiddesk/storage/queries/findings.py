"""What people found when they looked, with the compartment and the sample that made them look."""

from datetime import date
from typing import NamedTuple

from sqlalchemy import and_, select

from fluiddesk.domain.identity import CompartmentId
from fluiddesk.storage.session import Session
from fluiddesk.storage.tables.fleet import SiteRow
from fluiddesk.storage.tables.judgement import ActionRow, FindingRow


class FindingLine(NamedTuple):
    """One finding; ``sample_id`` is ``None`` where no sample led to the action."""

    compartment_id: CompartmentId
    sample_id: bytes | None
    result: str
    found_on: date


class FoundRow(NamedTuple):
    """One finding of a box; ``sample_id`` is ``None`` where no sample led to the action."""

    found_on: date
    result: str
    part: str
    note: str
    sample_id: bytes | None


class FindingQuery:
    """Reads findings joined to their actions."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def lines(self) -> list[FindingLine]:
        """Every finding of every site, oldest first."""
        wanted = (
            select(
                ActionRow.compartment_id,
                ActionRow.sample_id,
                FindingRow.result,
                FindingRow.found_on,
            )
            .join(
                ActionRow,
                and_(ActionRow.site_id == FindingRow.site_id, ActionRow.id == FindingRow.action_id),
            )
            .where(FindingRow.site_id.in_(select(SiteRow.site_id)))
            .order_by(FindingRow.found_on, FindingRow.id)
        )
        return [
            FindingLine(CompartmentId(row[0]), row[1], row[2], row[3])
            for row in self._session.connection.execute(wanted)
        ]

    def of(self, compartment: CompartmentId) -> list[FoundRow]:
        """One compartment's findings, oldest first."""
        row, action = FindingRow, ActionRow
        wanted = (
            select(row.found_on, row.result, row.part, row.note, action.sample_id)
            .join(action, and_(action.site_id == row.site_id, action.id == row.action_id))
            .where(self._session.any_site(action.site_id), action.compartment_id == compartment)
            .order_by(row.found_on, row.id)
        )
        return [FoundRow._make(one) for one in self._session.connection.execute(wanted)]
