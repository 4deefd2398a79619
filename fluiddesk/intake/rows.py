"""One row of a laboratory file into a result sheet, with everything that is wrong in the row."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from itertools import pairwise
from typing import Final

from fluiddesk.domain.analytes import AnalyteCode
from fluiddesk.domain.identity import BottleCodeError, normal_bottle_code
from fluiddesk.domain.samples import Reading, ResultSheet, Sign
from fluiddesk.intake.columns import BoundColumns, BoundResult
from fluiddesk.intake.files import CellValue, Row, printed_text
from fluiddesk.intake.layouts import LabLayout, Role
from fluiddesk.intake.particle_codes import parse_codes
from fluiddesk.intake.problems import Problem, ProblemSeverity
from fluiddesk.intake.values import (
    CORRECT,
    Fault,
    SignedValue,
    parse,
    problem_of,
    read_date,
    read_value,
)

_ISSUE: Final = re.compile("[1-9][0-9]{0,3}")
_DATES: Final = {
    Role.SAMPLED_ON: "sampled",
    Role.RECEIVED_ON: "received",
    Role.TESTED_ON: "tested",
    Role.ISSUED_ON: "issued",
}
_KNOWN_TEXTS: Final = 20_000
"""So many different texts of a column are kept; beyond it the keeping starts anew."""

_Made = Mapping[AnalyteCode, Reading] | Fault


@dataclass(slots=True, kw_only=True)
class RowRead:
    """What was read from one row; ``bottle_code`` is empty when it could not be read.

    ``site``, ``machine`` and ``compartment`` are as the laboratory printed them; ``fluid_hours``
    are the hours it was told the fluid had run.
    """

    source: Row
    bottle_code: str
    machine: str
    sheet: ResultSheet
    site: str = ""
    compartment: str = ""
    fluid_hours: float | None = None
    problems: list[Problem] = field(default_factory=list)

    @property
    def row(self) -> int:
        """The number of the row in the file."""
        return self.source.number

    @property
    def is_held(self) -> bool:
        """Whether any problem puts the row aside."""
        return any(problem.severity is not ProblemSeverity.WARNING for problem in self.problems)


class RowReader:
    """Reads the rows of one file, whose columns are bound once.

    ``has_bottles`` is off for files from before this register: their rows need no bottle code of
    ours and no report number.
    """

    def __init__(
        self, layout: LabLayout, columns: BoundColumns, *, is_csv: bool, has_bottles: bool = True
    ) -> None:
        self._layout = layout
        self._has_bottles = has_bottles
        self._columns = columns
        self._is_csv = is_csv
        self._dates = [role for role in _DATES if role in columns.roles]
        self._results: list[tuple[BoundResult, dict[CellValue, _Made]]] = [
            (result, {}) for result in columns.results
        ]

    def read(self, row: Row) -> RowRead:
        """The row's sheet and its problems; a row with problems is read to its end all the same."""
        problems = list(self._width_problems(row))
        bottle_code = self._bottle_code(row, problems)
        dates = {role: self._date(row, role, problems) for role in self._dates}
        if len(dates) > 1:
            problems += self._date_order(row, dates)
        report = self._text(row, Role.REPORT)
        if self._has_bottles and Role.REPORT in self._columns.roles and not report:
            problems.append(self._problem(row, Role.REPORT, "the report number is missing"))
        sheet = ResultSheet(
            bottle_code=bottle_code,
            laboratory=self._layout.laboratory,
            report_number=report or bottle_code,
            issue=self._issue(row, problems),
            readings=self._readings(row, problems),
            sampled_on_printed=dates.get(Role.SAMPLED_ON),
            received_on=dates.get(Role.RECEIVED_ON),
            tested_on=dates.get(Role.TESTED_ON),
            issued_on=dates.get(Role.ISSUED_ON),
            remark=self._text(row, Role.REMARK),
            meter_printed=self._hours(row, Role.METER, "a meter reading", problems),
        )
        return RowRead(
            source=row,
            bottle_code=bottle_code,
            machine=self._text(row, Role.MACHINE),
            sheet=sheet,
            site=self._text(row, Role.SITE),
            compartment=self._text(row, Role.COMPARTMENT),
            fluid_hours=self._hours(row, Role.FLUID_HOURS, "hours of a fluid", problems),
            problems=problems,
        )

    def _readings(self, row: Row, problems: list[Problem]) -> dict[AnalyteCode, Reading]:
        readings: dict[AnalyteCode, Reading] = {}
        width = len(row.values)
        for result, known in self._results:
            value = row.values[result.position] if result.position < width else ""
            # Equal texts give equal readings, and a laboratory prints few different ones: looking
            # them up is ten times as fast. Only these two types: to a dictionary 1 and yes are one.
            if type(value) is str or type(value) is float:
                made = known.get(value)
                if made is None:
                    made = known[value] = self._made(result, value)
                    if len(known) > _KNOWN_TEXTS:
                        known.clear()
            else:
                made = self._made(result, value)
            if isinstance(made, Fault):
                header = result.columns[0].header
                problems.append(problem_of(row.cell(result.position), header, made))
            else:
                readings.update(made)
        return readings

    def _made(self, result: BoundResult, value: CellValue) -> _Made:
        rules = self._layout.rules
        if len(result.columns) > 1:
            made = parse_codes(value, columns=result.columns, rules=rules)
            return made if isinstance(made, Fault) else {code.analyte: code for code in made}
        found = parse(value, column=result.columns[0], rules=rules)
        return found if isinstance(found, Fault) else {found.analyte: found}

    def _width_problems(self, row: Row) -> Iterator[Problem]:
        """A row too wide or too short may have its values one column off."""
        width = self._columns.width
        beyond = [text for text in map(printed_text, row.values[width:]) if text.strip()]
        if beyond:
            yield Problem(
                row=row.number,
                printed=beyond[0],
                wrong="stands right of the last heading; the values may be one column off",
                remedy="Put the cells under their headings (a decimal comma may have split one).",
            )
        if self._is_csv and len(row.values) < width:
            yield Problem(
                row=row.number,
                wrong=f"the row has {len(row.values)} cells where the headings have {width}",
                remedy="The row may be cut off. Ask for the file again, or complete the row.",
            )

    def _value(self, row: Row, role: Role) -> CellValue:
        """What the column of a role holds; an empty text when the file has no such column."""
        position = self._columns.roles.get(role, len(row.values))
        return row.values[position] if position < len(row.values) else ""

    def _text(self, row: Row, role: Role) -> str:
        return printed_text(self._value(row, role)).strip()

    def _problem(
        self,
        row: Row,
        role: Role,
        wrong: str,
        *,
        remedy: str = CORRECT,
        severity: ProblemSeverity = ProblemSeverity.HELD,
    ) -> Problem:
        return Problem(
            row=row.number,
            column=self._columns.headers[self._columns.roles[role]],
            printed=self._text(row, role) or None,
            wrong=wrong,
            remedy=remedy,
            severity=severity,
        )

    def _bottle_code(self, row: Row, problems: list[Problem]) -> str:
        printed = self._text(row, Role.BOTTLE)
        try:
            if printed:
                return normal_bottle_code(printed)
            if self._has_bottles:
                problems.append(self._problem(row, Role.BOTTLE, "the bottle code is missing"))
        except BottleCodeError:
            if self._has_bottles:
                problems.append(
                    self._problem(
                        row,
                        Role.BOTTLE,
                        "is not a bottle code: its check character does not fit",
                        remedy="Compare it with the label on the bottle and correct the cell.",
                    )
                )
        return ""

    def _issue(self, row: Row, problems: list[Problem]) -> int:
        printed = self._text(row, Role.ISSUE)
        if not printed:
            return 1
        if _ISSUE.fullmatch(printed):
            return int(printed)
        problems.append(
            self._problem(row, Role.ISSUE, "is not an issue number: a whole number from 1 on")
        )
        return 1

    def _date(self, row: Row, role: Role, problems: list[Problem]) -> date | None:
        found = read_date(self._value(row, role), self._layout.rules)
        if isinstance(found, Fault):
            problems.append(self._problem(row, role, found.wrong, remedy=found.remedy))
            return None
        return found

    @staticmethod
    def _date_order(row: Row, dates: Mapping[Role, date | None]) -> Iterator[Problem]:
        known = [(day, _DATES[role]) for role, day in dates.items() if day]
        for (earlier, before), (later, after) in pairwise(known):
            if earlier > later:
                yield Problem(
                    row=row.number,
                    wrong=f"{after} on {later}, before it was {before} on {earlier}",
                    remedy="Compare the dates with the report.",
                    severity=ProblemSeverity.WARNING,
                )

    def _hours(self, row: Row, role: Role, called: str, problems: list[Problem]) -> float | None:
        """The meter as the laboratory printed it: a cross-check, so a bad one only warns."""
        found = read_value(self._value(row, role), rules=self._layout.rules, unit="h")
        is_sound = isinstance(found, SignedValue) and found.sign in (Sign.PLAIN, Sign.NOT_TESTED)
        if isinstance(found, SignedValue) and is_sound and (found.number or 0) >= 0:
            return found.number
        problems.append(
            self._problem(
                row,
                role,
                f"is not {called}; it is kept out",
                remedy="Compare it with the sampling sheet.",
                severity=ProblemSeverity.WARNING,
            )
        )
        return None
