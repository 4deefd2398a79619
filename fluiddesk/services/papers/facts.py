"""Papers and remarks as plain values."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class OwnerKind(StrEnum):
    """What a paper or remark may belong to."""

    MACHINE = "machine"
    COMPARTMENT = "compartment"
    SAMPLING_POINT = "sampling_point"
    SAMPLE = "sample"
    SHEET = "sheet"
    FLUID_BATCH = "fluid_batch"
    FLUID_TANK = "fluid_tank"
    FLUID_SAMPLE = "fluid_sample"


@dataclass(frozen=True, slots=True)
class PaperOwner:
    """The record that a paper or remark belongs to."""

    kind: OwnerKind
    id: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperFacts:
    """One file of a record. ``sha256`` is the hash of its content (FIPS 180-4), in hexadecimal."""

    id: bytes
    owner: PaperOwner
    file_name: str
    media_type: str
    size_bytes: int
    sha256: str
    added_at: datetime
    added_by: str
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RemarkFacts:
    """What a person wrote about a record."""

    id: bytes
    owner: PaperOwner
    words: str
    made_at: datetime
    made_by: str
