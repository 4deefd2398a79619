"""A visit as it was done, and each of its bottles, as keyed from the sheet."""

from dataclasses import dataclass
from datetime import date

from fluiddesk.domain.identity import SampleId
from fluiddesk.domain.samples import DrawMethod
from fluiddesk.domain.trust.taking import FillLevel
from fluiddesk.services.changes import Changes


@dataclass(frozen=True, slots=True, kw_only=True)
class BottleTaken:
    """What the sheet says of one bottle; ``None`` where it says nothing.

    ``why_not`` is given for a bottle that was not filled, and nothing else of it then. Litres
    added may be 0 but not blank; whether the fluid was changed must be said.
    """

    visit_box_id: bytes
    is_taken: bool = True
    why_not: str = ""
    method: DrawMethod = DrawMethod.UNKNOWN
    sampling_point_id: bytes | None = None
    flushed: bool | None = None
    warm: bool | None = None
    mixed: bool | None = None
    fill_level: FillLevel = FillLevel.UNKNOWN
    cap_marked: bool | None = None
    litres_added: float | None = None
    fluid_changed: bool | None = None
    filter_changed: bool | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitDone:
    """One visit as it was done. ``taken_at`` is the time of day, "14:30", empty where unknown.

    ``meter_value`` in the unit of the machine's meter; ``None`` only where ``meter_unreadable``.
    """

    visit_id: bytes
    taken_on: date
    taken_at: str = ""
    taken_by: str
    meter_value: float | None = None
    meter_unreadable: bool = False
    bottles: tuple[BottleTaken, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """What recording came to.

    ``suspect``: bottle codes with the reason against them; ``warnings``: what should be looked at;
    ``still_open``: bottles of the visit of which nothing was said.
    """

    samples: tuple[SampleId, ...]
    not_taken: int
    suspect: tuple[tuple[str, str], ...]
    warnings: tuple[str, ...]
    still_open: int
    changes: Changes

    @property
    def sentence(self) -> str:
        """What happened, in one line."""
        parts = [f"{len(self.samples)} taken"]
        parts += [f"{self.not_taken} not taken"] if self.not_taken else []
        parts += [f"{len(self.suspect)} in doubt"] if self.suspect else []
        parts += [f"{self.still_open} still open"] if self.still_open else []
        return ", ".join(parts) + "."
