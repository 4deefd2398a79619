"""Rows of files that were put aside: looked at, corrected and taken in later, or given up."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from fluiddesk.domain.errors import NotFoundError, OperatorError
from fluiddesk.domain.identity import normal_bottle_code
from fluiddesk.domain.samples import OpenBottle
from fluiddesk.intake.files import Row
from fluiddesk.intake.layouts import layout_named
from fluiddesk.intake.reading import read_held_row
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.lab_intake.apply import (
    BETWEEN_HEADINGS,
    HEADINGS,
    apply_report,
    bottles_of,
)
from fluiddesk.services.lab_intake.preview import layouts
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, HeldRowRecord, IntakeRecord


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldRowFacts:
    """A row that was put aside, with its cells under their headings and the reason."""

    intake_id: bytes
    file_name: str
    layout: str
    row: int
    bottle_code: str
    cells: tuple[tuple[str, str], ...]
    reason: str
    since: datetime
    who: str


def held_rows(place: Workplace) -> tuple[HeldRowFacts, ...]:
    """The rows that wait for a person, newest file first."""
    with place.store.reading() as desk:
        records = desk.results.held_rows()
        intakes = {(one.site, one.id): one for one in desk.results.intakes()}
    rows = [_facts(one, intakes[one.site, one.intake]) for one in records]
    return tuple(sorted(rows, key=lambda one: (-one.since.timestamp(), one.row)))


def _facts(held: HeldRowRecord, intake: IntakeRecord) -> HeldRowFacts:
    headings, texts = _headings(held.cells), _texts(held.cells)
    padded = [*headings, *[""] * (len(texts) - len(headings))]
    return HeldRowFacts(
        intake_id=held.intake,
        file_name=intake.file_name,
        layout=intake.layout,
        row=held.row_number,
        bottle_code=held_line_code(held.cells),
        cells=tuple(zip(padded, texts, strict=False)),
        reason=held.reason,
        since=intake.taken_in_at,
        who=intake.taken_in_by,
    )


def release_row(
    place: Workplace,
    held: HeldRowFacts,
    *,
    corrected: Mapping[int, str] | None = None,
    moment: datetime,
    today: date,
) -> Changes:
    """Take in a row that was put aside, with cells corrected by a person; place 0 is the first.

    The sheet belongs to the intake that the row came with, and is undone with it.

    Raises:
        OperatorError: naming what still keeps the row out.
        NotFoundError: when it does not wait any more.
    """
    del today
    layout = layout_named(layouts(place), held.layout)
    with place.store.transaction(who=place.who, moment=moment) as desk:
        record, intake = _waiting(desk, held)
        headings = _headings(record.cells)
        if not headings:
            raise OperatorError(
                f"Row {held.row} of {held.file_name} was put aside without its headings. Read the "
                "file again: what was put aside then is taken in."
            )
        texts = _texts(record.cells)
        for at, text in (corrected or {}).items():
            texts[at] = text
        row = Row(held.file_name, "", held.row, tuple(texts))

        def open_bottles(codes: Sequence[str]) -> Sequence[OpenBottle]:
            return bottles_of(desk, codes)

        report = read_held_row(
            row,
            headings,
            layout=layout,
            analytes=place.catalogue.analytes,
            open_bottles=open_bottles,
        )
        if not report.accepted:
            why = [problem.text() for problem in report.problems]
            raise OperatorError("\n".join(why) or f"Row {held.row} is on the register already.")
        report = replace(report, sha256=intake.sha256)
        applied = apply_report(desk, place.catalogue, report, moment=moment)
        _note_correction(desk, record, corrected or {})
    return Changes(
        subjects=frozenset({Subject.RESULTS, Subject.ASSESSMENTS}),
        compartments=applied.compartments,
    )


def settle_row(place: Workplace, held: HeldRowFacts, *, outcome: str, moment: datetime) -> None:
    """Give a row up; ``outcome`` says why nobody waits for it any more.

    Raises:
        OperatorError: without a reason.
        NotFoundError: when it does not wait any more.
    """
    if not outcome.strip():
        raise OperatorError("Say why the row is given up, such as: sent again by the laboratory.")
    with place.store.transaction(who=place.who, moment=moment) as desk:
        record, _ = _waiting(desk, held)
        desk.results.settle_held_row(record, outcome=outcome.strip())


def _waiting(desk: Desk, held: HeldRowFacts) -> tuple[HeldRowRecord, IntakeRecord]:
    intake = next((one for one in desk.results.intakes() if one.id == held.intake_id), None)
    for record in desk.results.held_rows(held.intake_id):
        if record.row_number == held.row and intake is not None:
            return record, intake
    raise NotFoundError(
        f"Row {held.row} of {held.file_name} does not wait any more. Look at the queue again."
    )


def _note_correction(desk: Desk, record: HeldRowRecord, corrected: Mapping[int, str]) -> None:
    if corrected:
        texts = _texts(record.cells)
        old = {str(at + 1): texts[at] for at in corrected}
        new = {str(at + 1): text for at, text in corrected.items()}
        name = f"held row {record.row_number} of intake {record.intake.hex()}"
        desk.audit.append(record.site, name, old, new)


def _headings(cells: Mapping[str, str]) -> list[str]:
    told = cells.get(HEADINGS, "")
    return told.split(BETWEEN_HEADINGS) if told else []


def _texts(cells: Mapping[str, str]) -> list[str]:
    places = sorted(int(place) for place in cells if place.isdigit())
    return [cells[str(place)] for place in places]


def held_line_code(cells: Mapping[str, str]) -> str:
    """The first cell that reads as a bottle code; empty where none does."""
    for text in _texts(cells):
        try:
            return normal_bottle_code(text)
        except OperatorError:
            continue
    return ""
