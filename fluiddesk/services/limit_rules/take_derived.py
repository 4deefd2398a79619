"""Puts derived rows into a draft, as a person decides; nothing takes force by itself."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from fluiddesk.domain.errors import OperatorError
from fluiddesk.services.limit_rules.facts import DerivedRow, Edited, EditKind, RowEdit
from fluiddesk.services.limit_rules.versions import edit_draft, read_set
from fluiddesk.services.workplace import Workplace


def take_into_draft(
    place: Workplace,
    number: int,
    rows: Sequence[DerivedRow],
    *,
    version: int,
    moment: datetime,
) -> Edited:
    """Put derived rows into a draft, in place of rows of the same scope, analyte and direction.

    Raises:
        OperatorError: when the set is no draft, or a row has too little for a limit.
        StaleEditError: when somebody else has changed the draft since.
    """
    draft = read_set(place, number).limit_set
    at = {(limit.scope, limit.key): index for index, limit in enumerate(draft.limits)}
    edits = []
    for row in rows:
        if row.limit is None:
            raise OperatorError(
                f"{row.scope.text}, {row.analyte_name}: {row.watch.why} Leave the row out."
            )
        limit = replace(row.limit, set_by=place.who)
        known = at.get((limit.scope, limit.key))
        kind = EditKind.ADD if known is None else EditKind.CHANGE
        edits.append(RowEdit(kind=kind, place=known, limit=limit))
    return edit_draft(place, number, edits, version=version, moment=moment)
