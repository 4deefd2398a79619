"""Which bottle on the register a row belongs to, and whether its sheet is new, known or revised.

A row is matched by bottle code alone; machine, date and meter as printed by the laboratory are
compared with the register afterwards, and never used to guess a bottle.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from fluiddesk.domain.analytes import AnalyteCode
from fluiddesk.domain.samples import OpenBottle, Reading, Sign
from fluiddesk.intake.layouts import LabLayout
from fluiddesk.intake.problems import (
    IntakeReport,
    MatchedSheet,
    Problem,
    ProblemSeverity,
    UnchangedRow,
)
from fluiddesk.intake.rows import RowRead

_SAME: float = 1e-9


@dataclass(slots=True)
class _BottleRows:
    """The rows of one bottle: the first of every issue number."""

    bottle: OpenBottle
    by_issue: dict[int, RowRead] = field(default_factory=dict)


class Matcher:
    """Collects the rows of one file under their bottles, then settles them into a report."""

    def __init__(self, layout: LabLayout, report: IntakeReport) -> None:
        self._layout = layout
        self._report = report
        self._bottles: dict[str, _BottleRows] = {}

    def add(self, read: RowRead, bottle: OpenBottle | None) -> None:
        """Put a row under its bottle; a row without one is held at once."""
        if bottle is None:
            if read.bottle_code:
                read.problems.append(_unknown_bottle(read))
            self._hold(read)
            return
        read.problems += disagreements(read, bottle, layout=self._layout)
        rows = self._bottles.setdefault(read.bottle_code, _BottleRows(bottle))
        first = rows.by_issue.setdefault(read.sheet.issue, read)
        if first is not read:
            read.problems.append(_doubled(read, other=first.row))
            first.problems.append(_doubled(first, other=read.row))
            # A bottle that fills a whole file must not fill the memory with one problem a row.
            del first.problems[20:]
            self._hold(read)

    def settle(self) -> None:
        """Decide every collected row, each bottle's issues in rising order."""
        for rows in self._bottles.values():
            bottle = rows.bottle
            issue, report_number = bottle.newest_issue, bottle.newest_report
            readings = bottle.newest_readings
            for _, read in sorted(rows.by_issue.items()):
                if self._settled(read, bottle, issue, report_number, readings):
                    issue, report_number = read.sheet.issue, read.sheet.report_number
                    readings = read.sheet.readings
        self._report.accepted.sort(key=lambda sheet: sheet.row)
        self._report.unchanged.sort(key=lambda known: known.row)
        self._report.held.sort(key=lambda held: held.row)
        self._report.problems.sort(key=lambda problem: problem.row or 0)

    def _settled(
        self,
        read: RowRead,
        bottle: OpenBottle,
        issue: int,
        report_number: str,
        readings: Mapping[AnalyteCode, Reading],
    ) -> bool:
        """Take in, hold or leave one row; whether it is taken in."""
        if not read.is_held and read.sheet.issue == issue:
            same = same_readings(read.sheet.readings, readings)
            if same and report_number in ("", read.sheet.report_number):
                self._report.unchanged.append(
                    UnchangedRow(row=read.row, bottle_code=read.bottle_code, issue=issue)
                )
                return False
            read.problems.append(_same_issue(read, report_number, has_same_values=same))
        elif not read.is_held and read.sheet.issue < issue:
            read.problems.append(_older_issue(read, issue))
        if read.is_held:
            self._hold(read)
            return False
        self._report.add_problems(read.problems)
        self._report.accepted.append(
            MatchedSheet(sheet=read.sheet, bottle=bottle, row=read.row, is_revision=issue > 0)
        )
        return True

    def _hold(self, read: RowRead) -> None:
        self._report.hold(read.row, lambda: read.source.printed, read.problems)


def same_readings(
    first: Mapping[AnalyteCode, Reading], second: Mapping[AnalyteCode, Reading]
) -> bool:
    """Whether two sheets say the same; an analyte left out is one that was not tested."""
    return all(
        _same_reading(first.get(analyte), second.get(analyte))
        for analyte in first.keys() | second.keys()
    )


def _same_reading(first: Reading | None, second: Reading | None) -> bool:
    one = Sign.NOT_TESTED if first is None else first.sign
    other = Sign.NOT_TESTED if second is None else second.sign
    if one is not other or first is None or second is None:
        return one is other
    if first.value is None or second.value is None:
        return first.value is second.value
    return math.isclose(first.value, second.value, rel_tol=_SAME, abs_tol=_SAME)


def disagreements(read: RowRead, bottle: OpenBottle, *, layout: LabLayout) -> Iterator[Problem]:
    """Where the row says something else of the sample than the register does."""
    # A sample of a drum or tank has no machine to compare with.
    if read.machine and bottle.machine and _plain(read.machine) != _plain(bottle.machine):
        yield Problem(
            row=read.row,
            printed=read.machine,
            wrong=f"is not the machine of bottle {read.bottle_code} ({bottle.machine})",
            remedy="Find out whose sample it is before it is taken in.",
        )
    sampled = read.sheet.sampled_on_printed
    if sampled and bottle.taken_on:
        days = abs((sampled - bottle.taken_on).days)
        if days > layout.sampled_on_tolerance_days:
            yield Problem(
                row=read.row,
                printed=sampled.isoformat(),
                wrong=f"as sampling date is {days} days off the register ({bottle.taken_on})",
                remedy="Compare it with the sampling sheet; the bottles may be exchanged.",
                severity=ProblemSeverity.WARNING,
            )
    meter = read.sheet.meter_printed
    if meter is not None and bottle.meter_value is not None:
        apart = abs(meter - bottle.meter_value)
        if apart > layout.meter_tolerance:
            yield Problem(
                row=read.row,
                printed=f"{meter:g}",
                wrong=f"as meter is {apart:g} off the register ({bottle.meter_value:g})",
                remedy="Compare it with the sampling sheet; the bottles may be exchanged.",
                severity=ProblemSeverity.WARNING,
            )


def _plain(machine: str) -> str:
    return "".join(character for character in machine.casefold() if character.isalnum())


def _unknown_bottle(read: RowRead) -> Problem:
    return Problem(
        row=read.row,
        printed=read.bottle_code,
        wrong="is a bottle nobody registered",
        remedy="Register the bottle with its sample, then read the file again.",
    )


def _doubled(read: RowRead, *, other: int) -> Problem:
    return Problem(
        row=read.row,
        printed=read.bottle_code,
        wrong=f"stands in row {other} as well, with the same issue number",
        remedy="Ask the laboratory which row belongs to this bottle, and remove the other.",
    )


def _same_issue(read: RowRead, report_number: str, *, has_same_values: bool) -> Problem:
    wrong = f"same issue number ({read.sheet.issue}), other values than taken in before"
    if has_same_values:
        wrong = f"same issue number and values, but taken in before from report {report_number}"
    return Problem(
        row=read.row,
        wrong=wrong,
        remedy="Ask the laboratory for a new issue number, or hold the row.",
    )


def _older_issue(read: RowRead, newest: int) -> Problem:
    return Problem(
        row=read.row,
        wrong=f"issue {read.sheet.issue} is older than issue {newest}, which is taken in",
        remedy="Nothing is to be done unless the older issue is the right one.",
    )
