"""Fluid changes nobody recorded: found in new reports, asked of the clerk in one short question."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from enum import StrEnum

import numpy as np

from fluiddesk.domain.analytes import AnalyteFamily
from fluiddesk.domain.errors import NotFoundError, UsageError
from fluiddesk.domain.fleet import Certainty, EventKind
from fluiddesk.domain.identity import CompartmentId, SampleId, SiteId
from fluiddesk.domain.samples import Reading, Sample, Sign
from fluiddesk.domain.trust.unlogged_change import LEAST_ODDS, Gap, change_odds
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.fill_renewal import renew_fills
from fluiddesk.services.foretelling import Foretold, foretell
from fluiddesk.services.reassess.fleet import BoxFacts
from fluiddesk.services.register.boxes import hours_on
from fluiddesk.services.register.derive import rejudge
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, EventQuestionRecord, EventRecord

_TOLD = 3
"""So many values are named in a question."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EventQuestion:
    """One short question: was the fluid changed between two samples?

    ``told`` is the question in words; ``since`` and ``until`` are the days of the two samples.
    """

    id: bytes
    site_id: SiteId
    compartment_id: CompartmentId
    site: str
    machine: str
    compartment: str
    bottle_code: str
    told: str
    since: date
    until: date


class EventAnswer(StrEnum):
    """What the clerk says of a fluid change nobody recorded."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


def ask_of(
    desk: Desk,
    catalogue: Catalogue,
    reported: Mapping[SampleId, Mapping[str, Reading]],
    samples: Sequence[Sample],
) -> list[bytes]:
    """Ask of new reports whose values fell as after a change; in an open transaction.

    Args:
        desk: where the reports were saved.
        catalogue: the catalogue.
        reported: the readings of each sample.
        samples: the samples reported, of boxes.

    Returns:
        The identifiers of the questions asked.
    """
    speaks = (AnalyteFamily.WEAR, AnalyteFamily.ADDITIVE)
    analytes = [
        one
        for one in catalogue.analytes.values()
        if one.family in speaks and not one.is_presence_test
    ]
    dated = [one for one in samples if one.taken_on is not None and one.id in reported]
    if not dated:
        return []
    told = foretell(desk, catalogue, dated, analytes)
    asked = []
    for row, sample in enumerate(dated):
        if not told.before_on[row] or told.before_fill[row] != sample.fill_number:
            continue
        now = np.array([_number(reported[sample.id].get(one.code)) for one in analytes])
        before = np.where(told.before_signs[row] <= Sign.ABOVE, told.before[row], np.nan)
        gap = Gap(
            before=before,
            now=now,
            fresh=told.fresh[row],
            residue_share=float(told.residue_share[row]),
        )
        odds = change_odds(gap, told.row(row))
        if odds > LEAST_ODDS and not _is_known(desk, told, row, sample):
            asked.append(_ask(desk, sample, told, row, (gap, odds)))
    return asked


def _number(reading: Reading | None) -> float:
    if reading is None or reading.value is None or not reading.sign.has_number:
        return np.nan
    return 0.5 * reading.value if reading.sign is Sign.BELOW else reading.value


def _is_known(desk: Desk, told: Foretold, row: int, sample: Sample) -> bool:
    """Whether somebody said already whether the fluid was changed in this gap."""
    day = sample.taken_on or date.min
    return any(
        event.kind is EventKind.FLUID_CHANGE
        and told.before_on[row] <= event.happened_on.toordinal()
        and event.happened_on <= day
        for event in desk.fleet.events(sample.compartment)
    )


def _ask(desk: Desk, sample: Sample, told: Foretold, row: int, found: tuple[Gap, float]) -> bytes:
    gap, odds = found
    fallen = np.where(np.isfinite(gap.before - gap.now), gap.before - gap.now, -np.inf)
    most = np.argsort(-fallen, kind="stable")[:_TOLD]
    analytes = told.expected.traits.analytes
    values = [
        f"{analytes[at].name} {analytes[at].text(gap.before[at])} to "
        f"{analytes[at].text(gap.now[at])}"
        for at in most.tolist()
        if fallen[at] > 0
    ]
    question = EventQuestionRecord(
        site=sample.site,
        id=desk.new_id(),
        compartment=sample.compartment,
        sample=sample.id,
        told={
            "since": date.fromordinal(int(told.before_on[row])).isoformat(),
            "until": (sample.taken_on or date.min).isoformat(),
            "values": values,
            "odds": round(min(odds, 1e6), 1),
        },
    )
    desk.keying.add_question(question)
    return question.id


def open_questions(place: Workplace) -> tuple[EventQuestion, ...]:
    """The questions nobody has answered, oldest first."""
    with place.store.reading() as desk:
        return questions_in_words(desk, place.catalogue)


def questions_in_words(desk: Desk, catalogue: Catalogue) -> tuple[EventQuestion, ...]:
    """The same in a reading that is open."""
    records = desk.keying.questions()
    if not records:
        return ()
    rows = desk.boxes.rows({one.compartment for one in records})
    boxes = {box.compartment_id: box for box in map(BoxFacts._make, rows)}
    samples = desk.sampling.samples([one.sample for one in records])
    return tuple(
        _in_words(one, boxes[one.compartment], samples[one.sample], catalogue)
        for one in records
        if one.compartment in boxes and one.sample in samples
    )


def _in_words(
    record: EventQuestionRecord, box: BoxFacts, sample: Sample, catalogue: Catalogue
) -> EventQuestion:
    since, until = (date.fromisoformat(record.told[name]) for name in ("since", "until"))
    name = catalogue.box_name(box.kind, box.position)
    values = ", ".join(record.told["values"])
    return EventQuestion(
        id=record.id,
        site_id=record.site,
        compartment_id=record.compartment,
        site=box.site,
        machine=box.machine,
        compartment=name,
        bottle_code=sample.bottle_code,
        told=f"{name} of {box.machine} looks like a fluid change between {since.isoformat()} and "
        f"{until.isoformat()} ({values}). Was the fluid changed?",
        since=since,
        until=until,
    )


def answer_question(
    place: Workplace,
    question_id: bytes,
    answer: EventAnswer,
    *,
    on: date | None = None,
    moment: datetime,
    today: date,
) -> Changes:
    """Keep the clerk's answer as an event with its certainty, and work out anew what follows.

    Yes records a change on the day given, by default halfway between the samples; No records that
    there was none, so that nobody asks again; not knowing is kept as an answer, without an event.

    Raises:
        NotFoundError: when the question was answered before.
        UsageError: when the day lies outside the gap.
    """
    del today
    with place.store.transaction(who=place.who, moment=moment) as desk:
        known = {one.id: one for one in desk.keying.questions()}
        if question_id not in known:
            raise NotFoundError("This question was answered before. Look at the queue again.")
        record = known[question_id]
        since, until = (date.fromisoformat(record.told[name]) for name in ("since", "until"))
        day = on or date.fromordinal((since.toordinal() + until.toordinal()) // 2)
        if not since <= day <= until:
            raise UsageError(
                f"{day.isoformat()} lies outside the two samples ({since.isoformat()} to "
                f"{until.isoformat()}). Give a day between them."
            )
        event = None
        changes = Changes(subjects=frozenset({Subject.RESULTS}))
        if answer is not EventAnswer.UNKNOWN:
            event = _add_event(desk, record, day, is_yes=answer is EventAnswer.YES)
        if answer is EventAnswer.YES:
            changes = _new_fill(desk, place.catalogue, record.compartment, day, moment)
        desk.keying.answer_question(record, answer=answer.value, event=event)
    return changes


def _add_event(desk: Desk, record: EventQuestionRecord, day: date, *, is_yes: bool) -> bytes:
    box = desk.fleet.compartment(record.compartment)
    return desk.fleet.add_event(
        EventRecord(
            site=record.site,
            compartment=record.compartment,
            kind=EventKind.FLUID_CHANGE,
            happened_on=day,
            certainty=Certainty.RECORDED if is_yes else Certainty.DENIED,
            source="clerk",
            true_hours=hours_on(desk, box.machine, day),
            fluid=box.fluid,
            note="asked because the values fell",
        )
    )


def _new_fill(
    desk: Desk, catalogue: Catalogue, compartment: CompartmentId, day: date, moment: datetime
) -> Changes:
    """Samples drawn after a change belong to a later fill, and its hours count from it."""
    renew_fills(desk, compartment, day=day, step=1)
    judged = rejudge(desk, catalogue, [compartment], moment=moment)
    return replace(judged, subjects=judged.subjects | {Subject.RESULTS})
