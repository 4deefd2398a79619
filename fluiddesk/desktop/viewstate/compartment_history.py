"""The compartment page in words and cells: heading lines, and samples side by side."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Final

import numpy as np

from fluiddesk.domain.analytes import AnalyteFamily
from fluiddesk.domain.fleet import Certainty, EventKind
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.sampling.due import DueState
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.compartment_history.facts import (
    AnalyteSeries,
    CompartmentHistory,
    DueFacts,
    EventFacts,
    LimitBand,
    SampleFacts,
    SheetFacts,
)

MINUS: Final = "\u2212"
DASH: Final = "\u2013"
_GROUPED_FROM: Final = 10_000
_MOST_FOUND: Final = 5
_UNITS: Final = {"mm2/s": "mm\u00b2/s", "C": "\u00b0C", "um": "\u00b5m", "uS/cm": "\u00b5S/cm"}
_UNITS_IN_THE_NAME: Final = frozenset({"absent/present", "code", "index", "class", "pH"})

LIMITS, NEW, CHANGE, FIRST_SAMPLE = range(4)
"""Columns before the samples: limits in force, new fluid, change since the sample before."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ValueCell:
    """One cell: what it says and how it is judged.

    ``moved`` is 1 or -1 where the value rose or fell by more than the method explains.
    """

    text: str
    severity: Severity = Severity.NO_VERDICT
    is_faint: bool = False
    is_number: bool = False
    moved: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class TableRow:
    """An analyte, or the heading of a family where ``series`` is ``None``."""

    title: str
    unit: str
    series: AnalyteSeries | None


class SampleTable:
    """Analytes as rows by family, samples as columns, the newest first."""

    def __init__(self, history: CompartmentHistory | None = None) -> None:
        self._samples: tuple[SampleFacts, ...] = history.samples if history else ()
        self.rows: tuple[TableRow, ...] = tuple(_rows(history.series)) if history else ()
        decimals = [row.series.analyte.decimals for row in self.rows if row.series is not None]
        self.places = max(decimals, default=0)
        """The most decimals of any row: where the decimal sign stands, from the right."""

    @property
    def column_count(self) -> int:
        """Limits, new fluid, change, then one column a sample; none without samples."""
        return FIRST_SAMPLE + len(self._samples) if self._samples else 0

    def is_heading(self, row: int) -> bool:
        """Whether a row is the heading of a family."""
        return self.rows[row].series is None

    @cached_property
    def heading_rows(self) -> tuple[int, ...]:
        """The rows that are headings."""
        return tuple(row for row in range(len(self.rows)) if self.is_heading(row))

    def sample(self, column: int) -> SampleFacts | None:
        """The sample of a column; ``None`` for the columns before the samples."""
        return self._samples[self._index(column)] if column >= FIRST_SAMPLE else None

    def _index(self, column: int) -> int:
        return len(self._samples) - 1 - (column - FIRST_SAMPLE)

    def cell(self, row: int, column: int) -> ValueCell:
        """What one cell shows."""
        series = self.rows[row].series
        if series is None:
            return ValueCell(text="")
        if column == LIMITS:
            return ValueCell(text=limits_text(series), is_faint=True)
        if column == NEW:
            known = series.reference is not None and not series.analyte.is_presence_test
            text = series.analyte.text(series.reference or 0.0) if known else ""
            return ValueCell(text=text, is_faint=True, is_number=True)
        if column == CHANGE:
            text = change_text(series, len(self._samples) - 1)
            return ValueCell(text=text, is_faint=True, is_number=True)
        return self._value_cell(series, self._index(column))

    def _value_cell(self, series: AnalyteSeries, index: int) -> ValueCell:
        text = series.shown(index)
        sign = Sign(int(series.signs[index]))
        return ValueCell(
            text=text or DASH,
            severity=Severity(int(series.severity[index])),
            is_faint=not text or sign is Sign.BELOW or self._samples[index].trust is Trust.REJECTED,
            is_number=sign.has_number,
            moved=_moved(series, index),
        )

    def tip(self, row: int, column: int) -> str:
        """Where a cell comes from: the printed text, the limit that holds and its source."""
        series = self.rows[row].series
        if series is None:
            return ""
        if column < FIRST_SAMPLE:
            return "\n".join(_limit_lines(series.bands)) if column == LIMITS else ""
        index = self._index(column)
        sample = self._samples[index]
        shown = series.shown(index) or "not tested"
        lines = [f"{series.analyte.name} {shown} {self.rows[row].unit}".rstrip()]
        if series.severity[index] >= Severity.NORMAL:
            lines[0] += f": {Severity(int(series.severity[index])).word}"
        if series.printed[index]:
            lines.append(f'Printed "{series.printed[index]}" on report {sample.report_number}')
        change = change_text(series, index)
        if change:
            large = ", more than the method explains" if _moved(series, index) else ""
            lines.append(f"Change since the sample before: {change}{large}")
        return "\n".join([*lines, *_limit_lines(series.bands_at(index))])

    def head(self, column: int) -> str:
        """The head of a column as one line, for copying and for screen readers."""
        sample = self.sample(column)
        if sample is None:
            return ("Limits", "New", "Change")[column]
        return f"{sample.taken_on.isoformat()} {sample.bottle_code}"

    def head_lines(self, column: int) -> tuple[str, ...]:
        """The head of a sample's column: date, hours, hours on fluid, bottle, report."""
        sample = self.sample(column)
        if sample is None:
            return ()
        report = sample.report_number or DASH
        issue = f" ({sample.issue})" if sample.issue > 1 else ""
        return (
            sample.taken_on.isoformat(),
            f"{hours_text(sample.hours)} h",
            sample.bottle_code,
            report + issue,
        )

    def head_tip(self, column: int) -> str:
        """Everything about the sample of a column."""
        sample = self.sample(column)
        if sample is None:
            return (
                "Watch / Act / Urgent; \u2191 high values are bad, \u2193 low values are bad",
                "Value of the new fluid",
                "Change of the newest sample since the one before",
            )[column]
        return "\n".join(
            line
            for line in (
                f"{sample.severity.word}; trust {sample.trust.word.lower()}",
                sample.trust_reason,
                f"Taken {sample.taken_on.isoformat()} at {hours_text(sample.hours)} h,"
                f" {hours_text(sample.fluid_hours)} h on fluid",
                f"Drawn by {sample.draw_method.replace('_', ' ')}" if sample.draw_method else "",
                f"Bottle {sample.bottle_code}",
                f"{sample.laboratory}, report {sample.report_number}, issue {sample.issue}"
                if sample.report_number
                else "",
            )
            if line
        )

    def as_text(self, rows: Iterable[int], columns: Sequence[int], *, with_header: bool) -> str:
        """Cells as tab-separated text, each row led by its analyte and unit."""
        lines = []
        if with_header:
            lines.append("\t".join(["Analyte", "Unit", *(self.head(column) for column in columns)]))
        for row in rows:
            if not self.is_heading(row):
                cells = [self.cell(row, column).text.replace(DASH, "") for column in columns]
                lines.append("\t".join([self.rows[row].title, self.rows[row].unit, *cells]))
        return "\n".join(lines)


def _rows(series: Sequence[AnalyteSeries]) -> Iterable[TableRow]:
    for family in AnalyteFamily:
        members = [one for one in series if one.analyte.family is family]
        members = [one for one in members if (one.signs != Sign.NOT_TESTED).any()]
        if members:
            yield TableRow(title=family.word, unit="", series=None)
        for one in sorted(members, key=lambda member: member.analyte.order):
            yield TableRow(title=one.analyte.name, unit=unit_text(one.analyte.unit), series=one)


def unit_text(unit: str) -> str:
    """A unit as written on paper; empty where the analyte's name says it."""
    return "" if unit in _UNITS_IN_THE_NAME else _UNITS.get(unit, unit)


def hours_text(hours: float) -> str:
    """Whole hours with a narrow space between thousands; a dash where not known."""
    if np.isnan(hours):
        return DASH
    text = f"{hours:,.0f}" if abs(hours) >= _GROUPED_FROM else f"{hours:.0f}"
    return text.replace(",", "\u202f")


def limits_text(series: AnalyteSeries) -> str:
    """The limits in force on the analyte's scale: Watch, Act, Urgent, high side first."""
    if series.analyte.is_presence_test:
        return ""
    parts = []
    for direction, arrow in (("up", "\u2191"), ("down", "\u2193")):
        for band in series.bands:
            bounds = (band.watch, band.act, band.urgent)
            # A limit on a rate or a ratio has no place on this scale; the tooltip tells it.
            if band.direction == direction and any(bound is not None for bound in bounds):
                told = [_short(bound) for bound in bounds]
                parts.append(f"{arrow} {' / '.join(told)}")
    return "  ".join(dict.fromkeys(parts))


def _moved(series: AnalyteSeries, index: int) -> int:
    """Whether a value rose (1) or fell (-1) by more than the method explains."""
    if index >= len(series.is_large_change) or not series.is_large_change[index]:
        return 0
    return 1 if series.changes[index] > 0 else -1


def _short(bound: float | None) -> str:
    return DASH if bound is None else f"{bound:.10g}"


def _limit_lines(bands: Sequence[LimitBand]) -> list[str]:
    return [f"{band.text}\nSource: {band.source}; set by {band.set_by}" for band in bands]


def change_text(series: AnalyteSeries, index: int) -> str:
    """The change of one sample since the last one before it that has a plain number."""
    if index < 1 or series.signs[index] != Sign.PLAIN:
        return ""
    before = np.flatnonzero(series.signs[:index] <= Sign.ABOVE)
    if not len(before) or series.signs[before[-1]] != Sign.PLAIN:
        return ""
    change = float(series.values[index] - series.values[before[-1]])
    text = series.analyte.text(abs(change))
    if not float(text):
        return text
    return f"+{text}" if change > 0 else f"{MINUS}{text}"


def sheet_lines(table: SampleTable, column: int | None) -> tuple[str, tuple[str, ...]]:
    """The sheets of a sample, newest issue first, with what each changed; the newest by default."""
    if not table.column_count:
        return "", ()
    sample = table.sample(FIRST_SAMPLE if column is None else max(column, FIRST_SAMPLE))
    if sample is None:
        return "", ()
    head = (
        f"Sample of {sample.taken_on.isoformat()}, bottle {sample.bottle_code}:"
        f" {sample.severity.word.lower()}, trust {sample.trust.word.lower()}"
    )
    if sample.trust_reason:
        head += f", {sample.trust_reason}"
    if not sample.revisions:
        if not sample.report_number:
            return head, ("No laboratory sheet is on record.",)
        return head, (f"{sample.laboratory}, report {sample.report_number}, issue {sample.issue}",)
    return head, tuple(_sheet_line(one) for one in reversed(sample.revisions))


def _sheet_line(sheet: SheetFacts) -> str:
    parts = [f"Report {sheet.report_number}, issue {sheet.issue}, {sheet.laboratory}"]
    if sheet.received_on is not None:
        parts.append(f"received {sheet.received_on.isoformat()}")
    if sheet.entered_by:
        parts.append(f"entered by {sheet.entered_by}")
    parts.append("counts" if sheet.is_current else "replaced")
    told = "; ".join(parts)
    return f"{told}. Changed: {', '.join(sheet.changed)}" if sheet.changed else told


def argument_lines(history: CompartmentHistory, *, is_for: bool) -> tuple[str, ...]:
    """What speaks for the verdict, or against it, beside the reasons that are told anyway."""
    titles = tuple(reason.title for reason in history.reasons)
    told = [one.text for one in history.arguments if one.is_for is is_for]
    return tuple(text for text in told if not titles or not text.startswith(titles))


def finding_lines(history: CompartmentHistory) -> tuple[str, ...]:
    """What was seen when somebody looked, newest first."""
    newest = sorted(history.findings, key=lambda one: one.found_on, reverse=True)[:_MOST_FOUND]
    return tuple(
        f"{one.found_on.isoformat()} "
        + ": ".join(part for part in (one.part, one.result.replace("_", " ")) if part)
        + (f", {one.note}" if one.note else "")
        for one in newest
    )


def place_text(history: CompartmentHistory) -> str:
    """Where the box is: site, machine, box and what is in it."""
    return (
        f"{history.site}  /  {history.machine}, {history.machine_kind}  /  {history.box}"
        f"  \u00b7  {history.fluid}, {history.capacity_l:g} L"
    )


def due_text(due: DueFacts, *, today: date) -> str:
    """When the next sample is due, and whether one is at the laboratory, in one line."""
    told = _due_line(due, today=today)
    if due.awaited_on is None:
        return told
    return f"{told}; newest sample of {due.awaited_on.isoformat()} is at the laboratory"


def _due_line(due: DueFacts, *, today: date) -> str:
    every = f"every {due.interval}" if due.interval else "no interval set"
    match due.state:
        case DueState.EXCUSED:
            return "No sample owed while the machine stands"
        case DueState.NEVER_SAMPLED:
            return f"Never sampled; {every}"
        case DueState.NO_INTERVAL:
            return "No due day can be given: the interval or the meter is not known"
        case _:
            parts = [_due_day(due, today=today), _hours_left(due), every]
            return "; ".join(part for part in parts if part)


def _due_day(due: DueFacts, *, today: date) -> str:
    if due.due_on is None:
        return due.state.word
    days = (due.due_on - today).days
    away = {0: "today", 1: "tomorrow", -1: "yesterday"}.get(
        days, f"in {days} days" if days > 0 else f"{-days} days ago"
    )
    verb = "overdue since" if due.state is DueState.OVERDUE else "due"
    window = f", window {due.window[0]:%m-%d} to {due.window[1]:%m-%d}" if due.window else ""
    return f"Next sample {verb} {due.due_on.isoformat()} ({away}{window})"


def _hours_left(due: DueFacts) -> str:
    if due.hours_left is None:
        return ""
    hours = hours_text(abs(due.hours_left))
    return f"{hours} h left" if due.hours_left >= 0 else f"{hours} h past"


def trust_text(history: CompartmentHistory) -> str:
    """Whether the last sample may be believed, and why not; empty without samples."""
    if not history.samples:
        return ""
    last = history.samples[-1]
    reason = f": {last.trust_reason}" if last.trust_reason else ""
    return f"Trust {last.trust.word.lower()}{reason}"


def event_text(event: EventFacts) -> str:
    """What happened, in words: "Top-up, 4 L"."""
    words = {
        EventKind.FLUID_CHANGE: "Fluid change",
        EventKind.TOP_UP: "Top-up",
        EventKind.FILTER_CHANGE: "Filter change",
        EventKind.COMPONENT_FIT: "Component fitted",
        EventKind.REPAIR: "Repair",
        EventKind.STAND_DOWN: "Stand-down",
    }
    note = f": {event.note}" if event.note else ""
    if event.certainty is not Certainty.RECORDED:
        return f"{words[event.kind]} ({event.certainty.value}){note}"
    litres = f", {event.litres:g} L" if event.litres is not None else ""
    return f"{words[event.kind]}{litres}{note}"
