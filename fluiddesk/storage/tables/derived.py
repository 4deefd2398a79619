"""What is derived from the truth and written in the same transaction, to be read at once."""

from datetime import date, datetime

from sqlalchemy import text
from sqlalchemy.orm import Mapped, mapped_column

from fluiddesk.storage.tables.base import (
    Base,
    Blob,
    Json,
    Note,
    RowKey,
    SiteKey,
    Zero,
    between,
    parent,
)


class HistoryBlockRow(Base):
    """All samples of one compartment, packed (see ``blocks.py``)."""

    __tablename__ = "history_block"
    __table_args__ = (parent("compartment_id", "compartment"),)

    site_id: Mapped[SiteKey]
    compartment_id: Mapped[RowKey]
    block: Mapped[Blob]


class VerdictBlockRow(Base):
    """The verdicts on all samples of one compartment, packed apart from their values.

    Judging anew rewrites these few bytes instead of the whole history.
    """

    __tablename__ = "verdict_block"
    __table_args__ = (parent("compartment_id", "compartment"),)

    site_id: Mapped[SiteKey]
    compartment_id: Mapped[RowKey]
    block: Mapped[Blob]


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

    site_id: Mapped[SiteKey]
    compartment_id: Mapped[RowKey]
    sample_id: Mapped[bytes | None]
    severity: Mapped[int]
    trust: Mapped[int]
    taken_on: Mapped[date | None]
    true_hours: Mapped[float | None]
    fluid_hours: Mapped[float | None]
    direction: Mapped[Zero]
    previous_severity: Mapped[int | None]
    reasons: Mapped[Json]
    headline: Mapped[Note]
    assessed_at: Mapped[datetime | None]
    first_seen_on: Mapped[date | None]


class MachineUsageRow(Base):
    """How much a machine has run and how much it runs a day."""

    __tablename__ = "machine_usage"
    __table_args__ = (parent("machine_id", "machine"),)

    site_id: Mapped[SiteKey]
    machine_id: Mapped[RowKey]
    hours_now: Mapped[float]
    as_of: Mapped[date]
    hours_per_day: Mapped[float]
    hours_per_day_spread: Mapped[float]
    readings: Mapped[int] = mapped_column(server_default=text("0"))
