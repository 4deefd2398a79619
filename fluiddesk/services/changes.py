"""What a use case altered, so that screens refresh only what they show of it."""

from dataclasses import dataclass, field
from enum import StrEnum

from fluiddesk.domain.identity import CompartmentId


class Subject(StrEnum):
    """A kind of record that screens show."""

    FLEET = "fleet"
    RESULTS = "results"
    ASSESSMENTS = "assessments"
    LIMITS = "limits"


@dataclass(frozen=True, slots=True, kw_only=True)
class Changes:
    """Which subjects changed, and in which compartments (empty: anywhere)."""

    subjects: frozenset[Subject]
    compartments: frozenset[CompartmentId] = field(default_factory=frozenset)
