"""Saves a keyed report the way a file is taken in: sheet, readings, history and verdict at once."""

import hashlib
from dataclasses import replace
from datetime import date, datetime

from fluiddesk.domain.errors import OperatorError, StaleEditError
from fluiddesk.domain.samples import OpenBottle, Reading, ResultSheet, Sign
from fluiddesk.domain.severity import Severity
from fluiddesk.intake.problems import IntakeReport, MatchedSheet
from fluiddesk.intake.values import Fault
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.compartment_history.forecast_keeping import keep_after
from fluiddesk.services.event_questions import EventQuestion, questions_in_words
from fluiddesk.services.keyed_results.basis import CheckBasis
from fluiddesk.services.keyed_results.cells import read_day, read_hours
from fluiddesk.services.keyed_results.checking import check_report
from fluiddesk.services.keyed_results.drafts import write_draft
from fluiddesk.services.keyed_results.facts import (
    Checked,
    Draft,
    HeadField,
    OpenReport,
    SavedReport,
)
from fluiddesk.services.lab_intake.apply import apply_report, bottles_of
from fluiddesk.services.lab_intake.revised import revised_values
from fluiddesk.services.reassess.fleet import BoxFacts
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, canonical_json

_SUBJECTS = frozenset({Subject.RESULTS, Subject.ASSESSMENTS})


def save_report(
    place: Workplace, report: OpenReport, draft: Draft, *, moment: datetime, today: date
) -> SavedReport:
    """Save a report whose warnings are all answered: all of it or nothing.

    Raises:
        OperatorError: when something still keeps it from being saved; the text names what.
        StaleEditError: when the bottle was reported, or the draft saved, at another desk.
    """
    checked = check_report(report, draft)
    _refuse_unready(checked)
    sheet = _sheet(report, draft, checked)
    with place.store.transaction(who=place.who, moment=moment) as desk:
        bottle = _same_bottle(desk, report)
        before = _standing(desk, report)
        intake = _intake_report(report, draft, sheet, bottle)
        applied = apply_report(desk, place.catalogue, intake, moment=moment)
        write_draft(desk, replace(draft, state="saved"))
        made = desk.keying.sheet_in_force(report.site_id, report.sample)
        if made is not None:
            desk.keying.link_warnings(report.site_id, draft.id, made)
        after = _standing(desk, report)
        told = desk.condition.told_of(after.compartment_id)
        question = _question(desk, place.catalogue, report)
    keep_after(place, applied.compartments, today=today, moment=moment)
    headline = told[1] if told else ""
    severities = _severity(before), _severity(after)
    return SavedReport(
        bottle_code=report.bottle_code,
        intake_id=applied.intakes[0],
        before=severities[0],
        after=severities[1],
        headline=headline,
        sentence=_sentence(report, severities, headline),
        revised=revised_values(place.catalogue, bottle, sheet) if bottle.newest_issue else (),
        question=question,
        changes=Changes(subjects=_SUBJECTS, compartments=applied.compartments),
    )


def _refuse_unready(checked: Checked) -> None:
    if checked.can_save:
        return
    waiting = [one.told for one in checked.warnings if one.is_open]
    if checked.missing:
        names = ", ".join(checked.missing)
        waiting.append(f"{names}: still empty. Type the value, or n where it was not tested.")
    if checked.second_wanted:
        waiting.append(f"{', '.join(checked.second_wanted)}: to be entered a second time.")
    raise OperatorError("\n".join(waiting))


def _sheet(report: OpenReport, draft: Draft, checked: Checked) -> ResultSheet:
    readings: dict[str, Reading] = {}
    for read in checked.cells.values():
        readings.update({one.analyte: one for one in read.readings if _is_told(one, read.text)})
    heads = {field: draft.heads.get(field.value, "").strip() for field in HeadField}
    basis = report.basis
    return ResultSheet(
        bottle_code=report.bottle_code,
        laboratory=report.laboratory,
        report_number=heads[HeadField.REPORT_NUMBER],
        issue=int(heads[HeadField.ISSUE] or 1),
        readings=readings,
        sampled_on_printed=_day(basis, heads[HeadField.SAMPLED_ON]),
        received_on=_day(basis, heads[HeadField.RECEIVED_ON]),
        tested_on=_day(basis, heads[HeadField.TESTED_ON]),
        issued_on=_day(basis, heads[HeadField.ISSUED_ON]),
        remark=heads[HeadField.REMARK],
        meter_printed=_hours(heads[HeadField.METER]),
    )


def _is_told(reading: Reading, text: str) -> bool:
    """An empty cell says nothing, not even that it was not tested."""
    return bool(text.strip()) or reading.sign is not Sign.NOT_TESTED


def _day(basis: CheckBasis, text: str) -> date | None:
    found = read_day(basis, text)
    return None if isinstance(found, Fault) else found


def _hours(text: str) -> float | None:
    found = read_hours(text)
    return None if isinstance(found, Fault) else found


def _same_bottle(desk: Desk, report: OpenReport) -> OpenBottle:
    found = bottles_of(desk, [report.bottle_code])
    is_same = bool(found) and (found[0].newest_issue, found[0].newest_report) == (
        report.newest_issue,
        report.newest_report,
    )
    if not is_same:
        raise StaleEditError(
            f"Bottle {report.bottle_code} was reported or withdrawn at another desk since it was "
            "opened. Nothing was saved. Open it again."
        )
    return found[0]


def _intake_report(
    report: OpenReport, draft: Draft, sheet: ResultSheet, bottle: OpenBottle
) -> IntakeReport:
    told = {"draft": draft.id.hex(), "cells": dict(draft.cells), "heads": dict(draft.heads)}
    return IntakeReport(
        file=f"keyed report {sheet.report_number} of bottle {report.bottle_code}",
        sha256=hashlib.sha256(canonical_json(told).encode()).hexdigest(),
        layout=report.layout,
        laboratory=report.laboratory,
        accepted=[
            MatchedSheet(sheet=sheet, bottle=bottle, row=1, is_revision=bottle.newest_issue > 0)
        ],
        rows_read=1,
    )


def _standing(desk: Desk, report: OpenReport) -> BoxFacts:
    compartment = desk.sampling.sample(report.sample).compartment
    return BoxFacts._make(desk.boxes.rows([compartment])[0])


def _severity(box: BoxFacts) -> Severity:
    return Severity.NO_VERDICT if box.severity is None else Severity(box.severity)


def _sentence(report: OpenReport, severities: tuple[Severity, Severity], headline: str) -> str:
    before, after = severities
    box = f"{report.compartment} of {report.machine}"
    moved = f"{before.word} to {after.word}" if before != after else f"{after.word} as before"
    return f"{box}: {moved}. {headline}".strip()


def _question(desk: Desk, catalogue: Catalogue, report: OpenReport) -> EventQuestion | None:
    asked = questions_in_words(desk, catalogue)
    return next((one for one in asked if one.bottle_code == report.bottle_code), None)
