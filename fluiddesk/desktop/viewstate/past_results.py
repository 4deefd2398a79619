"""Past laboratory results without our codes: rows of a file, and rows that wait for a person."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Protocol

from fluiddesk.desktop.viewstate.register_words import counted
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.units import percent_text
from fluiddesk.services.past_results.facts import (
    PastCandidate,
    PastFate,
    PastPreview,
    PastRowFacts,
    PastTaken,
    RowKey,
    WaitingRow,
)
from fluiddesk.services.workplace import Workplace

_FATES: Mapping[PastFate, str] = {
    PastFate.SURE: "Sure",
    PastFate.DOUBTFUL: "To confirm",
    PastFate.KNOWN: "Known already",
    PastFate.HELD: "Held",
}


_NOTHING_FITS = "nothing in the register fits: choose the compartment yourself, or leave it out"


@dataclass(frozen=True, slots=True, kw_only=True)
class PastLine:
    """One row as texts; ``key`` names a row that waits, and is ``None`` in a preview."""

    row: str
    machine: str
    compartment: str
    sampled_on: str
    match: str
    fate: str
    why: str
    key: RowKey | None = None
    candidates: tuple[PastCandidate, ...] = ()


class Telling(Protocol):
    """Told how far work is; answers whether to go on."""

    def __call__(self, done: int, total: int | None) -> bool: ...


def preview_lines(preview: PastPreview) -> tuple[PastLine, ...]:
    """The rows of a file, those that need a person first."""
    order = (PastFate.DOUBTFUL, PastFate.HELD, PastFate.SURE, PastFate.KNOWN)
    rows = sorted(preview.rows, key=lambda one: (order.index(one.fate), one.row))
    return tuple(_line_of(row) for row in rows)


def _line_of(row: PastRowFacts) -> PastLine:
    return PastLine(
        row=str(row.row),
        machine=row.machine_printed,
        compartment=row.compartment_printed,
        sampled_on=row.sampled_on.isoformat() if row.sampled_on else "",
        match=_match(row.candidates),
        fate=_FATES[row.fate],
        why=row.why,
        candidates=row.candidates,
    )


def waiting_lines(rows: Sequence[WaitingRow]) -> tuple[PastLine, ...]:
    """The rows that wait until a person says whose they are."""
    return tuple(
        PastLine(
            row=str(row.row),
            machine=row.machine_printed,
            compartment=row.compartment_printed,
            sampled_on=row.sampled_on.isoformat(),
            match=_match(row.candidates),
            fate=row.file_name,
            why="; ".join(row.candidates[0].doubts) if row.candidates else _NOTHING_FITS,
            key=row.key,
            candidates=row.candidates,
        )
        for row in rows
    )


def _match(candidates: Sequence[PastCandidate]) -> str:
    if not candidates:
        return "none"
    best = candidates[0]
    return f"{best.machine}, {best.compartment} ({percent_text(best.score)})"


def waiting_sentence(count: int) -> str:
    """What waits, in one sentence."""
    if not count:
        return "No past result waits. Choose a laboratory's file of past results to take in."
    if count == 1:
        return "1 past result waits until you say whose it is."
    return f"{count} past results wait until you say whose they are."


def taken_sentence(taken: PastTaken) -> str:
    """What taking in did, in one sentence."""
    told = f"{counted(taken.taken_in, 'past result')} taken in"
    if taken.waiting:
        told += f", {taken.waiting} to confirm"
    return f"{told}; none of them counts in compliance."


@dataclass(frozen=True, kw_only=True)
class PastCalls:
    """The use cases for past results, imported when first called."""

    place: Workplace

    def waiting(self) -> tuple[WaitingRow, ...]:
        """The rows that wait for a person."""
        from fluiddesk.services.past_results.confirm import waiting_rows

        return waiting_rows(self.place)

    def preview(self, path: Path, *, today: date, progress: Telling) -> PastPreview:
        """Read a file and match its rows; nothing is changed."""
        from fluiddesk.services.past_results.preview import preview_past_results

        return preview_past_results(self.place, path, today=today, progress=progress)

    def take_in(
        self, preview: PastPreview, *, moment: datetime, today: date, progress: Telling
    ) -> PastTaken:
        """Save the sure rows; the doubtful ones wait."""
        from fluiddesk.services.past_results.take_in import take_in_past_results

        return take_in_past_results(
            self.place, preview, moment=moment, today=today, progress=progress
        )

    def confirm(
        self, key: RowKey, compartment: CompartmentId, *, moment: datetime, today: date
    ) -> PastTaken:
        """Save one waiting row under the box that a person chose."""
        from fluiddesk.services.past_results.confirm import confirm_rows

        return confirm_rows(self.place, {key: compartment}, moment=moment, today=today)

    def set_aside(self, key: RowKey, *, reason: str, moment: datetime, today: date) -> PastTaken:
        """Leave one waiting row out for good, with the reason."""
        from fluiddesk.services.past_results.confirm import set_aside_rows

        return set_aside_rows(self.place, [key], reason=reason, moment=moment, today=today)
