"""Checks of a report as a whole: whose it is, shifted columns, repeats, pairs, dates, hours."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.trust.bottle_fit import better_bottle
from fluiddesk.domain.trust.pair_rules import (
    more_than_the_machine,
    out_of_order,
)
from fluiddesk.domain.trust.typing_slips import column_shift, repeats
from fluiddesk.intake.values import Fault
from fluiddesk.services.keyed_results.basis import CheckBasis, FormColumn
from fluiddesk.services.keyed_results.cells import canonical, read_day, read_hours
from fluiddesk.services.keyed_results.facts import Draft, HeadField, KeyWarning, WarningKind
from fluiddesk.services.keyed_results.numbers import Typed
from fluiddesk.services.keyed_results.pair_checks import pair_warnings

FloatArray = NDArray[np.float64]

_DAYS: Final = (
    HeadField.SAMPLED_ON,
    HeadField.RECEIVED_ON,
    HeadField.TESTED_ON,
    HeadField.ISSUED_ON,
)


def report_warnings(basis: CheckBasis, found: Typed, draft: Draft) -> Iterator[KeyWarning]:
    """Everything odd about a report as a whole."""
    yield from _head_warnings(basis, draft)
    yield from _other_bottle(basis, found)
    yield from _shift(basis, found, draft)
    yield from _repeat(basis, found)
    yield from pair_warnings(basis, found)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Told:
    """What a warning of a whole report, of a head field or of a pair of cells says."""

    kind: WarningKind
    told: str
    why: str
    cell: str = ""
    text: str = ""
    is_hard: bool = False
    mark: str = ""

    def warning(self) -> KeyWarning:
        """The warning, whose answer holds while ``mark`` stays the same."""
        return KeyWarning(
            key=f"{self.kind.value}:{self.cell}:{self.mark or self.text.strip()}",
            kind=self.kind,
            cell=self.cell,
            name=self.cell.replace("_", " ").capitalize() if self.cell else "Report",
            text=self.text,
            told=self.told,
            why=self.why,
            is_hard=self.is_hard,
        )


# --- the head of the report ----------------------------------------------------------------------


def _head_warnings(basis: CheckBasis, draft: Draft) -> Iterator[KeyWarning]:
    texts = {field: draft.heads.get(field.value, "").strip() for field in HeadField}
    yield from _number_and_issue(basis, texts)
    days: dict[HeadField, date] = {}
    for field in _DAYS:
        day = read_day(basis, texts[field])
        if isinstance(day, Fault):
            yield _Told(
                kind=WarningKind.UNREADABLE,
                cell=field.value,
                text=texts[field],
                told=f'{field.word}: "{texts[field]}" {day.wrong}.',
                why=f"Type it as the report has it, or as {basis.today.isoformat()}.",
                is_hard=True,
            ).warning()
        elif day is not None:
            days[field] = day
    yield from _day_order(basis, days)
    yield from _hours(basis, texts)


def _number_and_issue(basis: CheckBasis, texts: Mapping[HeadField, str]) -> Iterator[KeyWarning]:
    number, issue = texts[HeadField.REPORT_NUMBER], texts[HeadField.ISSUE]
    if not number:
        yield _Told(
            kind=WarningKind.MISSING,
            cell=HeadField.REPORT_NUMBER.value,
            told="The number of the report is missing.",
            why="It tells this report from a later issue of it. Type it from the report's head.",
            is_hard=True,
        ).warning()
    if issue and not (issue.isascii() and issue.isdigit() and 1 <= int(issue) < 10_000):  # noqa: PLR2004
        yield _Told(
            kind=WarningKind.UNREADABLE,
            cell=HeadField.ISSUE.value,
            text=issue,
            told=f'Issue: "{issue}" is not an issue number.',
            why="Type a whole number from 1 on; leave it empty for the first issue.",
            is_hard=True,
        ).warning()
    elif basis.newest_issue and int(issue or 1) <= basis.newest_issue:
        yield _Told(
            kind=WarningKind.REPORT,
            cell=HeadField.ISSUE.value,
            text=issue,
            told=f"Issue {issue or 1}: report {basis.newest_report}, issue {basis.newest_issue}, "
            "is in already.",
            why="A revised report carries a higher issue number. Is this the right bottle?",
            is_hard=True,
        ).warning()


def _day_order(basis: CheckBasis, days: Mapping[HeadField, date]) -> Iterator[KeyWarning]:
    known = [(field.word, days[field]) for field in _DAYS if field in days]
    ordinals = np.array([[day.toordinal() for _, day in known]], dtype=np.float64)
    if len(known) > 1 and out_of_order(ordinals)[0]:
        told = ", ".join(f"{word.lower()} {day.isoformat()}" for word, day in known)
        yield _Told(
            kind=WarningKind.DATES,
            cell=HeadField.RECEIVED_ON.value,
            mark=told,
            told=f"The days are not in order: {told}.",
            why="A sample is drawn, then received, then tested, then reported.",
        ).warning()
    for word, day in known:
        if day > basis.today:
            yield _Told(
                kind=WarningKind.DATES,
                cell=word.lower().replace(" ", "_"),
                text=day.isoformat(),
                told=f"{word} {day.isoformat()} lies after today.",
                why="Compare day, month and year with the report.",
            ).warning()
    printed = days.get(HeadField.SAMPLED_ON)
    if printed is not None and basis.taken_on is not None:
        apart = abs((printed - basis.taken_on).days)
        if apart > basis.layout.sampled_on_tolerance_days:
            yield _Told(
                kind=WarningKind.DATES,
                cell=HeadField.SAMPLED_ON.value,
                text=printed.isoformat(),
                told=f"Sampled on {printed.isoformat()} is {apart} days off the register "
                f"({basis.taken_on.isoformat()}).",
                why="The bottles may be exchanged. Compare it with the sampling sheet.",
            ).warning()


def _hours(basis: CheckBasis, texts: Mapping[HeadField, str]) -> Iterator[KeyWarning]:
    for field in (HeadField.METER, HeadField.FLUID_HOURS):
        hours = read_hours(texts[field])
        if isinstance(hours, Fault):
            yield _Told(
                kind=WarningKind.UNREADABLE,
                cell=field.value,
                text=texts[field],
                told=f'{field.word}: "{texts[field]}" {hours.wrong}.',
                why="Type hours as a number, or leave the field empty.",
                is_hard=True,
            ).warning()
        elif hours is not None:
            yield from _hours_against_register(basis, field, hours, texts[field])


def _hours_against_register(
    basis: CheckBasis, field: HeadField, hours: float, text: str
) -> Iterator[KeyWarning]:
    if field is HeadField.METER and basis.meter is not None:
        apart = abs(hours - basis.meter)
        if apart > basis.layout.meter_tolerance:
            yield _Told(
                kind=WarningKind.HOURS,
                cell=field.value,
                text=text,
                told=f"Meter {hours:g} is {apart:g} off the register ({basis.meter:g}).",
                why="The bottles may be exchanged. Compare it with the sampling sheet.",
            ).warning()
    if field is HeadField.FLUID_HOURS and basis.machine_hours is not None:
        worn = np.array([hours]), np.array([basis.machine_hours])
        if more_than_the_machine(*worn)[0]:
            yield _Told(
                kind=WarningKind.HOURS,
                cell=field.value,
                text=text,
                told=f"Fluid hours {hours:g} are more than the machine has run "
                f"({basis.machine_hours:.0f} h).",
                why="A fluid cannot be older than its machine. Meter and fluid may be exchanged.",
            ).warning()


# --- the values together -------------------------------------------------------------------------


def _other_bottle(basis: CheckBasis, found: Typed) -> Iterator[KeyWarning]:
    better = better_bottle(found.worked, basis.own, basis.others)
    if better is None:
        return
    code, box = basis.other_bottles[better.row]
    yield KeyWarning(
        key=f"{WarningKind.OTHER_BOTTLE.value}::{code}",
        kind=WarningKind.OTHER_BOTTLE,
        cell="",
        name="Report",
        text="",
        told=f"These values fit bottle {code} ({box}) far better than this one.",
        why="Compare the bottle code on the report with the label; nothing is moved by itself.",
        other_bottle=code,
    )


def _shift(basis: CheckBasis, found: Typed, draft: Draft) -> Iterator[KeyWarning]:
    singles = [one for one in basis.columns if not one.is_code]
    fits = _fits_elsewhere(basis, singles, found)
    shift = column_shift(fits)
    if shift is None:
        return
    stretch = singles[shift.first : shift.beyond]
    texts = {one.key: draft.cells.get(one.key, "") for one in stretch}
    moved = {one.key: "" for one in stretch}
    for place in range(shift.first, shift.beyond):
        target = place + shift.by
        if 0 <= target < len(singles):
            moved[singles[target].key] = texts[singles[place].key]
    where = f"{stretch[0].key} to {stretch[-1].key}"
    side = "next" if shift.by > 0 else "previous"
    yield KeyWarning(
        key=f"{WarningKind.COLUMN_SHIFT.value}:{stretch[0].key}:{'|'.join(texts.values())}",
        kind=WarningKind.COLUMN_SHIFT,
        cell=stretch[0].key,
        name=stretch[0].key,
        text="",
        told=f"{where}: these values seem to belong to the {side} field each.",
        why=f"Moved by one field, {len(stretch)} values fit what this box foretells.",
        moved=moved,
    )


def _fits_elsewhere(basis: CheckBasis, singles: list[FormColumn], found: Typed) -> FloatArray:
    """The likelihood of the number typed in each cell, read in each neighbouring cell's unit."""
    count = len(singles)
    fits = np.full((count, count), np.nan)
    own = basis.own
    for by in (-1, 0, 1):
        values = np.full((1, len(basis.known.analytes)), np.nan)
        pairs = []
        for place, column in enumerate(singles):
            target = place + by
            if not 0 <= target < count or not np.isfinite(found.raw[column.places[0]]):
                continue
            at = singles[target].places[0]
            values[0, at] = canonical(singles[target].values[0], found.raw[column.places[0]])
            pairs.append((place, target, at))
        told = own.log_likelihood(values)[0]
        for place, target, at in pairs:
            fits[place, target] = told[at]
    return fits


def _repeat(basis: CheckBasis, found: Typed) -> Iterator[KeyWarning]:
    if repeats(found.plain, basis.before) and basis.newest_issue == 0:
        yield _Told(
            kind=WarningKind.REPEATED,
            told="Nearly all values are those of the report before.",
            why="The earlier report may have been taken up again. Compare the date on the report.",
        ).warning()
