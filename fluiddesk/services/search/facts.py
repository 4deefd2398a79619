"""What a search answers with, as plain values."""

from dataclasses import dataclass
from enum import StrEnum


class HitKind(StrEnum):
    """What kind of record was found, in the order in which answers show them."""

    MACHINE = "machine"
    COMPONENT = "component"
    COMPARTMENT = "compartment"
    BOTTLE = "bottle"
    REPORT = "report"
    TANK = "tank"
    DELIVERY = "delivery"
    FLUID_SAMPLE = "fluid_sample"
    PAPER = "paper"
    REMARK = "remark"

    @property
    def words(self) -> str:
        """The kind in words for a list."""
        return "fluid sample" if self is HitKind.FLUID_SAMPLE else self.value


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchHit:
    """One record found: its text as written, where it belongs, and what to open.

    The identifiers are ``None`` where a hit has no such record: a machine has no sample. What
    belongs to no machine has a ``store``: the kind and identifier of its tank, delivery or fluid
    sample.
    """

    kind: HitKind
    found: str
    place: str
    machine_id: bytes | None
    compartment_id: bytes | None
    sample_id: bytes | None
    store: tuple[HitKind, bytes] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchAnswer:
    """The hits, best first; ``is_cut`` says that there are more than were asked for."""

    hits: tuple[SearchHit, ...]
    is_cut: bool
    sentence: str
