"""Past results: samples with their sheets written in one go, and rows that wait for a person."""

import json
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from datetime import date, datetime
from typing import Any, Final

from sqlalchemy import Row, and_, select, update

from fluiddesk.domain.errors import NotFoundError
from fluiddesk.domain.identity import CompartmentId, MachineId, SampleId, SiteId
from fluiddesk.domain.samples import Reading, ResultSheet, Sample, SampleState, Sign
from fluiddesk.storage.records.audit import AuditRecords
from fluiddesk.storage.records.sampling import SamplingRecords
from fluiddesk.storage.session import Session, canonical_json
from fluiddesk.storage.tables.fleet import MachineRow, MeterReadingRow
from fluiddesk.storage.tables.outside import PastRow
from fluiddesk.storage.tables.sampling import IntakeRow, ResultSheetRow, SampleRow

_SHEET: Final = (
    "site_id", "id", "sample_id", "laboratory_code", "report_number", "issue", "received_on",
    "tested_on", "issued_on", "remark", "sampled_on_printed", "meter_printed", "intake_id",
    "is_current", "superseded_by",
)  # fmt: skip
_READING: Final = (
    "site_id", "sheet_id", "analyte_number", "sign", "value", "printed", "printed_unit",
    "decimals", "detection_limit",
)  # fmt: skip
_WAITING: Final = (
    "site_id", "intake_id", "row_number", "machine_printed", "box_printed", "sampled_on",
    "meter_printed", "sheet", "candidates",
)  # fmt: skip
_DAYS: Final = ("received_on", "tested_on", "issued_on", "sampled_on_printed")
_CHUNK: Final = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class PastSample:
    """A sample of the past and every issue of its report, oldest issue first."""

    sample: Sample
    sheets: tuple[ResultSheet, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WaitingRecord:
    """A row that waits to be matched; ``candidates`` is what the matching said of it, as JSON."""

    site: SiteId
    intake: bytes
    row_number: int
    machine_printed: str
    box_printed: str
    sampled_on: date
    fluid_hours: float | None
    sheet: ResultSheet
    candidates: list[dict[str, Any]]
    file_name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownSample:
    """A sample on the register, with the report in force; ``issue`` 0 where there is none."""

    sample: SampleId
    compartment: CompartmentId
    state: SampleState
    taken_on: date
    sheet: bytes | None
    report_number: str
    issue: int


class PastRecords:
    """Reads and writes what belongs to past results."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._audit = AuditRecords(session)
        self._sampling = SamplingRecords(session)

    def in_service(self) -> dict[MachineId, date]:
        """The day each machine went into service, where it is known."""
        row = MachineRow
        wanted = select(row.id, row.in_service_on).where(row.in_service_on.is_not(None))
        found = self._session.connection.execute(wanted)
        return {MachineId(key): day for key, day in found if day is not None}

    def known(self, compartments: Collection[CompartmentId]) -> list[KnownSample]:
        """The samples of some compartments that have a day and are not void."""
        row, sheet = SampleRow, ResultSheetRow
        in_force = and_(sheet.site_id == row.site_id, sheet.sample_id == row.id, sheet.is_current)
        wanted = (
            select(
                row.id, row.compartment_id, row.state, row.taken_on, sheet.id.label("sheet_id"),
                sheet.report_number, sheet.issue,
            )
            .outerjoin(sheet, in_force)
            .where(
                self._session.any_site(row.site_id),
                row.taken_on.is_not(None),
                row.state != SampleState.VOID.value,
            )
        )  # fmt: skip
        keys = list(compartments)
        return [
            KnownSample(
                sample=SampleId(one.id),
                compartment=CompartmentId(one.compartment_id),
                state=SampleState(one.state),
                taken_on=one.taken_on,
                sheet=one.sheet_id,
                report_number=one.report_number or "",
                issue=one.issue or 0,
            )
            for start in range(0, len(keys), _CHUNK)
            for one in self._session.connection.execute(
                wanted.where(row.compartment_id.in_(keys[start : start + _CHUNK]))
            )
        ]

    def save(self, intakes: Mapping[SiteId, bytes], past: Sequence[PastSample]) -> None:
        """Write new samples with their sheets; the newest issue of each is in force.

        The intake's line in the audit trail stands for them all.
        """
        self._sampling.add_samples([one.sample for one in past])
        sheets: list[tuple[Any, ...]] = []
        readings: list[tuple[Any, ...]] = []
        for one in past:
            successor: bytes | None = None
            for sheet in reversed(one.sheets):
                key = self._session.new_id()
                sheets.append(
                    self._sheet_row(one.sample, key, sheet, intakes[one.sample.site], successor)
                )
                readings += self._reading_rows(one.sample.site, key, sheet)
                successor = key
        self._session.load("result_sheet", _SHEET, sheets)
        self._session.load("reading", _READING, readings)

    def _sheet_row(
        self, sample: Sample, key: bytes, sheet: ResultSheet, intake: bytes, successor: bytes | None
    ) -> tuple[Any, ...]:
        return (
            sample.site, key, sample.id, sheet.laboratory, sheet.report_number, sheet.issue,
            sheet.received_on, sheet.tested_on, sheet.issued_on, sheet.remark,
            sheet.sampled_on_printed, sheet.meter_printed, intake, successor is None, successor,
        )  # fmt: skip

    def _reading_rows(
        self, site: SiteId, key: bytes, sheet: ResultSheet
    ) -> Iterable[tuple[Any, ...]]:
        numbers = self._session.analyte_numbers()
        unknown = sorted(sheet.readings.keys() - numbers.keys())
        if unknown:
            raise NotFoundError(f"This store knows no analyte {', '.join(unknown)}.")
        for one in sheet.readings.values():
            yield (
                site, key, numbers[one.analyte], int(one.sign), one.value, one.printed,
                one.printed_unit, one.decimals, one.detection_limit,
            )  # fmt: skip

    def add_waiting(self, rows: Iterable[WaitingRecord]) -> int:
        """Put rows aside for a person to match."""
        made = (
            (one.site, one.intake, one.row_number, one.machine_printed, one.box_printed,
             one.sampled_on, one.sheet.meter_printed, _sheet_text(one),
             canonical_json(one.candidates))
            for one in rows
        )  # fmt: skip
        return self._session.load("past_row", _WAITING, made)

    def waiting(self) -> list[WaitingRecord]:
        """The rows nobody has settled, of every intake that stands, by file and row."""
        wanted = (
            select(PastRow.__table__, IntakeRow.file_name)
            .join(
                IntakeRow,
                and_(IntakeRow.site_id == PastRow.site_id, IntakeRow.id == PastRow.intake_id),
            )
            .where(PastRow.settled_at.is_(None), IntakeRow.undone_at.is_(None))
            .order_by(IntakeRow.taken_in_at, PastRow.intake_id, PastRow.row_number)
        )
        return [_waiting(found) for found in self._session.connection.execute(wanted)]

    def settle(self, record: WaitingRecord, *, outcome: str, sample: Sample | None) -> None:
        """Say what became of a row that waited.

        Raises:
            NotFoundError: when another desk has settled it.
        """
        session, row = self._session, PastRow
        changed = session.connection.execute(
            update(row)
            .where(
                row.site_id == record.site,
                row.intake_id == record.intake,
                row.row_number == record.row_number,
                row.settled_at.is_(None),
            )
            .values(
                settled_at=session.moment,
                settled_by=session.who,
                outcome=outcome,
                # A sample at another site belongs to that site's records; the outcome names it.
                sample_id=sample.id if sample and sample.site == record.site else None,
            )
        )
        if changed.rowcount != 1:
            raise NotFoundError(
                f"Row {record.row_number} of {record.file_name} was settled at another desk. "
                "Look at the list again."
            )
        name = f"past result, row {record.row_number} of intake {record.intake.hex()}"
        told = {"outcome": outcome, "sample": sample.id.hex() if sample else None}
        self._audit.append(record.site, name, {"report": record.sheet.report_number}, told)

    def withdraw_readings(self, intakes: Collection[bytes], reason: str) -> set[MachineId]:
        """Void the meter readings that some intakes brought; the machines they were of.

        They are known by their moment: that of the intake, or of a row confirmed later.
        """
        row, session = MeterReadingRow, self._session
        moments: set[datetime] = set()
        for when in (
            select(IntakeRow.taken_in_at).where(IntakeRow.id.in_(intakes)),
            select(PastRow.settled_at).where(
                PastRow.intake_id.in_(intakes), PastRow.settled_at.is_not(None)
            ),
        ):
            moments |= {one for one in session.connection.execute(when).scalars() if one}
        here = (
            session.any_site(row.site_id),
            row.created_at.in_(moments),
            row.source == "sampler",
            row.voided_reason.is_(None),
        )
        machines = select(row.machine_id).where(*here).distinct()
        found = {MachineId(key) for key in session.connection.execute(machines).scalars()}
        if found:
            session.connection.execute(update(row).where(*here).values(voided_reason=reason))
        return found


def _sheet_text(record: WaitingRecord) -> str:
    sheet = record.sheet
    told = {
        field.name: getattr(sheet, field.name)
        for field in fields(sheet)
        if field.name != "readings"
    }
    for name in _DAYS:
        told[name] = told[name].isoformat() if told[name] else None
    told["readings"] = [asdict(one) for one in sheet.readings.values()]
    return canonical_json({"sheet": told, "fluid_hours": record.fluid_hours})


def _waiting(found: Row[*tuple[Any, ...]]) -> WaitingRecord:
    told = json.loads(found.sheet)
    sheet = dict(told["sheet"])
    for name in _DAYS:
        sheet[name] = date.fromisoformat(sheet[name]) if sheet[name] else None
    sheet["readings"] = {
        one["analyte"]: Reading(**{**one, "sign": Sign(one["sign"])}) for one in sheet["readings"]
    }
    return WaitingRecord(
        site=SiteId(found.site_id),
        intake=found.intake_id,
        row_number=found.row_number,
        machine_printed=found.machine_printed,
        box_printed=found.box_printed,
        sampled_on=found.sampled_on,
        fluid_hours=told["fluid_hours"],
        sheet=ResultSheet(**sheet),
        candidates=json.loads(found.candidates),
        file_name=found.file_name,
    )
