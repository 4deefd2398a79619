"""A report that is being keyed: its rows, where Enter leads, and what is still to do."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

from fluiddesk.services.keyed_results.facts import (
    Answer,
    Checked,
    Draft,
    Expected,
    GridCell,
    HeadField,
    KeyWarning,
    OpenReport,
)

HIDDEN_TEXT: Final = "\u2022\u2022\u2022"
"""Stands for the first entry while the second is made: it must not be copied."""


class Part(StrEnum):
    """What a row of the grid holds."""

    HEADING = "heading"
    HEAD = "head"
    VALUE = "value"


@dataclass(frozen=True, slots=True, kw_only=True)
class GridRow:
    """One row: ``key`` of the cell or of the head field; ``title`` as the laboratory prints it."""

    part: Part
    key: str = ""
    title: str = ""
    name: str = ""
    unit: str = ""
    cell: GridCell | None = None

    @property
    def expected(self) -> Expected | None:
        """What the box's history foretells."""
        return self.cell.expected if self.cell else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """A place where something is typed: ``again`` for the second entry."""

    row: int
    again: bool = False


class KeyingState:
    """The grid of one report over its draft. Texts are changed here and kept elsewhere."""

    def __init__(self, report: OpenReport, draft: Draft) -> None:
        self.report = report
        self.draft = draft
        self.checked: Checked | None = None
        self.second_pass = False
        self.rows = tuple(_rows(report))
        self._place = {row.key: at for at, row in enumerate(self.rows) if row.key}

    @property
    def has_second(self) -> bool:
        """Whether some values are entered twice."""
        return any(row.cell is not None and row.cell.decides for row in self.rows)

    def row_of(self, key: str) -> int | None:
        """Where a cell or a head field stands."""
        return self._place.get(key)

    def text(self, row: int) -> str:
        """What was typed first."""
        one = self.rows[row]
        texts = self.draft.cells if one.part is Part.VALUE else self.draft.heads
        return texts.get(one.key, "")

    def second(self, row: int) -> str:
        """What was typed the second time."""
        return self.draft.second.get(self.rows[row].key, "")

    def shown(self, row: int) -> str:
        """The first entry as it stands in the grid: hidden while the second is made."""
        text = self.text(row)
        if self.second_pass and self.is_entered_again(row):
            return HIDDEN_TEXT
        return text

    def is_entered_again(self, row: int) -> bool:
        """Whether the value is one of those entered twice, and is there to be."""
        cell = self.rows[row].cell
        return cell is not None and cell.decides and bool(self.text(row).strip())

    def set_text(self, row: int, text: str) -> None:
        """Change what was typed first; a second entry of another value does not count any more."""
        one = self.rows[row]
        if one.part is Part.HEAD:
            self.draft = replace(self.draft, heads={**self.draft.heads, one.key: text})
            return
        second = {key: kept for key, kept in self.draft.second.items() if key != one.key}
        self.draft = replace(self.draft, cells={**self.draft.cells, one.key: text}, second=second)

    def stops(self) -> Iterator[Stop]:
        """Every place where something is typed, in order."""
        for at, row in enumerate(self.rows):
            if row.part is Part.HEADING:
                continue
            if not self.second_pass:
                yield Stop(row=at)
            elif self.is_entered_again(at):
                yield Stop(row=at, again=True)

    def next_stop(self, row: int, *, step: int) -> Stop | None:
        """Where Enter (1) or Shift+Enter (-1) leads from a row; ``None`` past the end."""
        stops = list(self.stops())
        if step > 0:
            return next((one for one in stops if one.row > row), None)
        return next((one for one in reversed(stops) if one.row < row), None)

    def first_stop(self) -> Stop | None:
        """Where typing goes on: the first empty expected value, else the first place."""
        stops = list(self.stops())
        empty = (one for one in stops if self._is_left_open(one))
        return next(empty, stops[0] if stops else None)

    def _is_left_open(self, stop: Stop) -> bool:
        """Whether something is still to be typed there."""
        if stop.again:
            return not self.second(stop.row).strip()
        is_number = self.rows[stop.row].key == HeadField.REPORT_NUMBER.value
        return (is_number or self.is_wanted(stop.row)) and not self.text(stop.row).strip()

    def is_wanted(self, row: int) -> bool:
        """Whether an empty cell is asked about."""
        cell = self.rows[row].cell
        return cell is not None and cell.is_expected

    def warnings_at(self, row: int) -> tuple[KeyWarning, ...]:
        """The warnings of one row, open ones first."""
        found = self.checked.of(self.rows[row].key) if self.checked and self.rows[row].key else ()
        return tuple(sorted(found, key=lambda one: not one.is_open))

    @property
    def open_warnings(self) -> tuple[KeyWarning, ...]:
        """What is not answered, or parked, in the order of the grid; the whole report first."""
        if self.checked is None:
            return ()
        found = [one for one in self.checked.warnings if one.is_open]
        return tuple(sorted(found, key=lambda one: self._place.get(one.cell, -1)))

    @property
    def is_untouched(self) -> bool:
        """Whether nothing was ever typed into a draft that was made when the bottle was opened."""
        return self.draft.version <= 1

    def obstacle(self) -> Stop | KeyWarning | None:
        """The first thing that keeps the report from being saved: a warning, or an empty place."""
        if self.checked is None:
            return None
        for warning in self.open_warnings:
            return warning
        for key in self.checked.missing:
            return Stop(row=self._place[key])
        for key in self.checked.second_wanted:
            return Stop(row=self._place[key], again=True)
        return None


def _rows(report: OpenReport) -> Iterator[GridRow]:
    yield GridRow(part=Part.HEADING, title="Report")
    for head in report.heads:
        if head is not HeadField.REMARK:
            yield GridRow(part=Part.HEAD, key=head.value, title=head.word, name=head.word)
    yield GridRow(part=Part.HEADING, title="Values")
    for cell in report.cells:
        yield GridRow(
            part=Part.VALUE,
            key=cell.key,
            title=cell.heading,
            name=cell.name,
            unit=cell.unit,
            cell=cell,
        )
    if HeadField.REMARK in report.heads:
        word = HeadField.REMARK.word
        yield GridRow(part=Part.HEAD, key=HeadField.REMARK.value, title=word, name=word)


def expected_range(expected: Expected | None) -> str:
    """Where 95 of 100 sound values lie, as shown.

    >>> expected_range(Expected(text="22", low="8", high="56", last="19", last_on=None))
    '8 to 56'
    """
    if expected is None:
        return ""
    if not expected.low or not expected.high:
        return expected.text
    return f"{expected.low} to {expected.high}"


def row_note(state: KeyingState, row: int) -> str:
    """What the last column says of a row: the first warning, or how it was answered."""
    found = state.warnings_at(row)
    if not found:
        return ""
    first = found[0]
    more = f" (+{len(found) - 1})" if len(found) > 1 else ""
    if first.answer is Answer.CONFIRMED:
        return f"Laboratory confirms: {short_told(first)}{more}"
    if first.answer is Answer.PARKED:
        return f"Parked: {short_told(first)}{more}"
    proposed = f": {first.proposed}?" if first.proposed else ""
    return f"{short_told(first)}{proposed}{more}"


def short_told(warning: KeyWarning) -> str:
    """What a check found, in two or three words."""
    return warning.kind.value.replace("_", " ").capitalize()


def to_do_words(state: KeyingState) -> str:
    """What is left to do before the report can be saved, in one line."""
    checked = state.checked
    if checked is None:
        return ""
    told = []
    if checked.missing:
        told.append(_counted(len(checked.missing), "value still empty", "values still empty"))
    warnings = len(state.open_warnings)
    if warnings:
        told.append(_counted(warnings, "warning open", "warnings open"))
    if checked.second_wanted and not checked.missing and not warnings:
        told.append(
            _counted(len(checked.second_wanted), "value", "values") + " to enter a second time"
        )
    return ", ".join(told) or "Ready to save"


def _counted(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def proposal_words(warning: KeyWarning) -> str:
    """The words of the button that takes what a warning proposes; empty where that is nothing."""
    if warning.other_bottle:
        return f"Key it for bottle {warning.other_bottle}"
    if warning.moved:
        return f"Move {_counted(len(warning.moved), 'value', 'values')} to their fields"
    return f"Take {warning.proposed}" if warning.proposed and warning.cell else ""


def warning_to_show(
    state: KeyingState, row: int, *, newest: KeyWarning | None
) -> KeyWarning | None:
    """The warning beside the grid: the one of the row at hand, else the newest still open."""
    here = next((one for one in state.warnings_at(row) if one.is_open), None)
    if here is not None:
        return here
    still_open = state.open_warnings
    keys = {one.key: one for one in still_open}
    if newest is not None and newest.key in keys:
        return keys[newest.key]
    return still_open[0] if still_open else None


def new_warning(before: Checked | None, after: Checked) -> KeyWarning | None:
    """The open warning that was not there at the check before; the last where there are several."""
    known = {one.key for one in before.warnings if one.is_open} if before else set()
    fresh = [one for one in after.warnings if one.is_open and one.key not in known]
    return fresh[-1] if fresh else None
