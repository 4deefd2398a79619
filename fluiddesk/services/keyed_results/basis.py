"""What a typed report is checked against, fetched once when its bottle is opened."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.trust.expectation import Expectation, Traits
from fluiddesk.intake.layouts import LabLayout
from fluiddesk.intake.values import ValueColumn

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class SecondEntry:
    """How values that decide a verdict are entered twice.

    ``mode``: "off", "same" (the same person may), "other" (another person must). ``analytes``: the
    codes of the deciding values.
    """

    mode: str = "off"
    analytes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FormColumn:
    """One column of a laboratory's form; three values where one cell holds a whole code.

    ``places``: of each value in ``CheckBasis.known``.
    """

    key: str
    values: tuple[ValueColumn, ...]
    places: tuple[int, ...]

    @property
    def is_code(self) -> bool:
        """Whether one cell holds several values."""
        return len(self.values) > 1


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckBasis:
    """The box's forecasts and those of the other open bottles; columns over m analytes.

    Attributes:
        layout: how the laboratory writes its reports.
        columns: the form, in its order.
        known: the analytes of the form and how they are worked on.
        own: what the box foretells, one row.
        others: what the boxes of the other open bottles foretell, one row each.
        other_bottles: their bottle codes and boxes in words.
        before: the last believed report, canonical, shape (m,).
        fresh: the new fluid, shape (m,).
        decimals: places behind the point that this box's reports are printed with, by analyte.
        expected_keys: columns that earlier reports filled.
        taken_on: when the sample was drawn.
        meter: what the meter showed then.
        machine_hours: the machine's true hours then.
        newest_issue: of the report in force, 0 without one.
        newest_report: its number.
        second: which values are entered twice.
        today: the day the report is keyed.
    """

    layout: LabLayout
    columns: tuple[FormColumn, ...]
    known: Traits
    own: Expectation
    others: Expectation
    other_bottles: tuple[tuple[str, str], ...]
    before: FloatArray
    fresh: FloatArray
    decimals: Mapping[str, int]
    expected_keys: frozenset[str]
    taken_on: date | None
    meter: float | None
    machine_hours: float | None
    newest_issue: int
    newest_report: str
    second: SecondEntry
    today: date

    def column(self, key: str) -> FormColumn:
        """The column of a cell's key.

        Raises:
            KeyError: when the form has no such cell.
        """
        return next(one for one in self.columns if one.key == key)
