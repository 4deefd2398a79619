"""Result sheets, their readings, intakes and rows put aside."""

import json
from collections.abc import Iterable, Mapping
from typing import Any, Final

from sqlalchemy import Row, and_, insert, select, update

from fluiddesk.domain.errors import NotFoundError, OperatorError
from fluiddesk.domain.identity import CompartmentId, SampleId, SiteId
from fluiddesk.domain.samples import Reading, ResultSheet, SampleOrigin, SampleState, Sign
from fluiddesk.storage.records.audit import AuditRecords
from fluiddesk.storage.records.rows import (
    HeldRowRecord,
    IntakeRecord,
    ReadingRecord,
    SheetRecord,
)
from fluiddesk.storage.session import Session, canonical_json
from fluiddesk.storage.tables.catalogue import AnalyteRow
from fluiddesk.storage.tables.sampling import (
    HeldRow,
    IntakeRow,
    ReadingRow,
    ResultSheetRow,
    SampleRow,
)

_READING: Final = (
    "site_id", "sheet_id", "analyte_number", "sign", "value", "printed", "printed_unit",
    "decimals", "detection_limit",
)  # fmt: skip


class SheetTakenError(OperatorError):
    """This issue of this report is in the store already."""


class ResultRecords:
    """Reads and saves what laboratories report."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._audit = AuditRecords(session)

    def add_intake(
        self, site: SiteId, *, file_name: str, sha256: str, layout: str, counts: Mapping[str, int]
    ) -> bytes:
        """Record that a file is taken in. Returns the intake's identifier.

        Raises:
            OperatorError: when the same file was taken in before and that was not undone.
        """
        before = self.find_intake_by_hash(sha256, site=site)
        if before is not None:
            raise OperatorError(
                f'"{file_name}" was taken in on {before.taken_in_at:%Y-%m-%d} by '
                f"{before.taken_in_by} already. Undo that intake first to take it in again."
            )
        made = self._session.new_id()
        values = {
            "site_id": site,
            "id": made,
            "file_name": file_name,
            "sha256": sha256,
            "layout": layout,
            "taken_in_at": self._session.moment,
            "taken_in_by": self._session.who,
            "counts": canonical_json(dict(counts)),
        }
        self._session.connection.execute(insert(IntakeRow).values(**values))
        told = {"file": file_name, "sha256": sha256, "counts": dict(counts)}
        self._audit.append(site, f"intake {made.hex()}", None, told)
        return made

    def find_intake_by_hash(
        self, sha256: str, *, site: SiteId | None = None
    ) -> IntakeRecord | None:
        """The intake of a file with this SHA-256 that still stands."""
        sites = self._session.any_site(IntakeRow.site_id)
        found = self._session.connection.execute(
            select(IntakeRow.__table__).where(
                sites if site is None else IntakeRow.site_id == site,
                IntakeRow.sha256 == sha256,
                IntakeRow.undone_at.is_(None),
            )
        ).first()
        return None if found is None else _intake(found)

    def intakes(self) -> list[IntakeRecord]:
        """Every intake, newest first."""
        wanted = select(IntakeRow.__table__).order_by(IntakeRow.taken_in_at.desc(), IntakeRow.id)
        return [_intake(found) for found in self._session.connection.execute(wanted)]

    def save_sheet(
        self, site: SiteId, sample: SampleId, sheet: ResultSheet, intake: bytes | None = None
    ) -> bytes:
        """Keep one issue of a report. Returns its identifier.

        It supersedes what was in force for the sample; an issue older than the one in force is
        kept as superseded. The sample becomes reported.

        Raises:
            SheetTakenError: when this issue of this report stands already.
        """
        standing = self._standing(site, sample)
        self._refuse_twice(sheet, standing)
        made = self._session.new_id()
        in_force = next((one for one in standing if one.is_current), None)
        is_newer = in_force is None or (
            sheet.report_number != in_force.report_number or sheet.issue > in_force.issue
        )
        if in_force is not None and is_newer:
            self._mark(site, in_force.id, is_current=False, superseded_by=made)
        successor = None if is_newer or in_force is None else in_force.id
        row = ResultSheetRow
        values = {
            "site_id": site,
            "id": made,
            "sample_id": sample,
            "laboratory_code": sheet.laboratory,
            "report_number": sheet.report_number,
            "issue": sheet.issue,
            "received_on": sheet.received_on,
            "tested_on": sheet.tested_on,
            "issued_on": sheet.issued_on,
            "remark": sheet.remark,
            "sampled_on_printed": sheet.sampled_on_printed,
            "meter_printed": sheet.meter_printed,
            "intake_id": intake,
            "is_current": is_newer,
            "superseded_by": successor,
        }
        self._session.connection.execute(insert(row).values(**values, **self._session.stamps()))
        self._save_readings(site, made, sheet.readings.values())
        self._move_sample(site, sample, SampleState.REPORTED)
        old = None if in_force is None else in_force.id.hex()
        told = {"report": sheet.report_number, "issue": sheet.issue, "bottle": sheet.bottle_code}
        self._audit.append(site, f"result sheet {made.hex()}", old, told)
        return made

    def void_intake(self, intake: bytes, reason: str) -> list[SampleId]:
        """Undo an intake: its sheets are voided, the issue before comes back into force.

        Returns the samples concerned. A sample left without a sheet becomes received
        again; one of the past becomes void.

        Raises:
            NotFoundError: when there is no such intake, or it was undone before.
        """
        row = IntakeRow
        where = and_(self._session.any_site(row.site_id), row.id == intake, row.undone_at.is_(None))
        found = self._session.connection.execute(select(row.site_id).where(where)).first()
        if found is None:
            raise NotFoundError(
                f"Intake {intake.hex()} is not in this store, or was undone before."
            )
        site = SiteId(found.site_id)
        session = self._session
        session.connection.execute(
            update(row)
            .where(where)
            .values(undone_at=session.moment, undone_by=session.who, undone_reason=reason)
        )
        sheets = session.connection.execute(
            select(ResultSheetRow.id, ResultSheetRow.sample_id).where(
                ResultSheetRow.site_id == site,
                ResultSheetRow.intake_id == intake,
                ResultSheetRow.voided_reason.is_(None),
            )
        ).all()
        for sheet in sheets:
            self._mark(site, sheet.id, is_current=False, voided_reason=reason)
        samples = sorted({SampleId(sheet.sample_id) for sheet in sheets})
        for sample in samples:
            self._bring_back(site, sample)
        self._audit.append(
            site, f"intake {intake.hex()}", {"sheets": len(sheets)}, {"undone": reason}
        )
        return samples

    def add_held_rows(self, rows: Iterable[HeldRowRecord]) -> int:
        """Put rows of a file aside."""
        columns = ("site_id", "intake_id", "row_number", "cells", "reason")
        made = (
            (one.site, one.intake, one.row_number, canonical_json(dict(one.cells)), one.reason)
            for one in rows
        )
        return self._session.load("held_row", columns, made)

    def held_rows(self, intake: bytes | None = None) -> list[HeldRowRecord]:
        """The rows that still wait for a person, of one intake or of all that stand."""
        wanted = (
            select(HeldRow.__table__)
            .join(
                IntakeRow,
                and_(IntakeRow.site_id == HeldRow.site_id, IntakeRow.id == HeldRow.intake_id),
            )
            .where(HeldRow.settled_at.is_(None), IntakeRow.undone_at.is_(None))
        )
        if intake is not None:
            wanted = wanted.where(HeldRow.intake_id == intake)
        ordered = wanted.order_by(HeldRow.site_id, HeldRow.intake_id, HeldRow.row_number)
        return [
            HeldRowRecord(
                site=SiteId(one.site_id),
                intake=one.intake_id,
                row_number=one.row_number,
                cells=json.loads(one.cells),
                reason=one.reason,
                outcome=one.outcome,
            )
            for one in self._session.connection.execute(ordered)
        ]

    def settle_held_row(self, held: HeldRowRecord, *, outcome: str) -> None:
        """Say what became of a row that was put aside.

        Raises:
            NotFoundError: when it does not wait any more.
        """
        session = self._session
        changed = session.connection.execute(
            update(HeldRow)
            .where(
                HeldRow.site_id == held.site,
                HeldRow.intake_id == held.intake,
                HeldRow.row_number == held.row_number,
                HeldRow.settled_at.is_(None),
            )
            .values(settled_at=session.moment, settled_by=session.who, outcome=outcome)
        )
        if changed.rowcount != 1:
            raise NotFoundError(f"Row {held.row_number} does not wait any more.")
        name = f"held row {held.row_number} of intake {held.intake.hex()}"
        self._audit.append(held.site, name, {"reason": held.reason}, {"outcome": outcome})

    def sheets_of(self, compartment: CompartmentId) -> list[SheetRecord]:
        """Every issue of every report of a compartment, superseded and voided ones included."""
        row = ResultSheetRow
        wanted = (
            select(row.__table__, SampleRow.bottle_code)
            .join(SampleRow, and_(SampleRow.site_id == row.site_id, SampleRow.id == row.sample_id))
            .where(
                self._session.any_site(SampleRow.site_id), SampleRow.compartment_id == compartment
            )
            .order_by(SampleRow.taken_on, SampleRow.id, row.issue, row.id)
        )
        return [_sheet(found) for found in self._session.connection.execute(wanted)]

    def readings_of(self, compartment: CompartmentId) -> list[ReadingRecord]:
        """Every value in force of a compartment, by day of the sample, as printed and canonical."""
        row, sheet = ReadingRow, ResultSheetRow
        wanted = (
            select(row.__table__, SampleRow.id.label("sample"), SampleRow.taken_on, AnalyteRow.code)
            .join(sheet, and_(sheet.site_id == row.site_id, sheet.id == row.sheet_id))
            .join(
                SampleRow, and_(SampleRow.site_id == row.site_id, SampleRow.id == sheet.sample_id)
            )
            .join(AnalyteRow, AnalyteRow.number == row.analyte_number)
            .where(
                self._session.any_site(SampleRow.site_id),
                SampleRow.compartment_id == compartment,
                sheet.is_current,
            )
            .order_by(SampleRow.taken_on, SampleRow.id, row.analyte_number)
        )
        return [
            ReadingRecord(
                sample=SampleId(one.sample),
                sheet=one.sheet_id,
                taken_on=one.taken_on,
                analyte=one.code,
                sign=Sign(one.sign),
                value=one.value,
                printed=one.printed,
                printed_unit=one.printed_unit,
                decimals=one.decimals,
                detection_limit=one.detection_limit,
            )
            for one in self._session.connection.execute(wanted)
        ]

    def _standing(self, site: SiteId, sample: SampleId) -> list[Row[*tuple[Any, ...]]]:
        row = ResultSheetRow
        wanted = select(row.id, row.report_number, row.issue, row.is_current, row.laboratory_code)
        where = (row.site_id == site, row.sample_id == sample, row.voided_reason.is_(None))
        return list(self._session.connection.execute(wanted.where(*where)).all())

    def _refuse_twice(self, sheet: ResultSheet, standing: list[Row[*tuple[Any, ...]]]) -> None:
        for one in standing:
            same = (one.laboratory_code, one.report_number, one.issue)
            if same == (sheet.laboratory, sheet.report_number, sheet.issue):
                raise SheetTakenError(
                    f"Report {sheet.report_number}, issue {sheet.issue}, of bottle "
                    f"{sheet.bottle_code} is in the store already. Void it first to take it again."
                )

    def _save_readings(self, site: SiteId, sheet: bytes, readings: Iterable[Reading]) -> None:
        numbers = self._session.analyte_numbers()
        unknown = sorted({one.analyte for one in readings if one.analyte not in numbers})
        if unknown:
            raise NotFoundError(f"This store knows no analyte {', '.join(unknown)}.")
        rows = [
            (site, sheet, numbers[one.analyte], int(one.sign), one.value, one.printed,
             one.printed_unit, one.decimals, one.detection_limit)
            for one in readings
        ]  # fmt: skip
        self._session.load("reading", _READING, rows)

    def _mark(self, site: SiteId, sheet: bytes, **values: Any) -> None:
        row = ResultSheetRow
        self._session.connection.execute(
            update(row).where(row.site_id == site, row.id == sheet).values(**values)
        )

    def _bring_back(self, site: SiteId, sample: SampleId) -> None:
        standing = self._standing(site, sample)
        if any(one.is_current for one in standing):
            return
        if not standing:
            self._move_sample(site, sample, self._state_without_report(site, sample))
            return
        newest = max(standing, key=lambda one: (one.issue, one.id))
        self._mark(site, newest.id, is_current=True, superseded_by=None)

    def _state_without_report(self, site: SiteId, sample: SampleId) -> SampleState:
        """A sample of the past is known by its report alone; another one waits for a new one."""
        wanted = select(SampleRow.origin).where(SampleRow.site_id == site, SampleRow.id == sample)
        is_past = self._session.connection.execute(wanted).scalar_one() == SampleOrigin.PAST
        return SampleState.VOID if is_past else SampleState.RECEIVED

    def _move_sample(self, site: SiteId, sample: SampleId, state: SampleState) -> None:
        session = self._session
        session.connection.execute(
            update(SampleRow)
            .where(
                SampleRow.site_id == site,
                SampleRow.id == sample,
                SampleRow.state.not_in([state.value, SampleState.VOID.value]),
            )
            .values(
                state=state.value,
                version=SampleRow.version + 1,
                changed_at=session.moment,
                changed_by=session.who,
            )
        )


def _intake(found: Row[*tuple[Any, ...]]) -> IntakeRecord:
    return IntakeRecord(
        site=SiteId(found.site_id),
        id=found.id,
        file_name=found.file_name,
        sha256=found.sha256,
        layout=found.layout,
        taken_in_at=found.taken_in_at,
        taken_in_by=found.taken_in_by,
        counts=json.loads(found.counts),
        undone_at=found.undone_at,
    )


def _sheet(found: Row[*tuple[Any, ...]]) -> SheetRecord:
    return SheetRecord(
        site=SiteId(found.site_id),
        id=found.id,
        sample=SampleId(found.sample_id),
        bottle_code=found.bottle_code,
        laboratory=found.laboratory_code,
        report_number=found.report_number,
        issue=found.issue,
        received_on=found.received_on,
        tested_on=found.tested_on,
        issued_on=found.issued_on,
        remark=found.remark,
        intake=found.intake_id,
        is_current=found.is_current,
        superseded_by=found.superseded_by,
        voided_reason=found.voided_reason,
        created_at=found.created_at,
        created_by=found.created_by,
    )
