"""Takes in what a preview showed, in one transaction; undoes a whole intake."""

import hashlib
from datetime import date, datetime
from pathlib import Path

from fluiddesk.domain.errors import CancelledError, NotFoundError
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.compartment_history.forecast_keeping import keep_after
from fluiddesk.services.lab_intake.apply import apply_report, put_aside
from fluiddesk.services.lab_intake.facts import (
    IntakePreview,
    IntakeResult,
    Moved,
    PastIntake,
    RowFate,
)
from fluiddesk.services.lab_intake.preview import Progress
from fluiddesk.services.outside_plan.rejected import restore_trust
from fluiddesk.services.reassess.blocks import refresh_blocks
from fluiddesk.services.reassess.fleet import Moved as MovedBox
from fluiddesk.services.reassess.fleet import reassess_boxes
from fluiddesk.services.register.derive import refresh_usage
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import IntakeRecord

_RESULTS = frozenset({Subject.RESULTS, Subject.ASSESSMENTS})


def take_in(
    place: Workplace,
    preview: IntakePreview,
    *,
    moment: datetime,
    today: date,
    progress: Progress | None = None,
) -> IntakeResult:
    """Save what the preview showed: all of it or nothing.

    A file that was taken in before, or that holds nothing new, changes nothing. Of a file whose
    rows are all held, the rows are put aside, to be corrected and released later.

    Raises:
        StaleEditError: when the register changed since the preview.
        CancelledError: when ``progress`` says to stop; it is asked once, before the saving begins.
    """
    held, unchanged = preview.count(RowFate.HELD), preview.count(RowFate.UNCHANGED)
    if preview.already_taken_in:
        return _result(preview, taken_in=0, held=held, unchanged=len(preview.rows) - held)
    if not preview.report.accepted and not preview.to_put_aside:
        return _result(preview, taken_in=0, held=held, unchanged=unchanged)
    if progress is not None and not progress(0, None):
        raise CancelledError("Stopped before anything was saved; nothing has changed.")
    if preview.to_put_aside:
        with place.store.transaction(who=place.who, moment=moment) as desk:
            aside = put_aside(desk, preview.report)
        return _result(preview, taken_in=0, held=held, unchanged=unchanged, intake=aside)
    with place.store.transaction(who=place.who, moment=moment) as desk:
        applied = apply_report(desk, place.catalogue, preview.report, moment=moment)
    keep_after(place, applied.compartments, today=today, moment=moment)
    return _result(
        preview,
        taken_in=len(preview.report.accepted),
        held=preview.report.held_count,
        unchanged=unchanged,
        intake=applied.intakes[0],
        moved=applied.moved,
        compartments=applied.compartments,
    )


def _result(
    preview: IntakePreview,
    *,
    taken_in: int,
    held: int,
    unchanged: int,
    intake: bytes | None = None,
    moved: tuple[MovedBox, ...] = (),
    compartments: frozenset[CompartmentId] = frozenset(),
) -> IntakeResult:
    return IntakeResult(
        intake_id=intake,
        file_name=preview.file_name,
        layout=preview.layout,
        taken_in=taken_in,
        held=held,
        unchanged=unchanged,
        problems=preview.problems,
        already_taken_in=preview.already_taken_in,
        moved=tuple(_moved(one) for one in moved),
        changes=Changes(subjects=_RESULTS if intake else frozenset(), compartments=compartments),
    )


def _moved(one: MovedBox) -> Moved:
    return Moved(
        site=one.site,
        machine=one.machine,
        compartment=one.compartment,
        before=one.before,
        after=one.after,
        headline=one.headline,
    )


def undo_intake(
    place: Workplace, intake_id: bytes, *, moment: datetime, today: date
) -> IntakeResult:
    """Take a whole file back: its sheets are voided, earlier issues come into force again.

    Nothing is deleted; the audit trail keeps both.

    Raises:
        NotFoundError: when there is no such intake, or it was undone before.
    """
    del today
    with place.store.transaction(who=place.who, moment=moment) as desk:
        whole = _whole_file(desk.results.intakes(), intake_id)
        for record in whole:
            desk.outside.void_intake(record.id, "undone at the desk")
        samples = [
            sample
            for record in whole
            for sample in desk.results.void_intake(record.id, "undone at the desk")
        ]
        touched = frozenset(one.compartment for one in desk.sampling.samples(samples).values())
        restore_trust(desk, samples)
        machines = desk.past.withdraw_readings([one.id for one in whole], "undone at the desk")
        refresh_usage(desk, place.catalogue, machines)
        refresh_blocks(desk, touched)
        outcome = reassess_boxes(desk, place.catalogue, moment=moment, compartments=touched)
    return IntakeResult(
        intake_id=intake_id,
        file_name=whole[0].file_name,
        layout=whole[0].layout,
        taken_in=0,
        held=0,
        unchanged=0,
        problems=(),
        moved=tuple(_moved(one) for one in outcome.moved),
        changes=Changes(subjects=_RESULTS, compartments=touched),
    )


def undo_file(place: Workplace, path: Path, *, moment: datetime, today: date) -> IntakeResult:
    """Take back what a file brought, known by its content and not by its name.

    Raises:
        NotFoundError: when the file is not there, or nothing of it stands.
    """
    if not path.is_file():
        raise NotFoundError(f"{path} is not there. Check the name and the folder.")
    with path.open("rb") as stream:
        sha256 = hashlib.file_digest(stream, "sha256").hexdigest()
    with place.store.reading() as desk:
        known = desk.results.find_intake_by_hash(sha256)
    if known is None:
        raise NotFoundError(
            f"Nothing of {path.name} stands in this database: it was never taken in, or its intake "
            "was undone before."
        )
    return undo_intake(place, known.id, moment=moment, today=today)


def _whole_file(records: list[IntakeRecord], intake_id: bytes) -> list[IntakeRecord]:
    """All intakes that one taking-in of a file made: one for each site whose bottles it held."""
    chosen = next((one for one in records if one.id == intake_id), None)
    if chosen is None or chosen.undone_at is not None:
        raise NotFoundError("This intake is not in the database, or was undone before.")
    return [
        one
        for one in records
        if one.sha256 == chosen.sha256 and one.taken_in_at == chosen.taken_in_at
    ]


def past_intakes(place: Workplace) -> tuple[PastIntake, ...]:
    """The files taken in before, newest first; a file over several sites is one line."""
    with place.store.reading() as desk:
        records = desk.results.intakes()
    lines: dict[tuple[str, datetime], PastIntake] = {}
    for one in records:
        lines.setdefault(
            (one.sha256, one.taken_in_at),
            PastIntake(
                intake_id=one.id,
                file_name=one.file_name,
                layout=one.layout,
                taken_in_at=one.taken_in_at,
                who=one.taken_in_by,
                taken_in=one.counts.get("taken_in", 0),
                held=one.counts.get("held", 0),
                is_undone=one.undone_at is not None,
            ),
        )
    return tuple(lines.values())
