"""LabLayout: which column of a laboratory's file carries what, in which unit, how it is written.

A layout is a TOML file; its form is described in `resources/lab_layouts/README.md`.
"""

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Final, Literal

from fluiddesk.domain.errors import UsageError
from fluiddesk.intake.files import FileHints, LabTable, Row
from fluiddesk.intake.problems import LabFileError
from fluiddesk.intake.values import ValueRules

LEAST_KNOWN_SHARE: Final = 0.5
"""A layout fits when it knows at least this share of the headings."""

CODED_HEADER: Final = re.compile(r"\s*([^\[\]]+?)\s*\[\s*([^\[\]]*?)\s*\]\s*")
"""The heading of our own layout: an analyte's code and the unit in square brackets."""


class LayoutError(UsageError):
    """A layout file says something that cannot be."""


class Role(StrEnum):
    """What a column other than a result carries."""

    BOTTLE = "bottle"
    REPORT = "report"
    ISSUE = "issue"
    SAMPLED_ON = "sampled_on"
    RECEIVED_ON = "received_on"
    TESTED_ON = "tested_on"
    ISSUED_ON = "issued_on"
    METER = "meter"
    MACHINE = "machine"
    REMARK = "remark"
    SITE = "site"
    COMPARTMENT = "compartment"
    FLUID_HOURS = "fluid_hours"


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultColumn:
    """One column of results: its headings, its analyte (three for a split code) and its unit.

    ``printed_unit`` is what the laboratory writes where that differs. Shares by volume become
    shares by mass only with both densities, in kg/L.
    """

    headers: tuple[str, ...]
    analytes: tuple[str, ...]
    unit: str
    printed_unit: str
    split: Literal["iso4406"] | None = None
    part_density: float | None = None
    fluid_density: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LongForm:
    """Headings of a file with one value in a row: the name of what was measured, and its value.

    The headings of the layout's results are then the names that stand in the ``analyte`` column.
    ``unit`` and ``sign`` are columns of their own where the laboratory has them.
    """

    analyte: tuple[str, ...]
    value: tuple[str, ...]
    unit: tuple[str, ...] = ()
    sign: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LabLayout:
    """How one laboratory writes its files."""

    name: str
    laboratory: str
    kind: Literal["csv", "xlsx", "any"] = "any"
    hints: FileHints = field(default_factory=FileHints)
    rules: ValueRules = field(default_factory=ValueRules)
    header_row: int | None = None
    has_units_row: bool = False
    has_coded_headers: bool = False
    sampled_on_tolerance_days: int = 3
    meter_tolerance: float = 25.0
    roles: Mapping[Role, tuple[str, ...]] = field(default_factory=dict)
    results: tuple[ResultColumn, ...] = ()
    ignored: tuple[str, ...] = ()
    long_form: LongForm | None = None

    def fits(self, header: Sequence[str], *, key: Role = Role.BOTTLE) -> float:
        """The share of the headings this layout knows; 0 when it cannot read such a file.

        ``key`` names the column without which a row says nothing of whose sample it is.
        """
        names = [normal_header(name) for name in header if name.strip()]
        if not names or not self._names_of(self.roles.get(key, ())) & set(names):
            return 0.0
        results = self._names_of(*(column.headers for column in self.results))
        others = self._names_of(*self.roles.values(), self.ignored)
        if self.long_form is not None:
            long = self.long_form
            if not self._names_of(long.analyte) & set(names):
                return 0.0
            results = self._names_of(long.value)
            others |= self._names_of(long.analyte, long.unit, long.sign)
        has_result = {name for name in names if name in results}
        if self.has_coded_headers:
            has_result |= {name for name in names if CODED_HEADER.fullmatch(name)}
        share = sum(name in has_result or name in others for name in names) / len(names)
        return share if has_result and share >= LEAST_KNOWN_SHARE else 0.0

    def header_of(self, head: Sequence[Row], *, key: Role = Role.BOTTLE) -> Row | None:
        """The row of headings among the first rows of a file, if there is one."""
        if self.header_row is not None:
            head = [row for row in head if row.number == self.header_row]
        return next((row for row in head if self.fits(row.printed, key=key) > 0), None)

    @staticmethod
    def _names_of(*groups: Sequence[str]) -> set[str]:
        return {normal_header(name) for group in groups for name in group}


def normal_header(text: str) -> str:
    r"""A heading without what laboratories vary: case, spaces and forms of one letter.

    >>> normal_header("Visc 100 \N{DEGREE SIGN}C") == normal_header("VISC 100\N{DEGREE CELSIUS}")
    True
    """
    return "".join(unicodedata.normalize("NFKC", text).split()).casefold()


def choose_layout(
    layouts: Sequence[LabLayout], table: LabTable, *, key: Role = Role.BOTTLE
) -> LabLayout:
    """The one layout that fits a file.

    Raises:
        LabFileError: when none fits, or several do; the text lists them.
    """
    fitting, faults, seen = [], [], ""
    for layout in layouts:
        if layout.kind not in ("any", table.kind):
            continue
        try:
            head = table.head(layout.hints)
        except LabFileError as fault:
            faults.append(fault)
            continue
        seen = seen or next((", ".join(row.printed[:6]) for row in head if not row.is_blank), "")
        if layout.header_of(head, key=key) is not None:
            fitting.append(layout)
    if len(fitting) == 1:
        return fitting[0]
    if fitting:
        names = ", ".join(layout.name for layout in fitting)
        raise LabFileError(f"{table.path.name}: several layouts fit ({names}). Choose one of them.")
    if faults and not seen:
        raise faults[0]
    raise LabFileError(
        f"{table.path.name}: no layout fits its headings (it begins with: {seen}). "
        f"Known are {', '.join(layout.name for layout in layouts) or 'none'}; "
        "describe the laboratory's columns in a new layout."
    )


def layout_named(layouts: Sequence[LabLayout], name: str) -> LabLayout:
    """The layout of this name.

    Raises:
        UsageError: when there is none; the text lists those there are.
    """
    for layout in layouts:
        if layout.name == name:
            return layout
    names = ", ".join(layout.name for layout in layouts)
    raise UsageError(f'There is no layout "{name}". Choose one of: {names}.')
