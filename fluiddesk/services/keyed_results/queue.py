"""The clerk's queue: begun, parked, held back, awaited, asked."""

from collections.abc import Mapping, Sequence
from datetime import date

from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.samples import AWAITED, Sample
from fluiddesk.domain.severity import Severity
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.event_questions import questions_in_words
from fluiddesk.services.keyed_results.facts import QueueLine, ResultsQueue
from fluiddesk.services.lab_intake.held import held_line_code
from fluiddesk.services.reassess.fleet import BoxFacts
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, HeldRowRecord, KeyDraftRecord


def results_queue(place: Workplace, *, today: date) -> ResultsQueue:
    """Everything that waits for the clerk, in one reading."""
    with place.store.reading() as desk:
        drafts = desk.keying.live_drafts()
        waiting = [one for one in desk.sampling.in_states(AWAITED) if one.bottle_code]
        held = desk.results.held_rows()
        codes = [held_line_code(one.cells) for one in held]
        samples = desk.sampling.by_bottle(
            sorted({*(one.bottle_code for one in drafts), *codes} - {""})
        )
        boxes = _boxes(desk, [*waiting, *samples.values()])
        questions = questions_in_words(desk, place.catalogue)
    lines = _Lines(place.catalogue, samples, boxes, today)
    begun = {one.bottle_code for one in drafts}
    ordered = sorted(waiting, key=lambda one: (one.taken_on or today, one.bottle_code))
    return ResultsQueue(
        to_key=tuple(lines.draft(one) for one in drafts if one.state == "open"),
        warnings_open=tuple(lines.draft(one) for one in drafts if one.state == "parked"),
        held_back=tuple(lines.held(one, code) for one, code in zip(held, codes, strict=True)),
        waiting=tuple(lines.sample(one) for one in ordered if one.bottle_code not in begun),
        questions=questions,
    )


def _boxes(desk: Desk, samples: Sequence[Sample]) -> dict[CompartmentId, BoxFacts]:
    wanted = {one.compartment for one in samples}
    rows = desk.boxes.rows(wanted) if wanted else []
    return {box.compartment_id: box for box in map(BoxFacts._make, rows)}


class _Lines:
    """Makes lines of the queue."""

    def __init__(
        self,
        catalogue: Catalogue,
        samples: Mapping[str, Sample],
        boxes: Mapping[CompartmentId, BoxFacts],
        today: date,
    ) -> None:
        self._catalogue, self._samples, self._boxes = catalogue, samples, boxes
        self._today = today

    def sample(self, sample: Sample) -> QueueLine:
        """A bottle at the laboratory."""
        return self._line(sample.bottle_code, sample)

    def draft(self, draft: KeyDraftRecord) -> QueueLine:
        """A report that is being keyed."""
        note = draft.note
        if not note:
            cells = draft.cells.get("cells") or {}
            filled = sum(bool(str(text).strip()) for text in cells.values())
            note = f"{filled} values typed by {draft.changed_by}"
        return self._line(
            draft.bottle_code,
            self._samples.get(draft.bottle_code),
            note=note,
            laboratory=draft.laboratory,
            draft_id=draft.id,
        )

    def held(self, held: HeldRowRecord, code: str) -> QueueLine:
        """A row of a file that was put aside."""
        return self._line(
            code,
            self._samples.get(code),
            note=held.reason,
            intake_id=held.intake,
            row=held.row_number,
        )

    def _line(
        self,
        code: str,
        sample: Sample | None,
        *,
        note: str = "",
        laboratory: str = "",
        draft_id: bytes = b"",
        intake_id: bytes = b"",
        row: int = 0,
    ) -> QueueLine:
        box = None if sample is None else self._boxes.get(sample.compartment)
        taken = None if sample is None else sample.taken_on
        severity = None if box is None else box.severity
        return QueueLine(
            bottle_code=code,
            site=box.site if box else "",
            machine=box.machine if box else "",
            compartment=self._catalogue.box_name(box.kind, box.position) if box else "",
            taken_on=taken,
            days=None if taken is None else (self._today - taken).days,
            note=note,
            laboratory=laboratory,
            draft_id=draft_id,
            intake_id=intake_id,
            row=row,
            last_severity=Severity.NO_VERDICT if severity is None else Severity(severity),
        )
