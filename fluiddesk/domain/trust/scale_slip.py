"""Whether a value was written in another unit than its column says: the scale slips of the trade.

A value far from what its history foretells is read again as if it had been written in each unit
the trade mixes up with its own: mg/kg and %, A/cm and A per 0.1 mm, counts per mL and per 100 mL,
mm2/s and Saybolt seconds, uS/cm and mS/cm, °C and °F, hours and kilometres or miles; and a
viscosity at 40 °C as one at 100 °C. If one of these readings fits, the clerk is asked; nothing is
ever changed silently.

The thresholds (3.5 spreads off, within 3 after) are common practice, no source. 16 km or 10 miles
for an hour: US Army TB 43-0211 para 6-4; a machine's own average speed is better where known.
"""

from dataclasses import dataclass
from typing import Final, overload

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.columns import BoolColumn, FloatColumn, Numbers, checked, refuse
from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.fluids.viscosity import viscosity_index
from fluiddesk.domain.saybolt import LOWEST_MM2_S, LOWEST_SECONDS
from fluiddesk.domain.units import convert, unit_named

OFF_SPREADS: Final = 3.5
FITS_SPREADS: Final = 3.0
KM_PER_HOUR: Final = 16.0
NO_SLIP: Final = -1
NOT_COMPARED: Final = -2
"""In a column: no value, or no expectation to compare it with."""
LEAST_INDEX: Final = 80.0
MOST_INDEX: Final = 220.0
"""Viscosity indices of the oils of mobile machines (common practice, no source)."""
_TENFOLD: Final = 1.0
_PER_PERCENT: Final = 10_000.0
"""mg/kg in a percent by mass, also where the % does not say of what: no guess, since the answer is
only a question to the clerk."""

_MISTAKEN: Final = {
    "mg/kg": ("% mass",),
    "% mass": ("mg/kg",),
    "%": ("mg/kg",),
    "A/cm": ("A/0.1 mm",),
    "A/0.1 mm": ("A/cm",),
    "1/mL": ("1/100mL",),
    "1/100mL": ("1/mL",),
    "mm2/s": ("SUS",),
    "SUS": ("mm2/s",),
    "uS/cm": ("mS/cm",),
    "mS/cm": ("uS/cm",),
    "C": ("F",),
    "F": ("C",),
    "h": ("km", "mile"),
    "km": ("h", "mile"),
    "mile": ("h", "km"),
}


class ScaleSlipError(OperatorError):
    """Nothing to compare, or an expectation without a spread."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleSlip:
    """A likely slip: the unit the value seems to be written in, and its value in the right one."""

    written_in: str
    value: float
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleSlips:
    """Likely slips of a column: which reading fits (its place in ``units``), and its value.

    ``reading`` is ``NO_SLIP`` or ``NOT_COMPARED`` elsewhere, ``value`` NaN.
    """

    units: tuple[str, ...]
    reading: NDArray[np.int8]
    value: FloatColumn


@overload
def scale_slip(
    given: float, *, unit: str, expected: float, spread: float, km_per_hour: float = KM_PER_HOUR
) -> ScaleSlip | None: ...
@overload
def scale_slip(
    given: FloatColumn,
    *,
    unit: str,
    expected: Numbers,
    spread: Numbers,
    km_per_hour: Numbers = KM_PER_HOUR,
) -> ScaleSlips: ...
def scale_slip(
    given: Numbers,
    *,
    unit: str,
    expected: Numbers,
    spread: Numbers,
    km_per_hour: Numbers = KM_PER_HOUR,
) -> ScaleSlip | ScaleSlips | None:
    """Whether a value far from its expectation would fit it in another unit; None when not.

    All in ``unit``; ``spread`` is one standard deviation of what is expected. Units nothing is
    mixed up with have no slips.

    Raises:
        UnitError: for a unit that is not in the table.
        ScaleSlipError: when a spread or speed is not above 0; for a single value or expectation
            that is no number (in a column: ``NOT_COMPARED``).

    >>> slip = scale_slip(0.05, unit="mg/kg", expected=480.0, spread=60.0)
    >>> slip.written_in, slip.value
    ('% mass', 500.0)
    >>> scale_slip(510.0, unit="mg/kg", expected=480.0, spread=60.0)
    """
    name = unit_named(unit).name
    units = _MISTAKEN.get(name, ())
    speed = checked(km_per_hour, what="km per hour", error=ScaleSlipError, above=0.0)
    about = _comparison(given, expected, spread)
    readings = np.stack(
        [about.value, *(_read_again(about.value, name, other, speed) for other in units)]
    )
    misfits = _misfits(about, readings)
    best = np.argmin(misfits, axis=0)
    reading = np.where(about.is_known, best - 1, NOT_COMPARED).astype(np.int8)
    value = np.take_along_axis(readings, best[np.newaxis], axis=0)[0]
    value = np.where(reading >= 0, value, np.nan)
    if about.value.ndim:
        return ScaleSlips(units=units, reading=reading, value=value)
    if reading == NO_SLIP:
        return None
    return _slip(given, unit=name, written_in=units[int(reading)], value=value, expected=expected)


@dataclass(frozen=True, slots=True)
class _Comparison:
    value: FloatColumn
    expected: FloatColumn
    spread: FloatColumn
    is_known: BoolColumn

    def spreads_off(self, values: FloatColumn) -> FloatColumn:
        return np.asarray(np.abs(values - self.expected) / self.spread)


def _comparison(given: Numbers, expected: Numbers, spread: Numbers) -> _Comparison:
    value, mean, deviation = np.broadcast_arrays(
        *(np.asarray(one, dtype=np.float64) for one in (given, expected, spread))
    )
    is_known = np.isfinite(value) & np.isfinite(mean) & np.isfinite(deviation)
    if value.ndim == 0:
        for one, what in ((value, "value"), (mean, "expected value"), (deviation, "spread")):
            checked(one, what=what, error=ScaleSlipError)
    refuse(
        is_known & (deviation <= 0.0),
        deviation,
        what="spread of the expectation",
        error=ScaleSlipError,
        why="must be above 0",
        remedy="Give the standard deviation of what is expected.",
    )
    return _Comparison(
        np.where(is_known, value, 0.0),
        np.where(is_known, mean, 0.0),
        np.where(is_known, deviation, 1.0),
        np.asarray(is_known),
    )


def _read_again(value: FloatColumn, unit: str, as_if: str, km_per_hour: FloatColumn) -> FloatColumn:
    """The values in their own unit, had they been written in another; NaN where they cannot be."""
    if unit == "%":
        return np.asarray(value / _PER_PERCENT)
    if "h" in (unit, as_if):
        hours_in = {"h": np.asarray(1.0), **{d: _km(d) / km_per_hour for d in ("km", "mile")}}
        return np.asarray(value * hours_in[as_if] / hours_in[unit])
    beginning = {"SUS": LOWEST_SECONDS, "mm2/s": LOWEST_MM2_S}.get(as_if, -np.inf)
    converted = convert(np.maximum(value, beginning), unit_from=as_if, unit_to=unit)
    return np.where(value >= beginning, converted, np.nan)


def _km(unit: str) -> float:
    return convert(1.0, unit_from=unit, unit_to="km")


def _misfits(about: _Comparison, readings: FloatColumn) -> FloatColumn:
    """How badly each reading fits, in spreads; endless where it is no slip, as in the first row."""
    off_as_written, off = about.spreads_off(about.value), about.spreads_off(readings)
    is_doubtful = (off_as_written > OFF_SPREADS) | _is_much_nearer(about, readings)
    is_slip = is_doubtful & (off <= FITS_SPREADS) & (off < off_as_written)
    return np.where(is_slip, off, np.inf)


def _is_much_nearer(about: _Comparison, readings: FloatColumn) -> BoolColumn:
    """Whether a value ten and more times off comes nearer in order of size; spreads may be wide."""
    is_positive = (about.value > 0.0) & (about.expected > 0.0) & (readings > 0.0)
    given, expected, again = (
        np.log10(np.where(is_positive, one, 1.0)) for one in (about.value, about.expected, readings)
    )
    is_far = np.abs(again - given) >= _TENFOLD
    return np.asarray(is_far & (np.abs(again - expected) < np.abs(given - expected)))


def _slip(
    given: Numbers, *, unit: str, written_in: str, value: FloatColumn, expected: Numbers
) -> ScaleSlip:
    text = (
        f"{given:.6g} {unit} is far from the {expected:.6g} expected, but as {written_in} it would "
        f"be {value:.6g} {unit}. Check the unit on the report."
    )
    return ScaleSlip(written_in=written_in, value=float(value), text=text)


@overload
def temperatures_exchanged(
    given_40c: float,
    given_100c: float,
    *,
    expected_40c: float,
    expected_100c: float,
    spread_40c: float,
    spread_100c: float,
) -> bool: ...
@overload
def temperatures_exchanged(
    given_40c: FloatColumn,
    given_100c: FloatColumn,
    *,
    expected_40c: Numbers,
    expected_100c: Numbers,
    spread_40c: Numbers,
    spread_100c: Numbers,
) -> BoolColumn: ...
def temperatures_exchanged(
    given_40c: Numbers,
    given_100c: Numbers,
    *,
    expected_40c: Numbers,
    expected_100c: Numbers,
    spread_40c: Numbers,
    spread_100c: Numbers,
) -> bool | BoolColumn:
    """Whether the viscosities at 40 and 100 °C seem to stand in each other's column.

    NaN for the one that was not measured. Every value given must be far from its own expectation
    and fit the other's; or be thicker at 100 °C than at 40 °C, which no oil is.

    Raises:
        ScaleSlipError: when a spread is not above 0.

    >>> expected = {"expected_40c": 110.0, "expected_100c": 14.5}
    >>> temperatures_exchanged(14.7, 108.0, **expected, spread_40c=5.0, spread_100c=0.5)
    True
    >>> temperatures_exchanged(float("nan"), 108.0, **expected, spread_40c=5.0, spread_100c=0.5)
    True
    >>> temperatures_exchanged(104.0, 13.9, **expected, spread_40c=5.0, spread_100c=0.5)
    False
    """
    cold, hot = (np.asarray(one, dtype=np.float64) for one in (given_40c, given_100c))
    own = {"cold": (expected_40c, spread_40c), "hot": (expected_100c, spread_100c)}
    is_exchanged = np.isfinite(cold) | np.isfinite(hot)
    for value, here, there in ((cold, "cold", "hot"), (hot, "hot", "cold")):
        fits_there = _spreads_off(value, *own[there]) <= FITS_SPREADS
        is_off_here = _spreads_off(value, *own[here]) > OFF_SPREADS
        is_exchanged &= np.isnan(value) | (fits_there & is_off_here)
    found = np.asarray(is_exchanged | (hot > cold))
    return found if found.ndim else bool(found)


def _spreads_off(value: FloatColumn, expected: Numbers, spread: Numbers) -> FloatColumn:
    deviation = checked(spread, what="spread of the expectation", error=ScaleSlipError, above=0.0)
    return np.asarray(np.abs(value - expected) / deviation)


def is_usual_index(kv40: float, kv100: float) -> bool:
    """Whether viscosities at 40 and 100 °C make an index of 80 to 220; if not, look for a slip.

    Raises:
        ViscosityError: when the two make no index at all.

    >>> is_usual_index(110.0, 14.5), is_usual_index(110.0, 9.0)
    (True, False)
    """
    return LEAST_INDEX <= viscosity_index(kv40, kv100) <= MOST_INDEX
