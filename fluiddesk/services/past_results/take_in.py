"""Takes in what a preview of past results showed: sure rows are saved, doubtful ones wait."""

from collections.abc import Sequence
from datetime import date, datetime

from fluiddesk.domain.errors import CancelledError, StaleEditError
from fluiddesk.domain.identity import SiteId
from fluiddesk.intake.past_reading import PastReport, Progress
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.lab_intake.facts import Moved
from fluiddesk.services.past_results.facts import PastFate, PastPreview, PastTaken
from fluiddesk.services.past_results.matching import MatchedRow, Matching, match_rows
from fluiddesk.services.past_results.preview import candidate, row_facts
from fluiddesk.services.past_results.saving import Placed, save_rows
from fluiddesk.services.reassess.fleet import Moved as MovedBox
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, HeldRowRecord, WaitingRecord

TOUCHED = frozenset({Subject.FLEET, Subject.RESULTS, Subject.ASSESSMENTS})


def take_in_past_results(
    place: Workplace,
    preview: PastPreview,
    *,
    moment: datetime,
    today: date,
    progress: Progress | None = None,
) -> PastTaken:
    """Save what the preview showed: all of it or nothing.

    Sure rows become samples of the past with their sheets and verdicts; doubtful rows wait for a
    person (``confirm.py``). A file that was taken in before changes nothing.

    Raises:
        StaleEditError: when the register changed since the preview, so that a row has another fate.
        CancelledError: when ``progress`` says to stop; it is asked once, before the saving begins.
    """
    del today
    if preview.already_taken_in:
        return PastTaken(
            known=len(preview.rows) - preview.count(PastFate.HELD),
            held=preview.count(PastFate.HELD),
            problems=preview.problems,
            already_taken_in=preview.already_taken_in,
        )
    if progress is not None and not progress(0, None):
        raise CancelledError("Stopped before anything was saved; nothing has changed.")
    sure, doubtful = preview.count(PastFate.SURE), preview.count(PastFate.DOUBTFUL)
    told = PastTaken(
        known=preview.count(PastFate.KNOWN),
        held=preview.count(PastFate.HELD),
        problems=preview.problems,
    )
    if not sure + doubtful:
        return told
    with place.store.transaction(who=place.who, moment=moment) as desk:
        report = preview.report
        matching = match_rows(desk, place.catalogue, report.rows)
        _refuse_stale(preview, matching)
        if report.laboratory not in desk.catalogue.laboratories():
            desk.catalogue.add_laboratories({report.laboratory: report.laboratory})
        intakes = _add_intakes(desk, report, matching.rows)
        placed = _placed(matching.rows)
        saved = save_rows(
            desk, place.catalogue, placed, intakes, hours=matching.hours, moment=moment
        )
        desk.past.add_waiting(_waiting(matching, intakes))
        _hold(desk, report, intakes)
    return PastTaken(
        taken_in=sure,
        waiting=doubtful,
        known=told.known,
        held=told.held,
        problems=told.problems,
        moved=moved_facts(saved.moved),
        changes=Changes(subjects=TOUCHED, compartments=saved.compartments),
        intake_id=next(iter(intakes.values())),
    )


def moved_facts(moved: Sequence[MovedBox]) -> tuple[Moved, ...]:
    """The boxes whose severity changed, as results pages show them."""
    return tuple(
        Moved(
            site=one.site,
            machine=one.machine,
            compartment=one.compartment,
            before=one.before,
            after=one.after,
            headline=one.headline,
        )
        for one in moved
    )


def _refuse_stale(preview: PastPreview, matching: Matching) -> None:
    seen = {row.row: row for row in preview.rows if row.fate is not PastFate.HELD}
    for one in matching.rows:
        if row_facts(one, matching.names) != seen[one.row.row]:
            raise StaleEditError(
                f"The register changed since {preview.file_name} was read: row {one.row.row} is "
                "matched otherwise now. Nothing was saved. Open the file again."
            )


def _placed(rows: Sequence[MatchedRow]) -> list[Placed]:
    return [
        Placed(row=one.row, box=one.candidates[0].box, joins=one.joins)
        for one in rows
        if one.fate is PastFate.SURE and one.candidates[0].box is not None
    ]


def _site_of(one: MatchedRow, fallback: SiteId) -> SiteId:
    return one.candidates[0].machine.site if one.candidates else fallback


def _add_intakes(desk: Desk, report: PastReport, rows: Sequence[MatchedRow]) -> dict[SiteId, bytes]:
    """One intake for each site that a row belongs or may belong to."""
    first = desk.fleet.sites()[0].site
    counted = [one for one in rows if one.fate in (PastFate.SURE, PastFate.DOUBTFUL)]
    sites = {_site_of(one, first) for one in counted}
    sites |= {named.machine.site for one in counted for named in one.candidates}
    counts = {
        "taken_in": sum(one.fate is PastFate.SURE for one in rows),
        "waiting": sum(one.fate is PastFate.DOUBTFUL for one in rows),
        "held": len(report.held),
        "unchanged": sum(one.fate is PastFate.KNOWN for one in rows),
    }
    return {
        site: desk.results.add_intake(
            site,
            file_name=report.file,
            sha256=report.sha256,
            layout=report.layout,
            counts=counts,
        )
        for site in sorted(sites)
    }


def _waiting(matching: Matching, intakes: dict[SiteId, bytes]) -> list[WaitingRecord]:
    first = next(iter(intakes))
    return [
        WaitingRecord(
            site=_site_of(one, first),
            intake=intakes[_site_of(one, first)],
            row_number=one.row.row,
            machine_printed=one.row.machine,
            box_printed=one.row.compartment,
            sampled_on=one.row.sampled_on,
            fluid_hours=one.row.fluid_hours,
            sheet=one.row.sheet,
            candidates=[
                {
                    "compartment": named.compartment_id.hex(),
                    "score": named.score,
                    "doubts": [*named.doubts, *([one.why] if place == 0 and one.why else [])],
                }
                for place, named in enumerate(
                    candidate(named, matching.names) for named in one.candidates
                )
            ],
        )
        for one in matching.rows
        if one.fate is PastFate.DOUBTFUL
    ]


def _hold(desk: Desk, report: PastReport, intakes: dict[SiteId, bytes]) -> None:
    site, intake = next(iter(intakes.items()))
    desk.results.add_held_rows(
        HeldRowRecord(
            site=site,
            intake=intake,
            row_number=held.row,
            cells={str(place): text for place, text in enumerate(held.cells, start=1)},
            reason=" ".join(problem.text() for problem in held.reasons),
        )
        for held in report.held
    )
