"""Samples outside the plan: spare labels, rejected bottles, and samples of no compartment."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final, NamedTuple

from sqlalchemy import Row, Select, and_, func, insert, or_, select, update

from fluiddesk.domain.errors import NotFoundError
from fluiddesk.domain.identity import SampleId, SiteId
from fluiddesk.domain.samples import (
    OpenBottle,
    Reading,
    ResultSheet,
    SampleOrigin,
    SampleReason,
    SampleState,
    Sign,
)
from fluiddesk.storage.records.audit import AuditRecords
from fluiddesk.storage.records.results import SheetTakenError
from fluiddesk.storage.records.rows import BottleRecord
from fluiddesk.storage.session import Session
from fluiddesk.storage.tables.catalogue import AnalyteRow
from fluiddesk.storage.tables.fleet import CompartmentRow, FluidBatchRow, MachineRow, SiteRow
from fluiddesk.storage.tables.outside import FluidReadingRow, FluidSampleRow, FluidSheetRow
from fluiddesk.storage.tables.sampling import BottleRow, ResultSheetRow, SampleRow

_UNPLANNED: Final = (SampleOrigin.WALK_UP.value, SampleOrigin.SPARE_LABEL.value)
_FLUID_SAMPLE: Final = (
    "site_id", "id", "bottle_code", "kind", "fluid_code", "batch_id", "tank_id", "container",
    "reason", "state", "taken_on", "taken_by", "note",
)  # fmt: skip
_READING: Final = (
    "site_id", "sheet_id", "analyte_number", "sign", "value", "printed", "printed_unit",
    "decimals", "detection_limit",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class FluidSampleRecord:
    """A sample of a drum, a tank, new fluid or a known fluid sent as a check."""

    site: SiteId
    id: bytes
    bottle_code: str
    kind: str
    fluid: str
    reason: str
    state: str
    taken_on: date | None
    batch: bytes | None = None
    tank: bytes | None = None
    container: str = ""
    taken_by: str = ""
    note: str = ""
    report_number: str = ""
    issue: int = 0
    """Of the report in force; 0 where none has come."""


class BoxSampleRecord(NamedTuple):
    """A sample of a compartment that the plan did not ask for, or that gave no results."""

    site: int
    id: bytes
    machine_id: bytes
    machine: str
    compartment_id: bytes
    kind: str
    position: str
    bottle_code: str
    reason: str
    origin: str
    state: str
    taken_on: date | None
    taken_by: str
    note: str
    duplicate_of: bytes | None
    report_number: str | None
    rejected_reason: str | None


class OutsideRecords:
    """Reads and writes what belongs to no plan."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._audit = AuditRecords(session)

    def bottle(self, code: str) -> BottleRecord | None:
        """The bottle with this label, if it was ever issued."""
        row = BottleRow
        found = self._session.connection.execute(
            select(row.__table__).where(self._session.any_site(row.site_id), row.code == code)
        ).first()
        return None if found is None else _bottle(found)

    def spare_bottles(self) -> list[BottleRecord]:
        """The bottles with a label that belong to no sample yet, by site and code."""
        row = BottleRow
        wanted = (
            select(row.__table__).where(row.sample_id.is_(None)).order_by(row.site_id, row.code)
        )
        used = {one.bottle_code for one in self.fluid_samples()}
        found = self._session.connection.execute(wanted)
        return [_bottle(one) for one in found if one.code not in used]

    def last_code(self, start: str) -> str:
        """The highest bottle code that starts with these signs; empty where there is none."""
        wanted = select(func.max(BottleRow.code)).where(BottleRow.code.startswith(start))
        return self._session.connection.execute(wanted).scalar() or ""

    def link_bottle(self, site: SiteId, code: str, sample: SampleId) -> None:
        """Say whose sample a spare bottle became."""
        row = BottleRow
        self._session.connection.execute(
            update(row).where(row.site_id == site, row.code == code).values(sample_id=sample)
        )

    def mark_rejected(self, site: SiteId, sheet: bytes, reason: str) -> None:
        """Note on a sheet why the laboratory measured nothing."""
        row = ResultSheetRow
        self._session.connection.execute(
            update(row).where(row.site_id == site, row.id == sheet).values(rejected_reason=reason)
        )

    def is_rejected(self, site: SiteId, sample: SampleId) -> bool:
        """Whether the sheet in force of a sample says that the laboratory rejected it."""
        row = ResultSheetRow
        wanted = select(row.rejected_reason).where(
            row.site_id == site, row.sample_id == sample, row.is_current
        )
        return bool(self._session.connection.execute(wanted).scalar())

    def add_fluid_sample(self, one: FluidSampleRecord) -> None:
        """Add a sample of no compartment."""
        row = (
            one.site, one.id, one.bottle_code, one.kind, one.fluid, one.batch, one.tank,
            one.container, one.reason, one.state, one.taken_on, one.taken_by, one.note,
        )  # fmt: skip
        self._session.load("fluid_sample", _FLUID_SAMPLE, [row])
        told = {"kind": one.kind, "fluid": one.fluid, "container": one.container}
        self._audit.append(one.site, f"fluid sample {one.bottle_code}", None, told)

    def box_samples(self) -> list[BoxSampleRecord]:
        """Walk-ups, spare labels, duplicates and rejected bottles of compartments, newest first."""
        row, sheet = SampleRow, ResultSheetRow
        unplanned = or_(row.origin.in_(_UNPLANNED), row.reason == SampleReason.DUPLICATE.value)
        rejected = and_(sheet.rejected_reason != "", sheet.rejected_reason.is_not(None))
        # Two questions, each of which an index or one short scan answers; one with OR would not.
        asked = (_box_samples().where(unplanned), _box_samples().where(rejected))
        found = {
            one.id: BoxSampleRecord(*one)
            for wanted in asked
            for one in self._session.connection.execute(wanted)
        }
        return sorted(found.values(), key=lambda one: (one.taken_on or date.min, one.id))[::-1]

    def fluid_samples(self, codes: Sequence[str] | None = None) -> list[FluidSampleRecord]:
        """Samples of no compartment, of some bottles or all, newest first."""
        wanted = _fluid_samples()
        if codes is not None:
            wanted = wanted.where(
                self._session.any_site(FluidSampleRow.site_id),
                FluidSampleRow.bottle_code.in_(list(codes)),
            )
        ordered = wanted.order_by(FluidSampleRow.taken_on.desc(), FluidSampleRow.id.desc())
        return [_fluid_sample(one) for one in self._session.connection.execute(ordered)]

    def open_bottles(self, codes: Sequence[str]) -> list[OpenBottle]:
        """The bottles of such samples that a laboratory's row may belong to."""
        names = dict(self._session.connection.execute(select(SiteRow.site_id, SiteRow.name)).all())
        return [
            OpenBottle(
                bottle_code=one.bottle_code,
                sample=SampleId(one.id),
                site_name=names[one.site],
                machine="",
                compartment=f"{one.kind.replace('_', ' ')} {one.container}".strip().capitalize(),
                taken_on=one.taken_on,
                newest_issue=one.issue,
                newest_report=one.report_number,
                newest_readings=self.readings_of(one.site, one.id),
            )
            for one in self.fluid_samples(codes)
            if one.state != SampleState.VOID.value
        ]

    def readings_of(self, site: SiteId, sample: bytes) -> dict[str, Reading]:
        """The readings in force of such a sample."""
        row, sheet = FluidReadingRow, FluidSheetRow
        wanted = (
            select(row.__table__, AnalyteRow.code)
            .join(AnalyteRow, AnalyteRow.number == row.analyte_number)
            .join(sheet, and_(sheet.site_id == row.site_id, sheet.id == row.sheet_id))
            .where(sheet.site_id == site, sheet.fluid_sample_id == sample, sheet.is_current)
        )
        return {
            one.code: Reading(
                analyte=one.code,
                sign=Sign(one.sign),
                value=one.value,
                printed=one.printed,
                printed_unit=one.printed_unit,
                decimals=one.decimals,
                detection_limit=one.detection_limit,
            )
            for one in self._session.connection.execute(wanted)
        }

    def save_fluid_sheet(
        self, one: FluidSampleRecord, sheet: ResultSheet, intake: bytes | None
    ) -> bytes:
        """Keep a newer issue of a report of such a sample; the issue before is superseded.

        Raises:
            SheetTakenError: when an issue as new stands already.
        """
        session, row = self._session, FluidSheetRow
        here = (row.site_id == one.site, row.fluid_sample_id == one.id, row.is_current)
        standing = session.connection.execute(
            select(row.id, row.report_number, row.issue).where(*here)
        ).first()
        if standing is not None and standing.issue >= sheet.issue:
            raise SheetTakenError(
                f"Report {standing.report_number}, issue {standing.issue}, of bottle "
                f"{one.bottle_code} is in the store already. Undo its intake first."
            )
        made = session.new_id()
        change = update(row).where(*here).values(is_current=False, superseded_by=made)
        session.connection.execute(change)
        values = {
            "site_id": one.site,
            "id": made,
            "fluid_sample_id": one.id,
            "laboratory_code": sheet.laboratory,
            "report_number": sheet.report_number,
            "issue": sheet.issue,
            "received_on": sheet.received_on,
            "tested_on": sheet.tested_on,
            "issued_on": sheet.issued_on,
            "remark": sheet.remark,
            "rejected_reason": "" if sheet.has_results else sheet.remark or "no results",
            "intake_id": intake,
            "is_current": True,
        }
        session.connection.execute(insert(row).values(**values, **session.stamps()))
        self._load_readings(one.site, made, sheet)
        self._move(one.site, one.id, SampleState.REPORTED)
        told = {"report": sheet.report_number, "issue": sheet.issue, "bottle": one.bottle_code}
        self._audit.append(one.site, f"sheet of fluid sample {one.bottle_code}", None, told)
        return made

    def _load_readings(self, site: SiteId, sheet_id: bytes, sheet: ResultSheet) -> None:
        numbers = self._session.analyte_numbers()
        unknown = sorted(sheet.readings.keys() - numbers.keys())
        if unknown:
            raise NotFoundError(f"This store knows no analyte {', '.join(unknown)}.")
        rows = [
            (site, sheet_id, numbers[one.analyte], int(one.sign), one.value, one.printed,
             one.printed_unit, one.decimals, one.detection_limit)
            for one in sheet.readings.values()
        ]  # fmt: skip
        self._session.load("fluid_reading", _READING, rows)

    def void_intake(self, intake: bytes, reason: str) -> int:
        """Void the sheets of such samples that an intake brought; how many there were."""
        session, row = self._session, FluidSheetRow
        here = (
            session.any_site(row.site_id), row.intake_id == intake, row.voided_reason.is_(None),
        )  # fmt: skip
        found = session.connection.execute(
            select(row.site_id, row.id, row.fluid_sample_id).where(*here)
        ).all()
        session.connection.execute(
            update(row).where(*here).values(is_current=False, voided_reason=reason)
        )
        for site, sample in {(one.site_id, one.fluid_sample_id) for one in found}:
            self._bring_back(SiteId(site), sample)
        return len(found)

    def _bring_back(self, site: SiteId, sample: bytes) -> None:
        row = FluidSheetRow
        standing = self._session.connection.execute(
            select(row.id)
            .where(row.site_id == site, row.fluid_sample_id == sample, row.voided_reason.is_(None))
            .order_by(row.issue.desc())
        ).scalar()
        if standing is None:
            self._move(site, sample, SampleState.RECEIVED)
            return
        self._session.connection.execute(
            update(row)
            .where(row.site_id == site, row.id == standing)
            .values(is_current=True, superseded_by=None)
        )

    def name_batch_reference(self, site: SiteId, batch: bytes, reference: int) -> None:
        """Say which new-fluid reference was measured on a batch."""
        row = FluidBatchRow
        changed = self._session.connection.execute(
            update(row)
            .where(row.site_id == site, row.id == batch)
            .values(reference_number=reference)
        )
        if changed.rowcount != 1:
            raise NotFoundError(f"There is no batch {batch.hex()} in this store.")

    def _move(self, site: SiteId, sample: bytes, state: SampleState) -> None:
        session, row = self._session, FluidSampleRow
        session.connection.execute(
            update(row)
            .where(row.site_id == site, row.id == sample)
            .values(
                state=state.value,
                version=row.version + 1,
                changed_at=session.moment,
                changed_by=session.who,
            )
        )


def _box_samples() -> Select[*tuple[Any, ...]]:
    """Samples of compartments with the words for their boxes, and the sheet in force."""
    row, box, machine, sheet = SampleRow, CompartmentRow, MachineRow, ResultSheetRow
    in_force = and_(sheet.site_id == row.site_id, sheet.sample_id == row.id, sheet.is_current)
    return (
        select(
            row.site_id, row.id, machine.id, machine.code, box.id, box.kind, box.position,
            row.bottle_code, row.reason, row.origin, row.state, row.taken_on, row.taken_by,
            row.note, row.duplicate_of, sheet.report_number, sheet.rejected_reason,
        )
        .join(box, and_(box.site_id == row.site_id, box.id == row.compartment_id))
        .join(machine, and_(machine.site_id == box.site_id, machine.id == box.machine_id))
        .outerjoin(sheet, in_force)
    )  # fmt: skip


def _fluid_samples() -> Select[*tuple[Any, ...]]:
    row, sheet = FluidSampleRow, FluidSheetRow
    in_force = and_(sheet.site_id == row.site_id, sheet.fluid_sample_id == row.id, sheet.is_current)
    return select(row.__table__, sheet.report_number, sheet.issue).outerjoin(sheet, in_force)


def _bottle(found: Row[*tuple[Any, ...]]) -> BottleRecord:
    return BottleRecord(
        site=SiteId(found.site_id),
        code=found.code,
        lot=found.lot,
        sample=None if found.sample_id is None else SampleId(found.sample_id),
        issued_on=found.issued_on,
    )


def _fluid_sample(found: Row[*tuple[Any, ...]]) -> FluidSampleRecord:
    return FluidSampleRecord(
        site=SiteId(found.site_id),
        id=found.id,
        bottle_code=found.bottle_code,
        kind=found.kind,
        fluid=found.fluid_code,
        reason=found.reason,
        state=found.state,
        taken_on=found.taken_on,
        batch=found.batch_id,
        tank=found.tank_id,
        container=found.container,
        taken_by=found.taken_by,
        note=found.note,
        report_number=found.report_number or "",
        issue=found.issue or 0,
    )
