"""Visit sheets that are being keyed: kept as typed, so that a closed window loses nothing."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.identity import SiteId
from fluiddesk.services.visits.book import refuse_closed, visit_name, visit_row
from fluiddesk.services.visits.facts import VisitState
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import NEW_DRAFT, Desk, RecordKind, TakingDraftRecord

Cells = Mapping[str, Mapping[str, str]]
"""Texts as typed, by the part of the sheet (its head, or a bottle) and the field there."""

_OPEN: Final = (VisitState.PLANNED, VisitState.ISSUED)
_LONGEST: Final = 2_000


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetDraft:
    """A sheet that is half keyed. ``version`` is ``NEW_DRAFT`` before it is saved first."""

    visit_id: bytes
    cells: Cells
    version: int = NEW_DRAFT
    changed_at: datetime | None = None
    changed_by: str = ""

    @property
    def told(self) -> str:
        """Who keyed it last, and when."""
        if self.changed_at is None:
            return ""
        return f"half keyed by {self.changed_by}, {self.changed_at:%Y-%m-%d %H:%M} UTC"


def sheet_drafts(place: Workplace) -> dict[bytes, SheetDraft]:
    """The half-keyed sheets of visits that are planned or issued, by visit."""
    with place.store.reading() as desk:
        drafts = desk.taking_drafts.live()
        if not drafts:
            return {}
        visits = desk.register.all(RecordKind.VISIT)
    still_open = {row["id"] for row in visits if row["state"] in _OPEN}
    return {one.visit: _draft(one) for one in drafts if one.visit in still_open}


def sheet_draft(place: Workplace, visit_id: bytes) -> SheetDraft | None:
    """The half-keyed sheet of a visit; ``None`` where there is none."""
    with place.store.reading() as desk:
        found = desk.taking_drafts.of_visit(visit_id)
    return None if found is None or found.dropped else _draft(found)


def keep_sheet(
    place: Workplace, draft: SheetDraft, *, moment: datetime, writes_over: bool = False
) -> SheetDraft:
    """Save a sheet as typed so far; answers it with its new version.

    Args:
        place: where, and who keys.
        draft: the texts, with the version they were read at.
        moment: when.
        writes_over: whether what somebody else keyed since is written over.

    Raises:
        StaleEditError: when somebody else has keyed this sheet since.
        OperatorError: when the visit was recorded or given up.
    """
    with place.store.transaction(who=place.who, moment=moment) as desk:
        row = visit_row(desk, draft.visit_id)
        refuse_closed(row, visit_name(desk, row))
        known = desk.taking_drafts.of_visit(draft.visit_id)
        version = draft.version if known is None or not writes_over else known.version
        record = TakingDraftRecord(
            site=SiteId(row["site_id"]),
            visit=draft.visit_id,
            cells=_shortened(draft.cells),
            version=version,
        )
        desk.taking_drafts.keep(record, name=_name(desk, row))
        kept = desk.taking_drafts.of_visit(draft.visit_id)
    if kept is None:
        raise OperatorError("The sheet was not kept. Type into it again.")
    return _draft(kept)


def drop_sheet(place: Workplace, draft: SheetDraft, *, why: str, moment: datetime) -> None:
    """Give up what was keyed of a sheet; the visit waits to be recorded as before.

    Raises:
        OperatorError: without a reason.
        StaleEditError: when somebody else has keyed this sheet since.
    """
    if not why.strip():
        raise OperatorError("A half-keyed sheet is dropped with a reason. Say why.")
    with place.store.transaction(who=place.who, moment=moment) as desk:
        row = visit_row(desk, draft.visit_id)
        desk.taking_drafts.close(
            draft.visit_id, name=_name(desk, row), why=why.strip(), version=draft.version
        )


def _name(desk: Desk, row: Mapping[str, Any]) -> str:
    return f"The half-keyed sheet of the {visit_name(desk, row)}"


def _shortened(cells: Cells) -> dict[str, dict[str, str]]:
    return {
        part: {key: text[:_LONGEST] for key, text in fields.items()}
        for part, fields in cells.items()
    }


def _draft(record: TakingDraftRecord) -> SheetDraft:
    return SheetDraft(
        visit_id=record.visit,
        cells=_texts(record.cells),
        version=record.version,
        changed_at=record.changed_at,
        changed_by=record.changed_by,
    )


def _texts(told: Mapping[str, Any]) -> Cells:
    """What is stored, as far as it is texts by part and field."""
    return {
        str(part): {str(key): str(text) for key, text in fields.items()}
        for part, fields in told.items()
        if isinstance(fields, Mapping)
    }
