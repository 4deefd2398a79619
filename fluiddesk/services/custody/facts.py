"""Bottles on their way, the time each leg takes, and shipments, as plain values."""

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from fluiddesk.domain.identity import CompartmentId, SampleId, SiteId


class Step(StrEnum):
    """A hand-over of a bottle."""

    ISSUED = "issued"
    TAKEN = "taken"
    HANDED_IN = "handed_in"
    SHIPPED = "shipped"
    RECEIVED = "received"
    REPORTED = "reported"
    KEYED = "keyed"
    LOST = "lost"
    FOUND = "found"
    VOID = "void"

    @property
    def word(self) -> str:
        """The word shown to people."""
        return self.value.replace("_", " ").capitalize()


class KnownBy(StrEnum):
    """How a hand-over is known."""

    SCANNED = "scanned"
    TYPED = "typed"
    ASSUMED = "assumed"


@dataclass(frozen=True, slots=True, kw_only=True)
class BottleOut:
    """A bottle without a verdict: where it is, since when, and whether that is too long.

    ``days``: days at this station; ``alarm_days``: after how many it is asked after.
    ``is_presumed_lost``: past the 95th percentile of its lane, or its alarm where too few bottles
    have gone it.
    """

    code: str
    sample_id: SampleId
    site_id: SiteId
    site: str
    machine: str
    compartment: str
    compartment_id: CompartmentId
    station: Step
    since: date
    days: float
    alarm_days: float | None
    laboratory: str
    shipment: bytes | None
    is_unaccounted: bool
    is_presumed_lost: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """How long bottles take on one leg; days are ``None`` where none has gone it.

    ``lane``: the laboratory; "" for all together. ``doubtful``: bottles whose moments are in the
    wrong order, left out.
    """

    leg: str
    title: str
    lane: str
    median_days: float | None
    p90_days: float | None
    bottles: int
    target_days: float
    alarm_days: float
    doubtful: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Custody:
    """Every bottle out, the legs, and how many are unaccounted."""

    today: date
    out: tuple[BottleOut, ...]
    legs: tuple[Leg, ...]

    @property
    def unaccounted(self) -> int:
        """Bottles that should have moved on by now."""
        return sum(one.is_unaccounted for one in self.out)

    @property
    def presumed_lost(self) -> tuple[BottleOut, ...]:
        """Bottles that have been gone longer than 95 of 100 take."""
        return tuple(one for one in self.out if one.is_presumed_lost)

    @property
    def sentence(self) -> str:
        """Where the bottles are, in one line."""
        lost = len(self.presumed_lost)
        noun = "bottle" if len(self.out) == 1 else "bottles"
        told = f"{len(self.out)} {noun} out, {self.unaccounted} unaccounted"
        return f"{told}, {lost} of them presumed lost." if lost else f"{told}."


@dataclass(frozen=True, slots=True, kw_only=True)
class ShipmentFacts:
    """Bottles that travel together."""

    id: bytes
    site_id: SiteId
    laboratory: str
    carrier: str
    tracking: str
    sent_on: date
    received_on: date | None
    manifest_count: int | None
    received_count: int | None
    codes: tuple[str, ...]
    version: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TrailStep:
    """One line of a bottle's trail."""

    step: Step
    at: datetime
    known_by: KnownBy
    who: str
    note: str
