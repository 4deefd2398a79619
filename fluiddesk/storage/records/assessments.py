"""Assessments: a new one supersedes the older of its sample; none is ever changed."""

from collections.abc import Sequence
from typing import Any, Final

from sqlalchemy import Row, and_, select

from fluiddesk.domain.identity import CompartmentId, SampleId, SiteId
from fluiddesk.storage.records.rows import AssessmentRecord
from fluiddesk.storage.session import Session
from fluiddesk.storage.tables.judgement import AssessmentRow
from fluiddesk.storage.tables.sampling import SampleRow

_ASSESSMENT: Final = (
    "site_id", "id", "sample_id", "made_at", "limit_set_number", "program_version", "severity",
    "trust", "reasons", "inputs_digest", "superseded_by",
)  # fmt: skip


class AssessmentRecords:
    """Reads and adds assessments."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def add_many(self, records: Sequence[AssessmentRecord]) -> list[bytes]:
        """Add assessments, each in place of the one in force of its sample.

        Returns their identifiers, in the order given. At most one for each sample.
        """
        session = self._session
        fresh = session.new_ids(len(records))
        made = [one.id or key for one, key in zip(records, fresh, strict=True)]
        place = "?" if session.is_sqlite else "%s"
        statement = (
            f"UPDATE assessment SET superseded_by = {place} "  # noqa: S608  # a fixed text
            f"WHERE site_id = {place} AND sample_id = {place} AND superseded_by IS NULL"
        )
        older = [(key, one.site, one.sample) for key, one in zip(made, records, strict=True)]
        session.run_many(statement, older)
        rows = (
            (one.site, key, one.sample, one.made_at or session.moment, one.limit_set,
             one.program_version, int(one.severity), int(one.trust), one.reasons,
             one.inputs_digest, one.superseded_by)
            for key, one in zip(made, records, strict=True)
        )  # fmt: skip
        session.load("assessment", _ASSESSMENT, rows)
        return made

    def in_force(self, sample: SampleId) -> AssessmentRecord | None:
        """The assessment of a sample that none has superseded; ``None`` where there is none."""
        row = AssessmentRow
        wanted = select(row.__table__).where(
            self._session.any_site(row.site_id),
            row.sample_id == sample,
            row.superseded_by.is_(None),
        )
        found = self._session.connection.execute(wanted).first()
        return None if found is None else _assessment(found)

    def of_compartment(self, compartment: CompartmentId) -> list[AssessmentRecord]:
        """Every assessment of a compartment, superseded ones included, by day of the sample."""
        row = AssessmentRow
        wanted = (
            select(row.__table__)
            .join(SampleRow, and_(SampleRow.site_id == row.site_id, SampleRow.id == row.sample_id))
            .where(
                self._session.any_site(SampleRow.site_id), SampleRow.compartment_id == compartment
            )
            .order_by(SampleRow.taken_on, SampleRow.id, row.made_at, row.id)
        )
        return [_assessment(found) for found in self._session.connection.execute(wanted)]


def _assessment(found: Row[*tuple[Any, ...]]) -> AssessmentRecord:
    return AssessmentRecord(
        site=SiteId(found.site_id),
        id=found.id,
        sample=SampleId(found.sample_id),
        severity=found.severity,
        trust=found.trust,
        reasons=found.reasons,
        inputs_digest=found.inputs_digest,
        program_version=found.program_version,
        limit_set=found.limit_set_number,
        made_at=found.made_at,
        superseded_by=found.superseded_by,
    )
