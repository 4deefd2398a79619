"""Files with one value in a row, turned into rows of one sample each.

The rows of a sample need not stand together. Every cell remembers the row it came from, so that a
problem names the row a person finds in the file.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from typing_extensions import override

from fluiddesk.domain.analytes import Analyte, AnalyteCode
from fluiddesk.domain.units import UnitError, unit_named
from fluiddesk.intake.columns import BoundColumns, BoundResult, bound_result
from fluiddesk.intake.files import Cell, CellValue, LabTable, Row, printed_text
from fluiddesk.intake.layouts import LabLayout, LongForm, ResultColumn, Role, normal_header
from fluiddesk.intake.problems import LabFileError, Problem, ProblemSeverity

MOST_VALUES: Final = 1_000_000
"""All values of a file are held at once, since those of a sample may stand far apart."""
_MOST_PROBLEMS: Final = 200
_LEFT_OUT_OF_KEY: Final = (Role.REMARK, Role.TESTED_ON)
"""Columns that may differ between the values of one sample."""


@dataclass(frozen=True, slots=True)
class GatheredRow(Row):
    """The values of one sample, each with the row of the file that it came from."""

    origins: tuple[int, ...] = ()

    @override
    def cell(self, index: int) -> Cell:
        """The cell at a position counted from 0, at the row it stood in."""
        value = self.values[index] if index < len(self.values) else ""
        row = self.origins[index] if index < len(self.origins) else self.number
        return Cell(self.file, self.sheet, row, index + 1, value)


@dataclass(slots=True)
class _Sample:
    number: int
    heads: list[CellValue]
    values: dict[int, tuple[CellValue, int]]


def gathered_rows(
    table: LabTable,
    layout: LabLayout,
    header: Row,
    analytes: Mapping[AnalyteCode, Analyte],
) -> tuple[BoundColumns, Iterator[Row]]:
    """The columns of results found in a file of single values, and one row for each sample.

    Raises:
        LabFileError: when a heading is missing or the file has too many values.
        LayoutError: when the layout names an analyte or a unit that cannot be.
    """
    gatherer = _Gatherer(layout, header, analytes)
    for row in table.rows(layout.hints):
        if row.number > header.number and not row.is_blank:
            gatherer.add(row)
    return gatherer.bound(), gatherer.rows(table.path.name)


class _Gatherer:
    """Collects the values of a file under their samples."""

    def __init__(
        self, layout: LabLayout, header: Row, analytes: Mapping[AnalyteCode, Analyte]
    ) -> None:
        assert layout.long_form is not None  # noqa: S101 - the caller asks for nothing else
        self._layout, self._analytes, self._header = layout, analytes, header
        names = [normal_header(name) for name in header.printed]
        self._roles = {
            role: place
            for role, words in layout.roles.items()
            if (place := _place(names, words)) is not None
        }
        self._long = _LongPlaces.of(names, layout.long_form, header)
        self._by_name = {
            normal_header(name): column for column in layout.results for name in column.headers
        }
        self._results: dict[tuple[str, str], int | None] = {}
        self._bound: list[BoundResult] = []
        self._problems: list[Problem] = []
        self._samples: dict[tuple[str, ...], _Sample] = {}
        self._count = 0

    def add(self, row: Row) -> None:
        """Put one value under its sample."""
        self._count += 1
        if self._count > MOST_VALUES:
            raise LabFileError(
                f"{row.file} has more than {MOST_VALUES} values. Take it in by parts, a year each."
            )
        texts = row.printed
        heads = [row.values[at] if at < len(row.values) else "" for at in self._roles.values()]
        key = tuple(
            printed_text(head)
            for role, head in zip(self._roles, heads, strict=True)
            if role not in _LEFT_OUT_OF_KEY
        )
        sample = self._samples.setdefault(key, _Sample(row.number, heads, {}))
        place = self._result_place(row, texts)
        if place is None:
            return
        if place in sample.values:
            self._note(
                row,
                printed=_text(texts, self._long.analyte),
                wrong=f"stands in row {sample.values[place][1]} as well, for the same sample",
                remedy="Ask the laboratory which value holds, and remove the other.",
                severity=ProblemSeverity.WARNING,
            )
            return
        sample.values[place] = (self._signed(row, texts), row.number)

    def _signed(self, row: Row, texts: Sequence[str]) -> CellValue:
        value = row.values[self._long.value] if self._long.value < len(row.values) else ""
        sign = _text(texts, self._long.sign) if self._long.sign is not None else ""
        return f"{sign}{printed_text(value)}" if sign in _SIGNS else value

    def _result_place(self, row: Row, texts: Sequence[str]) -> int | None:
        name = _text(texts, self._long.analyte)
        unit = _text(texts, self._long.unit) if self._long.unit is not None else ""
        if (name, unit) not in self._results:
            self._results[name, unit] = self._new_place(row, name, unit)
        return self._results[name, unit]

    def _new_place(self, row: Row, name: str, unit: str) -> int | None:
        column = self._by_name.get(normal_header(name))
        if column is None:
            if name and normal_header(name) not in map(normal_header, self._layout.ignored):
                self._note(
                    row,
                    printed=name,
                    wrong="is not in the layout; its values are kept out",
                    remedy="Add it to the layout, or name it there as ignored.",
                    severity=ProblemSeverity.WARNING,
                )
            return None
        fitting = _in_unit(column, unit)
        if fitting is None:
            self._note(
                row,
                printed=f"{name} {unit}",
                wrong=f'is not in the unit of the layout ("{column.printed_unit}"); '
                "its values are kept out",
                remedy="Ask the laboratory, and correct the unit in the layout.",
                severity=ProblemSeverity.REFUSED,
            )
            return None
        place = len(self._roles) + len(self._bound)
        self._bound.append(bound_result(self._layout, name, place, fitting, self._analytes))
        return place

    def _note(self, row: Row, **told: object) -> None:
        if len(self._problems) < _MOST_PROBLEMS:
            self._problems.append(Problem(row=row.number, column=self._long.name, **told))  # type: ignore[arg-type]  # keywords as above

    def bound(self) -> BoundColumns:
        """The columns of the gathered rows."""
        heads = [self._header.printed[at] for at in self._roles.values()]
        results = [one.columns[0].header for one in self._bound]
        return BoundColumns(
            header_row=self._header.number,
            headers=(*heads, *results),
            roles={role: place for place, role in enumerate(self._roles)},
            results=tuple(self._bound),
            problems=tuple(self._problems),
        )

    def rows(self, file: str) -> Iterator[Row]:
        """One row for each sample, in the order in which they first come."""
        width = len(self._roles) + len(self._bound)
        for sample in self._samples.values():
            values: list[CellValue] = [*sample.heads, *[""] * len(self._bound)]
            origins = [sample.number] * width
            for place, (value, row) in sample.values.items():
                values[place], origins[place] = value, row
            yield GatheredRow(file, "", sample.number, tuple(values), tuple(origins))


_SIGNS: Final = frozenset({"<", "<=", "\u2264", ">", ">=", "\u2265"})


@dataclass(frozen=True, slots=True, kw_only=True)
class _LongPlaces:
    """Where name, value, unit and sign stand."""

    name: str
    analyte: int
    value: int
    unit: int | None
    sign: int | None

    @classmethod
    def of(cls, names: Sequence[str], long: LongForm, header: Row) -> "_LongPlaces":
        analyte, value = _place(names, long.analyte), _place(names, long.value)
        if analyte is None or value is None:
            raise LabFileError(
                f"{header.file} has no column of names or none of values. Correct the layout."
            )
        return cls(
            name=header.printed[analyte],
            analyte=analyte,
            value=value,
            unit=_place(names, long.unit),
            sign=_place(names, long.sign),
        )


def _place(names: Sequence[str], words: Sequence[str]) -> int | None:
    wanted = {normal_header(word) for word in words}
    return next((place for place, name in enumerate(names) if name in wanted), None)


def _text(texts: Sequence[str], place: int | None) -> str:
    return texts[place].strip() if place is not None and place < len(texts) else ""


def _in_unit(column: ResultColumn, unit: str) -> ResultColumn | None:
    """The column in the unit that a row names; nothing where that measures something else."""
    if not unit or normal_header(unit) == normal_header(column.printed_unit):
        return column
    try:
        told, own = unit_named(unit), unit_named(column.unit)
    except UnitError:
        return None
    if told.kind != own.kind:
        return None
    return replace(column, unit=told.name, printed_unit=unit)
