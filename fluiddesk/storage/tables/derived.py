"""What is derived from the truth and written in the same transaction, to be read at once."""

from datetime import date, datetime

from fluiddesk.storage.tables.base import (
    Base,
    Blob,
    Json,
    Note,
    RowKey,
    SiteKey,
    Stored,
    Zero,
    between,
    parent,
)


class HistoryBlockRow(Base):
    """All samples of one compartment, packed (see ``blocks.py``)."""

    __tablename__ = "history_block"
    __table_args__ = (parent("compartment_id", "compartment"),)

    site_id: Stored[SiteKey]
    compartment_id: Stored[RowKey]
    block: Stored[Blob]


class VerdictBlockRow(Base):
    """The verdicts on all samples of one compartment, packed apart from their values.

    Judging anew rewrites these few bytes instead of the whole history.
    """

    __tablename__ = "verdict_block"
    __table_args__ = (parent("compartment_id", "compartment"),)

    site_id: Stored[SiteKey]
    compartment_id: Stored[RowKey]
    block: Stored[Blob]


class CurrentConditionRow(Base):
    """How a compartment stands. ``first_seen_on``: since which day this severity has held."""

    __tablename__ = "current_condition"
    __table_args__ = (
        parent("compartment_id", "compartment"),
        parent("sample_id", "sample"),
        between("severity", -1, 3),
        between("previous_severity", -1, 3),
        between("trust", 0, 2),
        between("direction", -1, 1),
    )

    site_id: Stored[SiteKey]
    compartment_id: Stored[RowKey]
    sample_id: Stored[bytes | None]
    severity: Stored[int]
    trust: Stored[int]
    taken_on: Stored[date | None]
    true_hours: Stored[float | None]
    fluid_hours: Stored[float | None]
    direction: Stored[Zero]
    previous_severity: Stored[int | None]
    reasons: Stored[Json]
    headline: Stored[Note]
    assessed_at: Stored[datetime | None]
    first_seen_on: Stored[date | None]


class MachineUsageRow(Base):
    """How much a machine has run and how much it runs a day."""

    __tablename__ = "machine_usage"
    __table_args__ = (parent("machine_id", "machine"),)

    site_id: Stored[SiteKey]
    machine_id: Stored[RowKey]
    hours_now: Stored[float]
    as_of: Stored[date]
    hours_per_day: Stored[float]
    hours_per_day_spread: Stored[float]
    readings: Stored[Zero]
