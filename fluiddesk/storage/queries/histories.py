"""The packed histories of compartments: read, written, and built anew from the readings."""

from collections.abc import Collection, Mapping, Sequence
from datetime import date
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import and_, bindparam, select

from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.samples import SampleColumns, Sign
from fluiddesk.storage.blocks import pack, unpack
from fluiddesk.storage.queries.boxes import FEW
from fluiddesk.storage.session import Session
from fluiddesk.storage.tables.catalogue import FluidReferenceRow
from fluiddesk.storage.tables.derived import HistoryBlockRow, VerdictBlockRow
from fluiddesk.storage.tables.fleet import CompartmentRow, SiteRow
from fluiddesk.storage.tables.sampling import ReadingRow, ResultSheetRow, SampleRow
from fluiddesk.storage.verdicts import pack_each, with_verdicts

_CHUNK: Final = 200
_ALL: Final = "SELECT compartment_id, block FROM history_block ORDER BY site_id, compartment_id"
_ALL_VERDICTS: Final = "SELECT compartment_id, block FROM verdict_block"


class HistoryBlocks:
    """Reads and writes the block of each compartment."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def all(self) -> tuple[list[CompartmentId], list[bytes]]:
        """Every block and whose it is, by site and compartment; one bare fetch."""
        rows = self._session.rows(_ALL)
        if not rows:
            return [], []
        compartments, blocks = zip(*rows, strict=True)
        return list(compartments), list(blocks)

    def pairs(
        self, compartments: Collection[CompartmentId] | None = None
    ) -> list[tuple[CompartmentId, bytes]]:
        """Compartments with their blocks: all, or only some."""
        if compartments is None or len(compartments) > FEW:
            found = self._session.rows(_ALL)
            chosen = None if compartments is None else set(compartments)
            return [(key, blob) for key, blob in found if chosen is None or key in chosen]
        row = HistoryBlockRow
        wanted = select(row.compartment_id, row.block).where(
            self._session.any_site(row.site_id), row.compartment_id.in_(list(compartments))
        )
        return [
            (CompartmentId(key), blob) for key, blob in self._session.connection.execute(wanted)
        ]

    def verdicts(
        self, compartments: Collection[CompartmentId] | None = None
    ) -> dict[CompartmentId, bytes]:
        """The verdicts that stand apart from the histories, of all compartments or only some."""
        if compartments is None or len(compartments) > FEW:
            found = self._session.rows(_ALL_VERDICTS)
            chosen = None if compartments is None else set(compartments)
            return {key: blob for key, blob in found if chosen is None or key in chosen}
        row = VerdictBlockRow
        wanted = select(row.compartment_id, row.block).where(
            self._session.any_site(row.site_id), row.compartment_id.in_(list(compartments))
        )
        executed = self._session.connection.execute(wanted)
        return {CompartmentId(key): blob for key, blob in executed}

    def one(self, compartment: CompartmentId) -> SampleColumns | None:
        """The history of one compartment with its verdicts; ``None`` where it has none."""
        row = HistoryBlockRow
        wanted = select(row.block).where(
            self._session.any_site(row.site_id), row.compartment_id == compartment
        )
        blob = self._session.connection.execute(wanted).scalar()
        if blob is None:
            return None
        told = self.verdicts([compartment]).get(compartment)
        return with_verdicts([unpack(blob, 0)], [told])[0]

    def some(self, compartments: Collection[CompartmentId]) -> dict[CompartmentId, SampleColumns]:
        """The histories of some compartments with their verdicts."""
        told = self.verdicts(compartments)
        return {
            key: with_verdicts([unpack(blob, 0)], [told.get(key)])[0]
            for key, blob in self.pairs(compartments)
        }

    def write(self, histories: Mapping[CompartmentId, SampleColumns]) -> None:
        """Write the blocks of compartments, in place of what stood there.

        Their verdicts are in them: what stood apart is taken away.
        """
        site_of = self._session.site_of
        rows = [(site_of(key), key, pack(columns)) for key, columns in histories.items()]
        self._session.put("history_block", ("site_id", "compartment_id", "block"), rows)
        place = "?" if self._session.is_sqlite else "%s"
        statement = (
            f"DELETE FROM verdict_block WHERE site_id = {place} "  # noqa: S608  # a fixed text
            f"AND compartment_id = {place}"
        )
        self._session.run_many(statement, [(site, key) for site, key, _ in rows])

    def write_verdicts(
        self, columns: SampleColumns, boxes: Sequence[tuple[CompartmentId, slice]]
    ) -> None:
        """Write severity and digest of every sample of compartments, apart from their values.

        Args:
            columns: samples; those of one compartment together.
            boxes: the compartments with their rows.
        """
        site_of = self._session.site_of
        packed = pack_each(columns, (rows for _, rows in boxes))
        rows = [(site_of(key), key, blob) for (key, _), blob in zip(boxes, packed, strict=True)]
        self._session.put("verdict_block", ("site_id", "compartment_id", "block"), rows)

    def rebuild(self, compartments: Sequence[CompartmentId]) -> dict[CompartmentId, SampleColumns]:
        """Build histories anew from the sheets in force; nothing is written.

        Samples without a day or without a sheet in force, and void ones, are left out. The rest
        come by day, then hours. Severity is -1 and digest 0, since both belong to assessments; the
        reference is the newest one of the compartment's present fluid that was valid on the day.
        """
        references = self._references()
        return {
            key: columns
            for start in range(0, len(compartments), _CHUNK)
            for key, columns in self._rebuild_chunk(
                compartments[start : start + _CHUNK], references
            ).items()
        }

    def _rebuild_chunk(
        self, compartments: Sequence[CompartmentId], references: dict[str, list[tuple[date, int]]]
    ) -> dict[CompartmentId, SampleColumns]:
        connection = self._session.connection
        chosen = {"chosen": list(compartments)}
        samples: dict[bytes, list[Any]] = {key: [] for key in compartments}
        for found in connection.execute(_SAMPLES, chosen):
            samples[found.compartment_id].append(found)
        readings: dict[bytes, list[Any]] = {key: [] for key in compartments}
        for reading in connection.execute(_READINGS, chosen):
            readings[reading[0]].append(reading)
        return {key: _history(samples[key], readings[key], references) for key in compartments}

    def _references(self) -> dict[str, list[tuple[date, int]]]:
        row = FluidReferenceRow
        wanted = select(row.fluid_code, row.valid_from, row.number)
        answer: dict[str, list[tuple[date, int]]] = {}
        ordered = wanted.order_by(row.fluid_code, row.valid_from, row.number)
        for found in self._session.connection.execute(ordered):
            answer.setdefault(found.fluid_code, []).append((found.valid_from, found.number))
        return answer


_OF_SAMPLE: Final = and_(
    ResultSheetRow.site_id == SampleRow.site_id,
    ResultSheetRow.sample_id == SampleRow.id,
    ResultSheetRow.is_current,
)
_WANTED: Final = and_(
    SampleRow.site_id.in_(select(SiteRow.site_id)),
    SampleRow.compartment_id.in_(bindparam("chosen", expanding=True)),
    SampleRow.taken_on.is_not(None),
    SampleRow.state != "void",
)
_SAMPLES: Final = (
    select(
        SampleRow.compartment_id,
        SampleRow.id,
        SampleRow.taken_on,
        SampleRow.true_hours,
        SampleRow.fluid_hours,
        SampleRow.fill_number,
        SampleRow.trust,
        ResultSheetRow.id.label("sheet_id"),
        CompartmentRow.fluid_code,
    )
    .join(ResultSheetRow, _OF_SAMPLE)
    .join(
        CompartmentRow,
        and_(
            CompartmentRow.site_id == SampleRow.site_id,
            CompartmentRow.id == SampleRow.compartment_id,
        ),
    )
    .where(_WANTED)
    .order_by(SampleRow.taken_on, SampleRow.true_hours, SampleRow.id)
)
_READINGS: Final = (
    select(
        SampleRow.compartment_id,
        ReadingRow.sheet_id,
        ReadingRow.analyte_number,
        ReadingRow.sign,
        ReadingRow.value,
    )
    .join(ResultSheetRow, _OF_SAMPLE)
    .join(
        ReadingRow,
        and_(
            ReadingRow.site_id == ResultSheetRow.site_id, ReadingRow.sheet_id == ResultSheetRow.id
        ),
    )
    .where(_WANTED)
)


def _history(
    samples: list[Any], readings: list[Any], references: dict[str, list[tuple[date, int]]]
) -> SampleColumns:
    place = {one.sheet_id: index for index, one in enumerate(samples)}
    _, sheet, number, sign, value = zip(*readings, strict=True) if readings else ((),) * 5
    at = np.array([place[one] for one in sheet], dtype=np.int64)
    numbers, column = np.unique(np.array(number, dtype=np.int64), return_inverse=True)
    values = np.full((len(samples), len(numbers)), np.nan)
    signs = np.full((len(samples), len(numbers)), Sign.NOT_TESTED, dtype=np.uint8)
    values[at, column] = _floats(value)
    signs[at, column] = np.array(sign, dtype=np.uint8)
    keys = b"".join(one.id for one in samples)
    return SampleColumns(
        analytes=tuple(numbers.tolist()),
        compartment=np.zeros(len(samples), dtype=np.int32),
        sample_id=np.frombuffer(keys, dtype=np.uint8).reshape(len(samples), 16),
        taken_on=np.array([one.taken_on.toordinal() for one in samples], dtype=np.int32),
        hours=_floats([one.true_hours for one in samples]),
        fluid_hours=_floats([one.fluid_hours for one in samples]),
        fill=np.array([one.fill_number for one in samples], dtype=np.int32),
        trust=np.array([one.trust for one in samples], dtype=np.int8),
        severity=np.full(len(samples), -1, dtype=np.int8),
        digest=np.zeros(len(samples), dtype=np.uint64),
        reference=np.array(
            [_reference_on(references.get(one.fluid_code, []), one.taken_on) for one in samples],
            dtype=np.int16,
        ),
        values=values,
        signs=signs,
    )


def _floats(values: Sequence[float | None]) -> NDArray[np.float64]:
    # numpy reads None as "not a number" here.
    return np.array(values, dtype=np.float64)


def _reference_on(references: list[tuple[date, int]], day: date) -> int:
    known = [number for valid_from, number in references if valid_from <= day]
    return known[-1] if known else -1
