"""Drafts of keyed reports: kept at each change, parked, dropped; they survive a crash."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any, Final

from fluiddesk.domain.errors import NotFoundError, UsageError
from fluiddesk.services.keyed_results.facts import (
    Answer,
    Draft,
    HeadField,
    KeyWarning,
    OpenReport,
)
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import AnsweredWarningRecord, Desk, KeyDraftRecord

_LONGEST: Final = 9_999
_TEXT_KEPT: Final = 2_000


def open_draft(place: Workplace, report: OpenReport, *, moment: datetime) -> Draft:
    """The draft begun for this bottle and laboratory, else a new one."""
    with place.store.transaction(who=place.who, moment=moment) as desk:
        for record in desk.keying.live_drafts(report.bottle_code):
            if record.laboratory == report.laboratory:
                return draft_of(record)
        if report.laboratory not in desk.catalogue.laboratories():
            desk.catalogue.add_laboratories({report.laboratory: report.laboratory})
        record = KeyDraftRecord(
            site=report.site_id,
            id=desk.new_id(),
            bottle_code=report.bottle_code,
            sample=report.sample,
            laboratory=report.laboratory,
            issue=report.newest_issue + 1,
            cells={"layout": report.layout, "heads": _first_heads(report)},
        )
        desk.keying.add_draft(record)
        return draft_of(desk.keying.draft(record.id))


def _first_heads(report: OpenReport) -> dict[str, str]:
    """What the register knows of a report before anybody reads it."""
    heads = {HeadField.ISSUE.value: str(report.newest_issue + 1)}
    if report.newest_report:
        heads[HeadField.REPORT_NUMBER.value] = report.newest_report
    return heads


def keep_draft(place: Workplace, report: OpenReport, draft: Draft, *, moment: datetime) -> Draft:
    """Save a draft as it stands; call it at each change. Answers the draft with its new version.

    Raises:
        StaleEditError: when another desk saved it since.
        NotFoundError: when it was saved or dropped meanwhile.
    """
    with place.store.transaction(who=place.who, moment=moment) as desk:
        return write_draft(desk, replace(draft, layout=report.layout))


def write_draft(desk: Desk, draft: Draft) -> Draft:
    """Save a draft in an open transaction."""
    known = desk.keying.draft(draft.id)
    if known.state not in ("open", "parked"):
        raise NotFoundError(
            f"The draft of bottle {draft.bottle_code} was {known.state} by {known.changed_by}. "
            "Open the bottle again."
        )
    record = replace(
        known,
        report_number=draft.heads.get(HeadField.REPORT_NUMBER, "").strip(),
        issue=_issue(draft.heads.get(HeadField.ISSUE, "")),
        state=draft.state,
        cells=_packed(draft),
        second=dict(draft.second),
        second_by=draft.second_by,
        note=draft.note[:_TEXT_KEPT],
        version=draft.version,
    )
    desk.keying.keep_draft(record)
    return draft_of(desk.keying.draft(draft.id))


def answer_warning(
    place: Workplace,
    report: OpenReport,
    draft: Draft,
    warning: KeyWarning,
    answer: Answer,
    *,
    new_text: str = "",
    moment: datetime,
) -> Draft:
    """Keep the clerk's answer to a warning, at once.

    ``CORRECTED`` puts ``new_text``, else what the warning proposes, into the cell.

    Raises:
        UsageError: when a hard warning is to be confirmed, or there is nothing to correct to.
        StaleEditError: when another desk saved the draft since.
    """
    if warning.is_hard and answer is Answer.CONFIRMED:
        raise UsageError(
            f"{warning.told} This cannot be confirmed. Correct it, or park the report."
        )
    changed, told = draft, ""
    if answer is Answer.CORRECTED:
        changed, told = _corrected(draft, warning, new_text)
    else:
        changed = replace(draft, answers={**draft.answers, warning.key: answer})
    is_parked = Answer.PARKED in changed.answers.values()
    changed = replace(changed, state="parked" if is_parked else "open")
    with place.store.transaction(who=place.who, moment=moment) as desk:
        desk.keying.add_warnings(
            [
                AnsweredWarningRecord(
                    site=report.site_id,
                    draft=draft.id,
                    analyte=warning.analyte,
                    kind=warning.kind.value,
                    told=warning.told,
                    answer=answer.value,
                    old_text=warning.text,
                    new_text=told,
                )
            ]
        )
        return write_draft(desk, replace(changed, layout=report.layout))


def _corrected(draft: Draft, warning: KeyWarning, new_text: str) -> tuple[Draft, str]:
    if warning.moved and not new_text:
        cells = {**draft.cells, **warning.moved}
        return replace(draft, cells=cells, answers=_without(draft, warning)), "moved"
    text = new_text or warning.proposed
    if not text or not warning.cell:
        raise UsageError(f"{warning.told} Type the right value into its field.")
    if warning.cell in {one.value for one in HeadField}:
        heads = {**draft.heads, warning.cell: text}
        return replace(draft, heads=heads, answers=_without(draft, warning)), text
    second = {key: value for key, value in draft.second.items() if key != warning.cell}
    cells = {**draft.cells, warning.cell: text}
    return replace(draft, cells=cells, second=second, answers=_without(draft, warning)), text


def _without(draft: Draft, warning: KeyWarning) -> dict[str, Answer]:
    """The answers but the one to a warning that is settled by a correction."""
    return {key: answer for key, answer in draft.answers.items() if key != warning.key}


def park_draft(place: Workplace, draft: Draft, *, note: str, moment: datetime) -> Draft:
    """Put a report aside until somebody knows more; ``note`` says what is awaited."""
    with place.store.transaction(who=place.who, moment=moment) as desk:
        return write_draft(desk, replace(draft, state="parked", note=note.strip()))


def drop_draft(place: Workplace, draft: Draft, *, moment: datetime) -> None:
    """Give a draft up; it stays in the database as dropped."""
    with place.store.transaction(who=place.who, moment=moment) as desk:
        write_draft(desk, replace(draft, state="dropped"))


def draft_of(record: KeyDraftRecord) -> Draft:
    """A draft as it is shown."""
    told = record.cells
    return Draft(
        bottle_code=record.bottle_code,
        layout=str(told.get("layout", "")),
        heads=_texts(told.get("heads")),
        cells=_texts(told.get("cells")),
        second=dict(record.second),
        second_by=record.second_by,
        answers={key: Answer(value) for key, value in _texts(told.get("answers")).items()},
        note=record.note,
        id=record.id,
        version=record.version,
        state=record.state,
        begun_by=record.begun_by,
        changed_at=record.changed_at,
        changed_by=record.changed_by,
    )


def _packed(draft: Draft) -> dict[str, Any]:
    return {
        "layout": draft.layout,
        "heads": {key: text[:_TEXT_KEPT] for key, text in draft.heads.items()},
        "cells": {key: text[:_TEXT_KEPT] for key, text in draft.cells.items()},
        "answers": {key: answer.value for key, answer in draft.answers.items()},
    }


def _texts(told: object) -> dict[str, str]:
    if not isinstance(told, Mapping):
        return {}
    return {str(key): str(value) for key, value in told.items()}


def _issue(text: str) -> int:
    plain = text.strip()
    return min(int(plain), _LONGEST) if plain.isascii() and plain.isdigit() and int(plain) else 1
