"""Checks of single values while a report is typed: each says what is odd, why, and what it may be.

One cell gets one warning, the most telling: a value that would fit with its point moved is not also
called unusual.
"""

from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.trust.scale_slip import scale_slip
from fluiddesk.domain.trust.typing_slips import (
    Slips,
    decimal_slips,
    transposed_digits,
    unlikely_bounds,
    unusual,
)
from fluiddesk.services.keyed_results.basis import CheckBasis, FormColumn
from fluiddesk.services.keyed_results.cells import printed_text
from fluiddesk.services.keyed_results.facts import CellRead, KeyWarning, WarningKind
from fluiddesk.services.keyed_results.numbers import Typed

FloatArray = NDArray[np.float64]

_BAND: Final = 2.776


def value_warnings(basis: CheckBasis, found: Typed) -> Iterator[KeyWarning]:
    """The most telling warning of every cell that has one."""
    about = _About(basis, found)
    for column in basis.columns:
        read = found.reads[column.key]
        if read.fault and not read.is_impossible:
            yield _unreadable(column, read)
        elif column.is_code:
            if any(about.odd[at] for at in column.places):
                yield _unusual_code(basis, column, read)
        else:
            yield from _single(about, column, read)


class _About:
    """What the columnar checks say of every value."""

    def __init__(self, basis: CheckBasis, found: Typed) -> None:
        plain, own = found.plain[np.newaxis], basis.own
        digits = found.raw[np.newaxis], found.decimals[np.newaxis]
        self.basis, self.found = basis, found
        self.decimal = _first(decimal_slips(plain, own))
        self.transposed = _first(transposed_digits(*digits, plain, own))
        self.units = _unit_slips(basis, found)
        bounds = found.bounds[np.newaxis]
        self.odd = (unusual(plain, own) | unlikely_bounds(bounds, found.is_below, own))[0]


def _single(about: _About, column: FormColumn, read: CellRead) -> Iterator[KeyWarning]:
    """The most telling warning of a cell with one value."""
    basis, at = about.basis, column.places[0]
    if about.decimal.is_slip[at]:
        yield _decimal(column, read, basis, float(about.decimal.proposed[at]))
    elif at in about.units:
        yield _unit(basis, column, read, about.units[at])
    elif read.is_impossible:
        yield _impossible(column, read)
    elif about.transposed.is_slip[at]:
        yield _transposed(basis, column, read, float(about.transposed.proposed[at]))
    elif _has_more_places(basis, column, about.found, at):
        yield _more_places(basis, column, read)
    elif about.odd[at]:
        yield _unusual(basis, column, read)


def _first(slips: Slips) -> Slips:
    """The one row of a report."""
    return Slips(is_slip=slips.is_slip[0], proposed=slips.proposed[0], odds=slips.odds[0])


def _warning(column: FormColumn, read: CellRead, kind: WarningKind, **told: object) -> KeyWarning:
    given = {"proposed": "", "is_hard": False, **told}
    return KeyWarning(
        key=f"{kind.value}:{column.key}:{read.text.strip()}",
        kind=kind,
        cell=column.key,
        name=column.key if column.is_code else column.values[0].analyte.name,
        text=read.text,
        analyte=column.values[0].analyte.code,
        told=str(given["told"]),
        why=str(given["why"]),
        proposed=str(given["proposed"]),
        is_hard=bool(given["is_hard"]),
    )


def _value(column: FormColumn, read: CellRead) -> str:
    unit = column.values[0].printed_unit
    return f"{column.values[0].analyte.name} {read.text.strip()} {unit}".strip()


def _band(basis: CheckBasis, column: FormColumn) -> str:
    """The ground a warning stands on: what was expected, and from how many reports."""
    at = column.places[0]
    told = [
        printed_text(basis, column.values[0], float(basis.own.at(spreads)[0, at]))
        for spreads in (0.0, -_BAND, _BAND)
    ]
    reports = int(basis.own.reports[0, at])
    ground = f"from {reports} earlier reports" if reports else "from what is usual for such a box"
    return f"{told[0]} expected, 95 of 100 between {told[1]} and {told[2]}, {ground}."


def _unreadable(column: FormColumn, read: CellRead) -> KeyWarning:
    return _warning(
        column,
        read,
        WarningKind.UNREADABLE,
        told=f'{column.key}: "{read.text.strip()}" {read.fault}.',
        why=read.remedy,
        is_hard=True,
    )


def _impossible(column: FormColumn, read: CellRead) -> KeyWarning:
    return _warning(
        column,
        read,
        WarningKind.IMPOSSIBLE,
        told=f"{_value(column, read)} {read.fault}.",
        why=read.remedy,
        is_hard=True,
    )


def _decimal(column: FormColumn, read: CellRead, basis: CheckBasis, proposed: float) -> KeyWarning:
    text = _moved_point(column, read, proposed)
    return _warning(
        column,
        read,
        WarningKind.DECIMAL_SLIP,
        told=f"{_value(column, read)}: the decimal point seems moved, {text} would fit.",
        why=_band(basis, column),
        proposed=text,
        is_hard=read.is_impossible,
    )


def _moved_point(column: FormColumn, read: CellRead, proposed: float) -> str:
    """The digits as typed with the point where it would fit; nothing is rounded."""
    number = read.raw[0] or 0.0
    factor = proposed / column.values[0].to_canonical(number)
    return f"{number * round(factor, 6):.10g}"


def _transposed(
    basis: CheckBasis, column: FormColumn, read: CellRead, proposed: float
) -> KeyWarning:
    number = read.raw[0] or 0.0
    share = proposed / float(column.values[0].to_canonical(number))
    behind = read.text.strip().replace(",", ".").partition(".")[2]
    text = f"{number * share:.{len(behind)}f}"
    return _warning(
        column,
        read,
        WarningKind.TRANSPOSED,
        told=f"{_value(column, read)}: two digits may be exchanged, {text} would fit.",
        why=_band(basis, column),
        proposed=text,
    )


def _unusual(basis: CheckBasis, column: FormColumn, read: CellRead) -> KeyWarning:
    return _warning(
        column,
        read,
        WarningKind.UNUSUAL,
        told=f"{_value(column, read)} is unusual for this box.",
        why=_band(basis, column),
    )


def _unusual_code(basis: CheckBasis, column: FormColumn, read: CellRead) -> KeyWarning:
    middle = "/".join(f"{basis.own.centre[0, at]:.0f}" for at in column.places)
    return _warning(
        column,
        read,
        WarningKind.UNUSUAL,
        told=f"{column.key} {read.text.strip()} is unusual for this box.",
        why=f"{middle} expected from earlier reports.",
    )


def _has_more_places(basis: CheckBasis, column: FormColumn, found: Typed, at: int) -> bool:
    usual = basis.decimals.get(column.values[0].analyte.code)
    return usual is not None and np.isfinite(found.raw[at]) and int(found.decimals[at]) > usual


def _more_places(basis: CheckBasis, column: FormColumn, read: CellRead) -> KeyWarning:
    usual = basis.decimals[column.values[0].analyte.code]
    places = f"{usual} {'place' if usual == 1 else 'places'}" if usual else "no place"
    return _warning(
        column,
        read,
        WarningKind.DECIMALS,
        told=f"{_value(column, read)} has more places than its reports are printed with.",
        why=f"All earlier reports of this box have {places} behind the point.",
    )


def _unit_slips(basis: CheckBasis, found: Typed) -> dict[int, tuple[str, float]]:
    """Places whose value would fit in another unit: that unit, and the value in its own."""
    centre, spread = basis.own.at(0.0)[0], basis.own.spread[0]
    high, low = basis.own.at(1.0)[0], basis.own.at(-1.0)[0]
    width = np.maximum(0.5 * (high - low), 1e-9)
    slips = {}
    for at, analyte in enumerate(basis.known.analytes):
        value = float(found.plain[at])
        known = np.isfinite([value, centre[at], spread[at]]).all()
        if not known or analyte.is_presence_test:
            continue
        try:
            slip = scale_slip(
                value, unit=analyte.unit, expected=float(centre[at]), spread=float(width[at])
            )
        except OperatorError:
            continue
        if slip is not None and _fits(basis, at, slip.value):
            slips[at] = (slip.written_in, slip.value)
    return slips


def _fits(basis: CheckBasis, at: int, value: float) -> bool:
    """Whether a value fits in the scale it is worked on, whose bands are not symmetric."""
    again = np.full(len(basis.known.analytes), np.nan)
    again[at] = value
    return bool(np.abs(basis.own.spreads_off(again)[0, at]) <= _BAND)


def _unit(
    basis: CheckBasis, column: FormColumn, read: CellRead, slip: tuple[str, float]
) -> KeyWarning:
    unit, value = slip
    text = printed_text(basis, column.values[0], value)
    return _warning(
        column,
        read,
        WarningKind.UNIT,
        told=f"{_value(column, read)}: seems written in {unit}, that is {text} here.",
        why=_band(basis, column),
        proposed=text,
        is_hard=read.is_impossible,
    )
