"""Past results that wait: a person says whose they are, or sets them aside."""

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from typing import Any

from fluiddesk.domain.errors import NotFoundError, OperatorError, UsageError
from fluiddesk.domain.fleet import Compartment
from fluiddesk.domain.identity import CompartmentId, SampleId, SiteId
from fluiddesk.intake.past_reading import PastRow
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.past_results.facts import (
    PastCandidate,
    PastTaken,
    RowKey,
    WaitingRow,
)
from fluiddesk.services.past_results.saving import Placed, save_rows
from fluiddesk.services.past_results.take_in import TOUCHED, moved_facts
from fluiddesk.services.reassess.fleet import BoxFacts
from fluiddesk.services.reassess.fleet import Moved as MovedBox
from fluiddesk.services.sample_hours import MachineHours
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, WaitingRecord


def waiting_rows(place: Workplace) -> tuple[WaitingRow, ...]:
    """Every row that waits, by file and row, with the boxes it may belong to."""
    with place.store.reading() as desk:
        records = desk.past.waiting()
        boxes = {
            BoxFacts._make(row).compartment_id: BoxFacts._make(row) for row in desk.boxes.rows()
        }
    return tuple(_waiting_row(place, one, boxes) for one in records)


def _waiting_row(
    place: Workplace, record: WaitingRecord, boxes: Mapping[CompartmentId, BoxFacts]
) -> WaitingRow:
    return WaitingRow(
        site_id=record.site,
        intake_id=record.intake,
        row=record.row_number,
        file_name=record.file_name,
        machine_printed=record.machine_printed,
        compartment_printed=record.box_printed,
        report=record.sheet.report_number,
        sampled_on=record.sampled_on,
        candidates=tuple(
            _candidate(place, one, boxes[key])
            for one in record.candidates
            if (key := CompartmentId(bytes.fromhex(one["compartment"]))) in boxes
        ),
    )


def _candidate(place: Workplace, told: Mapping[str, Any], box: BoxFacts) -> PastCandidate:
    return PastCandidate(
        compartment_id=box.compartment_id,
        site=box.site,
        machine=box.machine,
        compartment=place.catalogue.box_name(box.kind, box.position),
        score=told["score"],
        doubts=tuple(told["doubts"]),
    )


def confirm_rows(
    place: Workplace,
    chosen: Mapping[RowKey, CompartmentId],
    *,
    moment: datetime,
    today: date,
) -> PastTaken:
    """Save waiting rows under the boxes a person chose, whether proposed or not; all or nothing.

    Where the box has a sample of that day or report already, the row must be set aside instead.

    Raises:
        NotFoundError: when a row does not wait any more, or there is no such box.
        OperatorError: when the box has other results of that day.
    """
    del today
    if not chosen:
        raise UsageError("No row is chosen. Choose a box for at least one row.")
    with place.store.transaction(who=place.who, moment=moment) as desk:
        records = _found(desk, chosen)
        placed = [_placed(desk, one, desk.fleet.compartment(chosen[_key(one)])) for one in records]
        _refuse_known(desk, placed)
        moved: list[MovedBox] = []
        for pairs in _by_file(records, placed):
            intakes = {
                one.box.site: _intake_at(desk, one.box.site, record) for record, one in pairs
            }
            saved = save_rows(
                desk,
                place.catalogue,
                [one for _, one in pairs],
                intakes,
                hours=MachineHours(desk),
                moment=moment,
            )
            moved += saved.moved
            for (record, _), sample in zip(pairs, saved.samples, strict=True):
                desk.past.settle(record, outcome="confirmed", sample=sample)
    return PastTaken(
        taken_in=len(placed),
        moved=moved_facts(moved),
        changes=Changes(subjects=TOUCHED, compartments=frozenset(one.box.id for one in placed)),
    )


def set_aside_rows(
    place: Workplace, rows: Iterable[RowKey], *, reason: str, moment: datetime, today: date
) -> PastTaken:
    """Leave waiting rows out for good; they are kept with the reason.

    Raises:
        NotFoundError: when a row does not wait any more.
        OperatorError: when no reason is given.
    """
    del today
    if not reason.strip():
        raise OperatorError("A row is set aside for a reason. Write why it is left out.")
    with place.store.transaction(who=place.who, moment=moment) as desk:
        records = _found(desk, dict.fromkeys(rows))
        for one in records:
            desk.past.settle(one, outcome=f"set aside: {reason.strip()}", sample=None)
    return PastTaken(known=len(records), changes=Changes(subjects=frozenset({Subject.RESULTS})))


def _by_file(
    records: Iterable[WaitingRecord], placed: Iterable[Placed]
) -> Iterable[list[tuple[WaitingRecord, Placed]]]:
    groups: dict[bytes, list[tuple[WaitingRecord, Placed]]] = {}
    for record, one in zip(records, placed, strict=True):
        groups.setdefault(record.intake, []).append((record, one))
    return groups.values()


def _key(record: WaitingRecord) -> RowKey:
    return (int(record.site), record.intake, record.row_number)


def _found(desk: Desk, keys: Mapping[RowKey, object]) -> list[WaitingRecord]:
    waiting = {_key(one): one for one in desk.past.waiting()}
    missing = [key for key in keys if key not in waiting]
    if missing:
        raise NotFoundError(
            f"Row {missing[0][2]} does not wait any more: it was settled, or its file was taken "
            "back. Look at the list again."
        )
    return [waiting[key] for key in keys]


def _placed(desk: Desk, record: WaitingRecord, box: Compartment) -> Placed:
    row = PastRow(
        row=record.row_number,
        site="",
        machine=record.machine_printed,
        compartment=record.box_printed,
        sampled_on=record.sampled_on,
        fluid_hours=record.fluid_hours,
        sheet=record.sheet,
    )
    return Placed(row=row, box=box, joins=_same_report(desk, record, box))


def _same_report(desk: Desk, record: WaitingRecord, box: Compartment) -> SampleId | None:
    """The sample whose report this row is a newer issue of."""
    for sample in desk.past.known([box.id]):
        if sample.issue and sample.report_number == record.sheet.report_number:
            return sample.sample if sample.issue < record.sheet.issue else None
    return None


def _refuse_known(desk: Desk, placed: Iterable[Placed]) -> None:
    days: dict[tuple[CompartmentId, date], Placed] = {}
    for one in placed:
        other = days.setdefault((one.box.id, one.row.sampled_on), one)
        if other.row.sheet.report_number != one.row.sheet.report_number:
            raise OperatorError(
                f"Rows {other.row.row} and {one.row.row} are of one day, from two reports: both "
                "cannot be this box's only sample of that day. Choose another box for one of them."
            )
        if one.joins is not None:
            continue
        for sample in desk.past.known([one.box.id]):
            same = sample.report_number == one.row.sheet.report_number
            if sample.issue and (same or sample.taken_on == one.row.sampled_on):
                raise OperatorError(
                    f"Row {one.row.row}: this box has results of {sample.taken_on.isoformat()} "
                    f"already (report {sample.report_number}). Choose another box, or set the row "
                    "aside."
                )


def _intake_at(desk: Desk, site: SiteId, record: WaitingRecord) -> bytes:
    """The file's intake at the site of the chosen box."""
    own = next(one for one in desk.results.intakes() if one.id == record.intake)
    if own.site == site:
        return own.id
    known = desk.results.find_intake_by_hash(own.sha256, site=site)
    if known is not None:
        return known.id
    return desk.results.add_intake(
        site, file_name=own.file_name, sha256=own.sha256, layout=own.layout, counts={"taken_in": 1}
    )
