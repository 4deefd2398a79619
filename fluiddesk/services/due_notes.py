"""Why due samples were missed or excused: the notes that stand, and taking one back."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

from fluiddesk.domain.errors import NotFoundError, OperatorError
from fluiddesk.domain.identity import CompartmentId, SiteId
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, RecordKey, RecordKind

_EXCUSED: Final = "excused"


@dataclass(frozen=True, slots=True, kw_only=True)
class DueNote:
    """A reason written beside a due event. ``voided_reason`` is "" while the note stands."""

    site: SiteId
    id: bytes
    compartment_id: CompartmentId
    due_on: date
    is_excused: bool
    reason: str
    note: str
    voided_reason: str = ""

    @property
    def words(self) -> str:
        """The note in words.

        >>> DueNote(site=SiteId(1), id=b"", compartment_id=CompartmentId(b""), reason="no_access",
        ...     due_on=date(2026, 5, 1), is_excused=True, note="flooded").words
        'excused: no access, flooded'
        """
        kind = "excused" if self.is_excused else "missed"
        told = f"{kind}: {self.reason.replace('_', ' ')}"
        return f"{told}, {self.note}" if self.note else told


def due_notes(
    place: Workplace, compartment: CompartmentId | None = None, *, voided: bool = False
) -> tuple[DueNote, ...]:
    """The notes that stand, by due day; of one box where it is named; ``voided``: the others too.

    Voided notes stay in the store with the reason they were taken back for.
    """
    with place.store.reading() as desk:
        found = _notes(desk, compartment)
    return tuple(one for one in found if voided or not one.voided_reason)


def _notes(desk: Desk, compartment: CompartmentId | None) -> Sequence[DueNote]:
    where = {} if compartment is None else {"compartment_id": compartment}
    found = [
        DueNote(
            site=SiteId(row["site_id"]),
            id=row["id"],
            compartment_id=CompartmentId(row["compartment_id"]),
            due_on=row["due_on"],
            is_excused=row["kind"] == _EXCUSED,
            reason=row["reason"],
            note=row["note"],
            voided_reason=row["voided_reason"] or "",
        )
        for row in desk.register.all(RecordKind.DUE_NOTE, **where)
    ]
    return sorted(found, key=lambda one: one.due_on)


def void_due_note(place: Workplace, note_id: bytes, *, why: str, moment: datetime) -> Changes:
    """Take a note back that was written by mistake: it stays on record and counts no more.

    The due event stands again as without it, so that compliance moves back.

    Raises:
        OperatorError: without a reason; when the note was taken back before.
        NotFoundError: there is no such note.
    """
    if not why.strip():
        raise OperatorError("A note is taken back with a reason. Say why.")
    with place.store.transaction(who=place.who, moment=moment) as desk:
        found = [one for one in _notes(desk, None) if one.id == note_id]
        if not found:
            raise NotFoundError("This note is not in the store. Read the list again.")
        [note] = found
        box = desk.fleet.compartment(note.compartment_id)
        name = place.catalogue.box_name(box.kind, box.position)
        if note.voided_reason:
            raise OperatorError(
                f"The note on {name}, due {note.due_on.isoformat()}, was taken back already "
                f"({note.voided_reason}). Read the list again."
            )
        key = RecordKey(RecordKind.DUE_NOTE, note.site, note.id)
        told = f"due sample of {name} on {note.due_on.isoformat()}"
        desk.register.change(key, {"voided_reason": why.strip()}, version=None, name=told)
    return Changes(
        subjects=frozenset({Subject.FLEET}), compartments=frozenset({note.compartment_id})
    )
