"""Binds a layout to the headings of one file: which position carries what, checked once."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from fluiddesk.domain.analytes import Analyte, AnalyteCode
from fluiddesk.domain.units import Conversion, UnitError, conversion, mass_share_mg_kg, unit_named
from fluiddesk.intake.files import Row
from fluiddesk.intake.layouts import (
    CODED_HEADER,
    LabLayout,
    LayoutError,
    ResultColumn,
    Role,
    normal_header,
)
from fluiddesk.intake.problems import LabFileError, Problem, ProblemSeverity
from fluiddesk.intake.values import ValueColumn


@dataclass(frozen=True, slots=True, kw_only=True)
class BoundResult:
    """A column of results at its position; three analytes where one cell holds a whole code."""

    position: int
    columns: tuple[ValueColumn, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoundColumns:
    """Every column of one file that is read, and what is wrong with the others."""

    header_row: int
    headers: tuple[str, ...]
    roles: Mapping[Role, int]
    results: tuple[BoundResult, ...]
    problems: tuple[Problem, ...]

    @property
    def width(self) -> int:
        """The number of columns up to the last one with a heading."""
        return len(self.headers)


def bind_columns(
    layout: LabLayout,
    header: Row,
    *,
    units: Row | None,
    analytes: Mapping[AnalyteCode, Analyte],
) -> BoundColumns:
    """Find the position of every column the layout names.

    A column nobody knows, and one whose unit row says another unit, is a problem of the file and
    its values are kept out.

    Raises:
        LayoutError: when the layout names an analyte or a unit that cannot be.
        LabFileError: when one thing has two columns.
    """
    headers = _trimmed(header)
    roles, ignored = _names(layout)
    found_roles: dict[Role, int] = {}
    results: list[BoundResult] = []
    problems: list[Problem] = []
    for position, name in enumerate(headers):
        normal = normal_header(name)
        if not normal or normal in ignored:
            continue
        role = roles.get(normal)
        if role is not None:
            _refuse_second(found_roles.get(role), headers, position)
            found_roles[role] = position
            continue
        column = _result_column(layout, name, analytes)
        if column is None:
            problems.append(_unknown(name))
            continue
        complaint = _other_unit(units, position, name, column)
        if complaint is not None:
            problems.append(complaint)
            continue
        results.append(_bound(layout, name, position, column, analytes))
    _refuse_doubled(results, headers)
    return BoundColumns(
        header_row=header.number,
        headers=headers,
        roles=found_roles,
        results=tuple(results),
        problems=tuple(problems),
    )


def form_columns(
    layout: LabLayout, analytes: Mapping[AnalyteCode, Analyte], *, coded: Sequence[str] = ()
) -> tuple[tuple[ValueColumn, ...], ...]:
    """The columns of results of a layout in its own order, for a report that is typed by hand.

    Args:
        layout: the laboratory's.
        analytes: the catalogue.
        coded: analytes to show where the layout names its columns by codes and lists none.

    Raises:
        LayoutError: when the layout names an analyte or a unit that cannot be.
    """
    columns = list(layout.results)
    if layout.has_coded_headers:
        listed = {code for column in columns for code in column.analytes}
        for code in coded:
            if code not in listed:
                unit = analytes[code].unit
                name = f"{code} [{unit}]"
                columns.append(
                    ResultColumn(headers=(name,), analytes=(code,), unit=unit, printed_unit=unit)
                )
    return tuple(
        _bound(layout, column.headers[0], 0, column, analytes).columns for column in columns
    )


def _trimmed(header: Row) -> tuple[str, ...]:
    """The headings as printed, without empty ones at the end."""
    names = [" ".join(name.split()) for name in header.printed]
    while names and not names[-1]:
        names.pop()
    return tuple(names)


def _names(layout: LabLayout) -> tuple[dict[str, Role], set[str]]:
    roles = {normal_header(name): role for role, names in layout.roles.items() for name in names}
    return roles, {normal_header(name) for name in layout.ignored}


def _result_column(
    layout: LabLayout, name: str, analytes: Mapping[AnalyteCode, Analyte]
) -> ResultColumn | None:
    """The layout's column of this heading; with coded headings, the one the heading describes."""
    normal = normal_header(name)
    for column in layout.results:
        if normal in map(normal_header, column.headers):
            return column
    coded = CODED_HEADER.fullmatch(name) if layout.has_coded_headers else None
    if coded is None or coded[1].casefold() not in analytes:
        return None
    code = coded[1].casefold()
    unit = coded[2] or analytes[code].unit
    return ResultColumn(headers=(name,), analytes=(code,), unit=unit, printed_unit=unit)


def _unknown(name: str) -> Problem:
    return Problem(
        column=name,
        wrong="this column is not in the layout; its values are kept out",
        remedy="Add the column to the layout, or name it there as ignored.",
        severity=ProblemSeverity.WARNING,
    )


def _other_unit(
    units: Row | None, position: int, name: str, column: ResultColumn
) -> Problem | None:
    """A complaint when the row of units says another unit than the layout."""
    if units is None:
        return None
    printed = units.cell(position).printed.strip()
    if _is_same_unit(printed, column.printed_unit):
        return None
    return Problem(
        row=units.number,
        column=name,
        printed=printed,
        wrong=f'is not the unit of the layout ("{column.printed_unit}"); its values are kept out',
        remedy="Ask the laboratory, and correct the unit in the layout.",
        severity=ProblemSeverity.REFUSED,
    )


def _is_same_unit(printed: str, expected: str) -> bool:
    if normal_header(printed) == normal_header(expected):
        return True
    try:
        return unit_named(printed) == unit_named(expected)
    except UnitError:
        return False


def bound_result(
    layout: LabLayout,
    name: str,
    position: int,
    column: ResultColumn,
    analytes: Mapping[AnalyteCode, Analyte],
) -> BoundResult:
    """One column of results at a position.

    Raises:
        LayoutError: when the layout names an analyte or a unit that cannot be.
    """
    return _bound(layout, name, position, column, analytes)


def _bound(
    layout: LabLayout,
    name: str,
    position: int,
    column: ResultColumn,
    analytes: Mapping[AnalyteCode, Analyte],
) -> BoundResult:
    values = []
    for code in column.analytes:
        if code not in analytes:
            raise LayoutError(
                f'Layout {layout.name}, column "{name}": there is no analyte "{code}". '
                "Correct the code in the layout."
            )
        values.append(
            ValueColumn(
                header=name,
                analyte=analytes[code],
                printed_unit=column.printed_unit,
                to_canonical=_way_to_canonical(layout, name, column, analytes[code]),
            )
        )
    return BoundResult(position=position, columns=tuple(values))


def _way_to_canonical(
    layout: LabLayout, name: str, column: ResultColumn, analyte: Analyte
) -> Conversion:
    try:
        if column.part_density is not None and column.fluid_density is not None:
            return _through_densities(column, analyte, column.part_density, column.fluid_density)
        if column.fluid_density is not None and unit_named(column.unit).kind == "mass in a volume":
            return _through_density(column, analyte, column.fluid_density)
        return conversion(unit_from=column.unit, unit_to=analyte.unit)
    except UnitError as fault:
        raise LayoutError(
            f'Layout {layout.name}, column "{name}", analyte {analyte.code}: {fault}'
        ) from fault


def _through_densities(
    column: ResultColumn, analyte: Analyte, part_density: float, fluid_density: float
) -> Conversion:
    """From a share by volume, by way of the two densities, to a share by mass."""
    percent = conversion(unit_from=column.unit, unit_to="% vol")
    canonical = conversion(unit_from="mg/kg", unit_to=analyte.unit)
    share = partial(
        mass_share_mg_kg, part_density_kg_l=part_density, fluid_density_kg_l=fluid_density
    )
    return Conversion(canonical(share(percent(1.0))), 1.0, 0.0)


def _through_density(column: ResultColumn, analyte: Analyte, density: float) -> Conversion:
    """From a mass in a volume of the fluid, by way of its density, to a share by mass."""
    if density <= 0:
        raise UnitError(f"The density {density:g} kg/L is not above 0. Correct it in the layout.")
    litre = conversion(unit_from=column.unit, unit_to="mg/L")
    canonical = conversion(unit_from="mg/kg", unit_to=analyte.unit)
    return Conversion(canonical(litre(1.0) / density), 1.0, 0.0)


def _refuse_second(first: int | None, headers: Sequence[str], second: int) -> None:
    if first is not None:
        raise LabFileError(
            f'Columns {first + 1} ("{headers[first]}") and {second + 1} ("{headers[second]}") '
            "carry the same thing. Remove one of them, or name one as ignored in the layout."
        )


def _refuse_doubled(results: Sequence[BoundResult], headers: Sequence[str]) -> None:
    seen: dict[AnalyteCode, int] = {}
    for position, code in _positions(results):
        _refuse_second(seen.get(code), headers, position)
        seen[code] = position


def _positions(results: Sequence[BoundResult]) -> Iterator[tuple[int, AnalyteCode]]:
    for result in results:
        for column in result.columns:
            yield result.position, column.analyte.code
