"""Compliance as lines of tables, and the due events behind each line."""

import csv
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from pathlib import Path
from typing import Final

from fluiddesk.domain.errors import CannotWriteError
from fluiddesk.domain.sampling.compliance import Compliance, Share
from fluiddesk.domain.sampling.outcome import Outcome
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.interval_compliance.facts import (
    ComplianceTable,
    EventBox,
    EventColumns,
    EventLine,
    GroupBy,
)
from fluiddesk.services.interval_compliance.tables import compliance_table, event_lines

MONTHS_SHOWN: Final = 24
NOBODY: Final = "(no sample, or nobody named)"


class Period(StrEnum):
    """The periods that are offered, each up to today."""

    MONTH = "month"
    QUARTER = "quarter"
    HALF = "half"
    YEAR = "year"
    TWO_YEARS = "two_years"

    @property
    def words(self) -> str:
        """How it is offered."""
        return _PERIODS[self][0]

    def days(self, today: date) -> tuple[date, date]:
        """Its first and last day."""
        return today - timedelta(days=_PERIODS[self][1]), today


_PERIODS: Final = {
    Period.MONTH: ("Last 30 days", 30),
    Period.QUARTER: ("Last 90 days", 90),
    Period.HALF: ("Last 182 days", 182),
    Period.YEAR: ("Last 365 days", 365),
    Period.TWO_YEARS: ("Last 730 days", 730),
}


class EventPart(StrEnum):
    """Which due events are listed."""

    NOT_ON_TIME = "not_on_time"
    MISSED = "missed"
    LATE = "late"
    UNUSABLE = "unusable"
    EXCUSED = "excused"
    ALL = "all"


_PARTS: Final = {
    EventPart.NOT_ON_TIME: frozenset(Outcome) - {Outcome.ON_TIME, Outcome.EXCUSED, Outcome.OPEN},
    EventPart.MISSED: frozenset({Outcome.MISSED}),
    EventPart.LATE: frozenset({Outcome.LATE}),
    EventPart.UNUSABLE: frozenset({Outcome.UNUSABLE}),
    EventPart.EXCUSED: frozenset({Outcome.EXCUSED}),
    EventPart.ALL: frozenset(Outcome),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What of the compliance is looked at."""

    period: Period = Period.YEAR
    by: GroupBy = GroupBy.SITE
    site: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Month:
    """One month of the trend; shares in percent, ``None`` where nothing was owed."""

    month: str
    on_time: float | None
    taken: float | None
    early: float | None
    due: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ComplianceShown:
    """A table, the trend by month, and every due event of the period."""

    wanted: Wanted
    table: ComplianceTable
    months: tuple[Month, ...]
    events: tuple[EventLine, ...]
    groups: tuple[str, ...]
    """The group of each event."""


def compliance_shown(
    events: EventColumns, catalogue: Catalogue, wanted: Wanted, *, today: date
) -> ComplianceShown:
    """Everything the section shows, worked out off the screen's thread."""
    first, last = wanted.period.days(today)
    table = compliance_table(events, catalogue, first_day=first, last_day=last, by=wanted.by)
    trend = compliance_table(
        events,
        catalogue,
        first_day=_months_back(today, MONTHS_SHOWN - 1),
        last_day=today,
        by=GroupBy.MONTH,
    )
    lines = event_lines(events, first_day=first, last_day=last)
    boxes = {box.compartment_id: box for box in events.boxes}
    groups = tuple(_group(line, boxes[line.compartment_id], catalogue, wanted.by) for line in lines)
    return ComplianceShown(
        wanted=wanted,
        table=table,
        months=tuple(_month(line.group, line.measures) for line in trend.lines),
        events=lines,
        groups=groups,
    )


def _months_back(day: date, months: int) -> date:
    number = day.year * 12 + day.month - 1 - months
    return date(number // 12, number % 12 + 1, 1)


def _month(name: str, found: Compliance) -> Month:
    return Month(
        month=name,
        on_time=found.on_time_share.percent,
        taken=found.taken_share.percent,
        early=found.early_samples.percent,
        due=found.due,
    )


def _group(line: EventLine, box: EventBox, catalogue: Catalogue, by: GroupBy) -> str:
    """The group a due event counts in, in the words of the table."""
    match by:
        case GroupBy.SITE:
            return line.site
        case GroupBy.MACHINE:
            return f"{line.machine}, {line.site}"
        case GroupBy.MONTH:
            return f"{line.window[1]:%Y-%m}"
        case GroupBy.MACHINE_KIND:
            return catalogue.machine_kind_name(box.machine_kind)
        case GroupBy.COMPARTMENT_KIND:
            return catalogue.kind_name(box.compartment_kind)
        case _:
            return line.sampler or NOBODY


def line_cells(name: str, found: Compliance) -> tuple[str, ...]:
    """One group as cells: group, due, excused, shares, missed, open, lateness."""
    late = found.mean_lateness_percent
    return (
        name,
        str(found.due),
        str(found.excused),
        _percent(found.on_time_share),
        _percent(found.taken_share),
        _percent(found.usable_share),
        _percent(found.early_samples),
        str(found.missed),
        str(found.still_open),
        "" if late is None else f"{late:.0f}",
    )


def _percent(share: Share) -> str:
    return "" if share.percent is None else f"{share.percent:.0f}"


def table_cells(table: ComplianceTable) -> list[tuple[bytes, tuple[str, ...]]]:
    """Every line of a table with the whole first; the key is the group."""
    whole = (b"", line_cells("All", table.total))
    rest = [(one.group.encode(), line_cells(one.group, one.measures)) for one in table.lines]
    return [whole, *rest]


def events_of(shown: ComplianceShown, group: str, part: EventPart) -> tuple[EventLine, ...]:
    """The due events of a group, "" for all, with one of the outcomes of a part."""
    return tuple(
        line
        for line, mine in zip(shown.events, shown.groups, strict=True)
        if group in ("", mine) and line.outcome in _PARTS[part]
    )


def counts_of(shown: ComplianceShown, group: str) -> dict[EventPart, int]:
    """How many due events of a group, "" for all, each part holds."""
    found = Counter(
        line.outcome
        for line, mine in zip(shown.events, shown.groups, strict=True)
        if group in ("", mine)
    )
    return {part: sum(found[one] for one in outcomes) for part, outcomes in _PARTS.items()}


def event_cells(line: EventLine) -> tuple[str, ...]:
    """One due event as cells."""
    late = line.late_by_percent
    return (
        line.outcome.word,
        line.due_on.isoformat(),
        line.machine,
        line.compartment,
        f"{line.window[0].isoformat()} to {line.window[1].isoformat()}",
        "" if line.sampled_on is None else line.sampled_on.isoformat(),
        "" if late is None else f"{late:.0f}",
        line.sampler,
        line.reason,
        line.site,
        line.interval,
    )


def write_csv(headings: Sequence[str], rows: Sequence[Sequence[str]], path: Path) -> None:
    """Write lines as CSV in UTF-8.

    Raises:
        CannotWriteError: when the file cannot be written.
    """
    try:
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(headings)
            writer.writerows(rows)
    except OSError as fault:
        raise CannotWriteError(f"{path} cannot be written: {fault.strerror}.") from fault
