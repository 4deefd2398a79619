"""Reports being keyed, answered warnings, layouts made at the desk, and questions about events."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Final

from sqlalchemy import Row, and_, insert, select, update

from fluiddesk.domain.errors import NotFoundError
from fluiddesk.domain.identity import CompartmentId, SampleId, SiteId
from fluiddesk.storage.records.audit import NO_SITE, AuditRecords
from fluiddesk.storage.session import Session, canonical_json
from fluiddesk.storage.tables.catalogue import SavedLayoutRow
from fluiddesk.storage.tables.keying import AnsweredWarningRow, EventQuestionRow, KeyDraftRow
from fluiddesk.storage.tables.sampling import ReadingRow, ResultSheetRow, SampleRow

_LIVE: Final = ("open", "parked")
_WARNING: Final = (
    "site_id", "id", "sheet_id", "draft_id", "analyte", "kind", "told", "answer", "old_text",
    "new_text",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyDraftRecord:
    """A report that is being keyed; ``cells`` and ``second`` are what the caller put in."""

    site: SiteId
    id: bytes
    bottle_code: str
    sample: SampleId | None
    laboratory: str
    report_number: str = ""
    issue: int = 1
    state: str = "open"
    cells: Mapping[str, Any] = field(default_factory=dict)
    second: Mapping[str, str] = field(default_factory=dict)
    second_by: str = ""
    note: str = ""
    version: int = 1
    begun_by: str = ""
    changed_at: datetime | None = None
    changed_by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class AnsweredWarningRecord:
    """What was said of a keyed value, and the answer."""

    site: SiteId
    draft: bytes | None
    analyte: str
    kind: str
    told: str
    answer: str
    old_text: str = ""
    new_text: str = ""
    sheet: bytes | None = None
    made_at: datetime | None = None
    made_by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SavedLayoutRecord:
    """A layout made at this desk, as our own TOML."""

    code: str
    name: str
    laboratory: str | None
    document: str
    retired: bool = False
    version: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class EventQuestionRecord:
    """A question to the clerk about a fluid change nobody recorded; ``told`` is a mapping."""

    site: SiteId
    id: bytes
    compartment: CompartmentId
    sample: SampleId
    told: Mapping[str, Any]
    answer: str = ""
    event: bytes | None = None


class KeyingRecords:
    """Reads and changes what belongs to the clerk's desk."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._audit = AuditRecords(session)

    def live_drafts(self, bottle_code: str | None = None) -> list[KeyDraftRecord]:
        """Drafts that are open or parked, newest change first."""
        row = KeyDraftRow
        wanted = select(row.__table__).where(row.state.in_(_LIVE))
        if bottle_code is not None:
            wanted = wanted.where(
                self._session.any_site(row.site_id), row.bottle_code == bottle_code
            )
        ordered = wanted.order_by(row.changed_at.desc(), row.created_at.desc(), row.id)
        return [_draft(found) for found in self._session.connection.execute(ordered)]

    def draft(self, draft: bytes) -> KeyDraftRecord:
        """One draft.

        Raises:
            NotFoundError: when there is none.
        """
        row = KeyDraftRow
        wanted = select(row.__table__).where(self._session.any_site(row.site_id), row.id == draft)
        found = self._session.connection.execute(wanted).first()
        if found is None:
            raise NotFoundError("This draft is not in the database any more. Begin it anew.")
        return _draft(found)

    def add_draft(self, draft: KeyDraftRecord) -> None:
        """Begin a draft."""
        values = {
            "site_id": draft.site,
            "id": draft.id,
            "bottle_code": draft.bottle_code,
            "sample_id": draft.sample,
            "laboratory_code": draft.laboratory,
            **_told(draft),
        }
        statement = insert(KeyDraftRow).values(**values, **self._session.stamps())
        self._session.connection.execute(statement)

    def keep_draft(self, draft: KeyDraftRecord) -> None:
        """Save a draft as it now stands.

        Raises:
            StaleEditError: when somebody else has saved it since ``version`` was read.
        """
        self._session.edit(
            KeyDraftRow.metadata.tables["key_draft"],
            {"site_id": draft.site, "id": draft.id},
            _told(draft),
            version=draft.version,
            name=f"The draft of bottle {draft.bottle_code}",
        )

    def add_warnings(self, warnings: Iterable[AnsweredWarningRecord]) -> None:
        """Keep answers to warnings."""
        rows = [
            (one.site, self._session.new_id(), one.sheet, one.draft, one.analyte, one.kind,
             one.told, one.answer, one.old_text, one.new_text)
            for one in warnings
        ]  # fmt: skip
        self._session.load("answered_warning", _WARNING, rows)

    def link_warnings(self, site: SiteId, draft: bytes, sheet: bytes) -> None:
        """The answers of a draft now belong to the sheet that it became."""
        row = AnsweredWarningRow
        self._session.connection.execute(
            update(row).where(row.site_id == site, row.draft_id == draft).values(sheet_id=sheet)
        )

    def warnings_of(
        self, *, draft: bytes | None = None, sheet: bytes | None = None
    ) -> list[AnsweredWarningRecord]:
        """The answers given while a draft or a sheet was keyed, oldest first."""
        row = AnsweredWarningRow
        mine = row.draft_id == draft if sheet is None else row.sheet_id == sheet
        wanted = select(row.__table__).where(self._session.any_site(row.site_id), mine)
        ordered = wanted.order_by(row.created_at, row.id)
        return [_warning(found) for found in self._session.connection.execute(ordered)]

    def sheet_in_force(self, site: SiteId, sample: SampleId) -> bytes | None:
        """The identifier of the sheet of a sample that is in force."""
        row = ResultSheetRow
        wanted = select(row.id).where(row.site_id == site, row.sample_id == sample, row.is_current)
        found: bytes | None = self._session.connection.execute(wanted).scalar()
        return found

    def printed_places(self, compartment: CompartmentId) -> list[tuple[int, str, int]]:
        """Analyte number, unit as printed and places behind the point, for each number of a box."""
        row, sheet, sample = ReadingRow, ResultSheetRow, SampleRow
        wanted = (
            select(row.analyte_number, row.printed_unit, row.decimals)
            .join(sheet, and_(sheet.site_id == row.site_id, sheet.id == row.sheet_id))
            .join(sample, and_(sample.site_id == sheet.site_id, sample.id == sheet.sample_id))
            .where(
                self._session.any_site(sample.site_id),
                sample.compartment_id == compartment,
                sheet.is_current,
                row.decimals.is_not(None),
            )
        )
        found = self._session.connection.execute(wanted)
        return [(number, unit, places) for number, unit, places in found if places is not None]

    def laboratory_of(self, compartment: CompartmentId) -> str:
        """The laboratory that reported a box last; empty where none did."""
        sheet, sample = ResultSheetRow, SampleRow
        wanted = (
            select(sheet.laboratory_code)
            .join(sample, and_(sample.site_id == sheet.site_id, sample.id == sheet.sample_id))
            .where(
                self._session.any_site(sample.site_id),
                sample.compartment_id == compartment,
                sheet.is_current,
            )
            .order_by(sample.taken_on.desc(), sheet.id.desc())
            .limit(1)
        )
        found: str | None = self._session.connection.execute(wanted).scalar()
        return found or ""

    def layouts(self, *, with_retired: bool = False) -> list[SavedLayoutRecord]:
        """The layouts made at this desk, by name."""
        row = SavedLayoutRow
        wanted = select(row.__table__).order_by(row.name, row.code)
        if not with_retired:
            wanted = wanted.where(row.retired.is_(False))
        return [_layout(found) for found in self._session.connection.execute(wanted)]

    def put_layout(self, layout: SavedLayoutRecord) -> None:
        """Add a layout (version 0) or save it as it now stands.

        Raises:
            StaleEditError: when somebody else has saved it since ``version`` was read.
        """
        values = {
            "name": layout.name,
            "laboratory_code": layout.laboratory,
            "document": layout.document,
            "retired": layout.retired,
        }
        name = f"layout {layout.name}"
        if layout.version == 0:
            statement = insert(SavedLayoutRow).values(
                code=layout.code, **values, **self._session.stamps()
            )
            self._session.connection.execute(statement)
        else:
            table = SavedLayoutRow.metadata.tables["saved_layout"]
            key = {"code": layout.code}
            self._session.edit(table, key, values, version=layout.version, name=name)
        self._audit.append(NO_SITE, name, None, {"document": layout.document})

    def add_question(self, question: EventQuestionRecord) -> None:
        """Ask the clerk, unless the sample was asked about before."""
        row = EventQuestionRow
        asked = select(row.id).where(row.site_id == question.site, row.sample_id == question.sample)
        if self._session.connection.execute(asked).first() is not None:
            return
        statement = insert(row).values(
            site_id=question.site,
            id=question.id,
            compartment_id=question.compartment,
            sample_id=question.sample,
            told=canonical_json(dict(question.told)),
            **self._session.stamps(),
        )
        self._session.connection.execute(statement)

    def questions(self, *, only_open: bool = True) -> list[EventQuestionRecord]:
        """Questions, oldest first."""
        row = EventQuestionRow
        wanted = select(row.__table__).order_by(row.created_at, row.id)
        if only_open:
            wanted = wanted.where(row.answered_at.is_(None))
        return [_question(found) for found in self._session.connection.execute(wanted)]

    def answer_question(
        self, question: EventQuestionRecord, *, answer: str, event: bytes | None
    ) -> None:
        """Keep the clerk's answer.

        Raises:
            NotFoundError: when it was answered before.
        """
        row, session = EventQuestionRow, self._session
        changed = session.connection.execute(
            update(row)
            .where(row.site_id == question.site, row.id == question.id, row.answered_at.is_(None))
            .values(
                answer=answer,
                event_id=event,
                answered_at=session.moment,
                answered_by=session.who,
            )
        )
        if changed.rowcount != 1:
            raise NotFoundError("This question was answered before. Look at the queue again.")
        self._audit.append(question.site, f"question {question.id.hex()}", None, {"answer": answer})


def _told(draft: KeyDraftRecord) -> dict[str, Any]:
    return {
        "report_number": draft.report_number,
        "issue": draft.issue,
        "state": draft.state,
        "cells": canonical_json(dict(draft.cells)),
        "second": canonical_json(dict(draft.second)),
        "second_by": draft.second_by,
        "note": draft.note,
    }


def _draft(found: Row[*tuple[Any, ...]]) -> KeyDraftRecord:
    return KeyDraftRecord(
        site=SiteId(found.site_id),
        id=found.id,
        bottle_code=found.bottle_code,
        sample=None if found.sample_id is None else SampleId(found.sample_id),
        laboratory=found.laboratory_code,
        report_number=found.report_number,
        issue=found.issue,
        state=found.state,
        cells=json.loads(found.cells),
        second=json.loads(found.second),
        second_by=found.second_by,
        note=found.note,
        version=found.version,
        begun_by=found.created_by,
        changed_at=found.changed_at or found.created_at,
        changed_by=found.changed_by or found.created_by,
    )


def _warning(found: Row[*tuple[Any, ...]]) -> AnsweredWarningRecord:
    return AnsweredWarningRecord(
        site=SiteId(found.site_id),
        sheet=found.sheet_id,
        draft=found.draft_id,
        analyte=found.analyte,
        kind=found.kind,
        told=found.told,
        answer=found.answer,
        old_text=found.old_text,
        new_text=found.new_text,
        made_at=found.created_at,
        made_by=found.created_by,
    )


def _layout(found: Row[*tuple[Any, ...]]) -> SavedLayoutRecord:
    return SavedLayoutRecord(
        code=found.code,
        name=found.name,
        laboratory=found.laboratory_code,
        document=found.document,
        retired=found.retired,
        version=found.version,
    )


def _question(found: Row[*tuple[Any, ...]]) -> EventQuestionRecord:
    return EventQuestionRecord(
        site=SiteId(found.site_id),
        id=found.id,
        compartment=CompartmentId(found.compartment_id),
        sample=SampleId(found.sample_id),
        told=json.loads(found.told),
        answer=found.answer,
        event=found.event_id,
    )
