"""Bottles and samples: domain values to rows and back."""

from collections.abc import Iterable, Sequence
from typing import Any, Final, TypeVar

from sqlalchemy import Row, Select, select

from fluiddesk.domain.errors import NotFoundError
from fluiddesk.domain.identity import CompartmentId, SampleId, SiteId
from fluiddesk.domain.samples import (
    DrawMethod,
    OpenBottle,
    Reading,
    Sample,
    SampleOrigin,
    SampleReason,
    SampleState,
    Sign,
)
from fluiddesk.domain.severity import Trust
from fluiddesk.storage.records.audit import AuditRecords
from fluiddesk.storage.records.rows import BottleRecord
from fluiddesk.storage.session import Session
from fluiddesk.storage.tables.catalogue import AnalyteRow
from fluiddesk.storage.tables.fleet import CompartmentRow, MachineRow, SiteRow
from fluiddesk.storage.tables.sampling import ReadingRow, ResultSheetRow, SampleRow

_SAMPLE: Final = (
    "site_id", "id", "compartment_id", "bottle_code", "reason", "state", "taken_on",
    "meter_value", "true_hours", "fluid_hours", "fill_number", "draw_method", "trust",
    "trust_reason", "origin", "duplicate_of", "taken_by", "note",
)  # fmt: skip
_TOLD: Final = _SAMPLE[3:-3]
"""What the audit trail tells of a change: all but the identifiers, which never change."""
_AWAITED: Final = ("issued", "taken", "shipped", "received")
_ANSWERABLE: Final = (*_AWAITED, "reported")
_CHUNK: Final = 500
_T = TypeVar("_T")


class SamplingRecords:
    """Reads and changes bottles and samples."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._audit = AuditRecords(session)

    def add_bottles(self, bottles: Iterable[BottleRecord]) -> int:
        """Add labelled bottles."""
        rows = ((one.site, one.code, one.lot, one.sample, one.issued_on) for one in bottles)
        return self._session.load(
            "bottle", ("site_id", "code", "lot", "sample_id", "issued_on"), rows
        )

    def add_samples(self, samples: Iterable[Sample], *, taken_by: str = "", note: str = "") -> int:
        """Add samples, planned or taken."""
        rows = ((*_row(one), taken_by, note) for one in samples)
        return self._session.load("sample", _SAMPLE, rows)

    def sample(self, sample: SampleId) -> Sample:
        """One sample.

        Raises:
            NotFoundError: when there is none.
        """
        found = self._session.connection.execute(
            self._samples().where(SampleRow.id == sample)
        ).first()
        if found is None:
            raise NotFoundError(f"There is no sample {sample.hex()} in this store.")
        return _sample(found)

    def samples(self, wanted: Sequence[SampleId]) -> dict[SampleId, Sample]:
        """The samples with these identifiers."""
        return {
            SampleId(row.id): _sample(row)
            for chunk in _chunks(wanted)
            for row in self._session.connection.execute(
                self._samples().where(SampleRow.id.in_(chunk))
            )
        }

    def samples_of(self, compartment: CompartmentId) -> list[Sample]:
        """Every sample of a compartment, by day; those not taken yet last."""
        wanted = self._samples().where(SampleRow.compartment_id == compartment)
        ordered = wanted.order_by(SampleRow.taken_on.is_(None), SampleRow.taken_on, SampleRow.id)
        return [_sample(one) for one in self._session.connection.execute(ordered)]

    def by_bottle(self, codes: Sequence[str]) -> dict[str, Sample]:
        """The samples of these bottle codes; codes without a sample are left out."""
        return {
            row.bottle_code: _sample(row)
            for chunk in _chunks(codes)
            for row in self._session.connection.execute(
                self._samples().where(SampleRow.bottle_code.in_(chunk))
            )
        }

    def in_states(self, states: Sequence[SampleState]) -> list[Sample]:
        """Every sample in one of these states, by site and compartment."""
        row = SampleRow
        wanted = self._samples().where(row.state.in_([state.value for state in states]))
        ordered = wanted.order_by(row.site_id, row.compartment_id, row.taken_on, row.id)
        return [_sample(one) for one in self._session.connection.execute(ordered)]

    def sample_version(self, sample: SampleId) -> int:
        """The version of a sample's record; give it back when saving an edit."""
        wanted = select(SampleRow.version).where(
            self._session.any_site(SampleRow.site_id), SampleRow.id == sample
        )
        return int(self._session.connection.execute(wanted).scalar_one())

    def edit_sample(self, sample: Sample, *, version: int | None) -> None:
        """Save a sample that a person edited.

        Raises:
            StaleEditError: when somebody else has changed it since ``version`` was read.
        """
        old = self.sample(sample.id)
        self._write(sample, version)
        before, after = _told(old), _told(sample)
        changed = [name for name in after if after[name] != before[name]]
        self._audit.append(
            sample.site,
            f"sample {sample.bottle_code or sample.id.hex()}",
            {name: before[name] for name in changed},
            {name: after[name] for name in changed},
        )

    def update_samples(self, samples: Iterable[Sample]) -> None:
        """Write samples as they now stand, without a line in the audit trail for each."""
        for one in samples:
            self._write(one, None)

    def open_bottles(self, codes: Sequence[str] | None = None) -> list[OpenBottle]:
        """The bottles that a laboratory's row may belong to, with what it answered before.

        Args:
            codes: only these; then bottles already reported are among them, for a new issue of a
                report. Without codes: every bottle that no report has come for.
        """
        if codes is None:
            return self._open(select_bottles().where(SampleRow.state.in_(_AWAITED)))
        wanted = select_bottles().where(
            self._session.any_site(SampleRow.site_id), SampleRow.state.in_(_ANSWERABLE)
        )
        return [
            bottle
            for chunk in _chunks(codes)
            for bottle in self._open(wanted.where(SampleRow.bottle_code.in_(chunk)))
        ]

    def _open(self, statement: Select[*tuple[Any, ...]]) -> list[OpenBottle]:
        found = self._session.connection.execute(statement.order_by(SampleRow.bottle_code)).all()
        sheets = [one.sheet_id for one in found if one.sheet_id is not None]
        readings = self._readings_of(sheets)
        return [
            OpenBottle(
                bottle_code=one.bottle_code,
                sample=SampleId(one.id),
                site_name=one.site_name,
                machine=one.machine_code,
                compartment=_words(one.kind, one.position),
                taken_on=one.taken_on,
                meter_value=one.meter_value,
                newest_issue=one.issue or 0,
                newest_report=one.report_number or "",
                newest_readings=readings.get(one.sheet_id, {}),
            )
            for one in found
        ]

    def _readings_of(self, sheets: Sequence[bytes]) -> dict[bytes, dict[str, Reading]]:
        answer: dict[bytes, dict[str, Reading]] = {}
        row = ReadingRow
        statement = select(
            AnalyteRow.code, row.sheet_id, row.sign, row.value, row.printed, row.printed_unit,
            row.decimals, row.detection_limit,
        ).join(AnalyteRow, AnalyteRow.number == row.analyte_number)  # fmt: skip
        for chunk in _chunks(sheets):
            wanted = statement.where(self._session.any_site(row.site_id), row.sheet_id.in_(chunk))
            for one in self._session.connection.execute(wanted):
                answer.setdefault(one.sheet_id, {})[one.code] = Reading(
                    analyte=one.code,
                    sign=Sign(one.sign),
                    value=one.value,
                    printed=one.printed,
                    printed_unit=one.printed_unit,
                    decimals=one.decimals,
                    detection_limit=one.detection_limit,
                )
        return answer

    def _samples(self) -> Select[*tuple[Any, ...]]:
        return select(SampleRow.__table__).where(self._session.any_site(SampleRow.site_id))

    def _write(self, sample: Sample, version: int | None) -> None:
        values = dict(zip(_SAMPLE[2:], _row(sample)[2:], strict=False))
        self._session.edit(
            SampleRow.metadata.tables["sample"],
            {"site_id": sample.site, "id": sample.id},
            values,
            version=version,
            name=f"sample {sample.bottle_code or sample.id.hex()}",
        )


def select_bottles() -> Select[*tuple[Any, ...]]:
    """Samples with a bottle, the words for where they come from, and their sheet in force."""
    return (
        select(
            SampleRow.id,
            SampleRow.bottle_code,
            SampleRow.taken_on,
            SampleRow.meter_value,
            SiteRow.name.label("site_name"),
            MachineRow.code.label("machine_code"),
            CompartmentRow.kind,
            CompartmentRow.position,
            ResultSheetRow.id.label("sheet_id"),
            ResultSheetRow.issue,
            ResultSheetRow.report_number,
        )
        .join(SiteRow, SiteRow.site_id == SampleRow.site_id)
        .join(
            CompartmentRow,
            (CompartmentRow.site_id == SampleRow.site_id)
            & (CompartmentRow.id == SampleRow.compartment_id),
        )
        .join(
            MachineRow,
            (MachineRow.site_id == CompartmentRow.site_id)
            & (MachineRow.id == CompartmentRow.machine_id),
        )
        .outerjoin(
            ResultSheetRow,
            (ResultSheetRow.site_id == SampleRow.site_id)
            & (ResultSheetRow.sample_id == SampleRow.id)
            & ResultSheetRow.is_current,
        )
        .where(SampleRow.bottle_code != "")
    )


def _chunks(values: Sequence[_T]) -> list[Sequence[_T]]:
    return [values[start : start + _CHUNK] for start in range(0, len(values), _CHUNK)]


def _words(kind: str, position: str) -> str:
    name = kind.replace("_", " ").capitalize()
    return f"{name}, {position}" if position else name


def _row(one: Sample) -> tuple[Any, ...]:
    return (
        one.site, one.id, one.compartment, one.bottle_code, one.reason.value, one.state.value,
        one.taken_on, one.meter_value, one.true_hours, one.fluid_hours, one.fill_number,
        one.draw_method.value, int(one.trust), one.trust_reason, one.origin.value,
        one.duplicate_of,
    )  # fmt: skip


def _sample(found: Row[*tuple[Any, ...]]) -> Sample:
    return Sample(
        site=SiteId(found.site_id),
        id=SampleId(found.id),
        compartment=CompartmentId(found.compartment_id),
        bottle_code=found.bottle_code,
        reason=SampleReason(found.reason),
        state=SampleState(found.state),
        taken_on=found.taken_on,
        meter_value=found.meter_value,
        true_hours=found.true_hours,
        fluid_hours=found.fluid_hours,
        fill_number=found.fill_number,
        draw_method=DrawMethod(found.draw_method),
        trust=Trust(found.trust),
        trust_reason=found.trust_reason,
        origin=SampleOrigin(found.origin),
        duplicate_of=found.duplicate_of,
    )


def _told(one: Sample) -> dict[str, object]:
    told = dict(zip(_TOLD, _row(one)[3:], strict=False))
    told["taken_on"] = None if one.taken_on is None else one.taken_on.isoformat()
    return told
