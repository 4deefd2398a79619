"""Forms of the due list: a special interval, its end, and notes taken back."""

from collections.abc import Sequence
from datetime import date
from typing import Final

from fluiddesk.desktop.viewstate.record_form import FieldKind, FormField, RecordForm, Values
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.services.due_notes import DueNote
from fluiddesk.services.special_by_hand import REASONS, Special, SpecialWish
from fluiddesk.services.special_intervals import FROM_SAMPLE

_ONCE: Final = ", ".join(words for key, words in REASONS.items() if key not in FROM_SAMPLE)


def special_form(name: str, *, today: date) -> RecordForm:
    """Asks for a special interval of a box."""
    return RecordForm(
        key="special",
        title=f"Sample sooner: {name}",
        about=(
            "The shorter of this and the usual interval holds until you end it. What compliance "
            "owes stays the usual interval."
        ),
        save_label="Sample sooner",
        is_new=True,
        fields=(
            FormField(
                key="reason",
                label="Reason",
                kind=FieldKind.CHOICE,
                is_needed=True,
                choices=tuple(REASONS.items()),
                note=f"one sample within the days: {_ONCE}",
            ),
            FormField(key="hours", label="Every", kind=FieldKind.NUMBER, unit="h", above=0),
            FormField(key="days", label="or", kind=FieldKind.WHOLE, unit="days", least=1),
            FormField(
                key="valid_from",
                label="From",
                kind=FieldKind.DAY,
                is_needed=True,
                value=today.isoformat(),
            ),
            FormField(key="note", label="Note", kind=FieldKind.LONG),
        ),
    )


def wish_of(values: Values, box: CompartmentId) -> SpecialWish:
    """The special interval that a form says."""
    hours, days, begins = values["hours"], values["days"], values["valid_from"]
    if not isinstance(begins, date):
        raise TypeError("a sound form holds a date")
    return SpecialWish(
        compartment=box,
        reason=str(values["reason"]),
        hours=hours if isinstance(hours, float) else None,
        days=days if isinstance(days, int) else None,
        valid_from=begins,
        note=str(values["note"] or ""),
    )


def end_form(one: Special) -> RecordForm:
    """Asks why a special interval is ended."""
    return RecordForm(
        key="end_special",
        title=f"End: {one.machine}, {one.compartment}",
        about=(
            f"{one.reason_words.capitalize()}, {one.interval_words}, from "
            f"{one.valid_from.isoformat()}. The usual interval holds again from today on."
        ),
        save_label="End it",
        is_new=True,
        fields=(FormField(key="why", label="Reason", kind=FieldKind.LONG, is_needed=True),),
    )


def void_form(name: str, notes: Sequence[DueNote], *, near: date) -> RecordForm:
    """Asks which note on a box is taken back, and why; the one nearest to a day is chosen."""
    nearest = min(notes, key=lambda one: abs(one.due_on - near))
    return RecordForm(
        key="void_note",
        title=f"Take a note back: {name}",
        about="The due sample counts as without it. The note stays on record with your reason.",
        save_label="Take the note back",
        is_new=True,
        fields=(
            FormField(
                key="note",
                label="Note",
                kind=FieldKind.CHOICE,
                is_needed=True,
                value=nearest.id.hex(),
                choices=tuple(
                    (one.id.hex(), f"due {one.due_on.isoformat()}, {one.words}") for one in notes
                ),
            ),
            FormField(key="why", label="Reason", kind=FieldKind.LONG, is_needed=True),
        ),
    )


def special_cells(specials: Sequence[Special]) -> list[tuple[bytes, tuple[str, ...]]]:
    """The list of special intervals: state, machine, box, reason, interval, from, note, site."""
    return [
        (
            one.id,
            (
                one.state_words,
                one.machine,
                one.compartment,
                one.reason_words,
                one.interval_words,
                one.valid_from.isoformat(),
                one.note,
                one.site,
            ),
        )
        for one in specials
    ]
