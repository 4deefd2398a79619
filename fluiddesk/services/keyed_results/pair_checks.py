"""Checks of values that must go together: particle counts, viscosities, additives, water, fuel."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.fluids.viscosity import viscosity_index
from fluiddesk.domain.trust.pair_rules import (
    fuel_without_flash,
    fuel_without_thinning,
    odd_viscosity_index,
    odd_zinc_to_phosphorus,
    rises_with_size,
    thicker_when_hot,
    water_against_crackle,
)
from fluiddesk.services.keyed_results.basis import CheckBasis
from fluiddesk.services.keyed_results.facts import KeyWarning, WarningKind
from fluiddesk.services.keyed_results.numbers import Typed

FloatArray = NDArray[np.float64]


def pair_warnings(basis: CheckBasis, found: Typed) -> Iterator[KeyWarning]:
    """Every pair rule that a report breaks."""
    values = _Values(basis, found)
    yield from _exchanged(values)
    for told, why, codes, is_broken in _rules(values, basis):
        if is_broken:
            cell = values.cell(codes[-1])
            mark = "|".join(values.text(code) for code in codes)
            yield KeyWarning(
                key=f"{WarningKind.PAIR.value}:{cell}:{mark}",
                kind=WarningKind.PAIR,
                cell=cell,
                name=cell,
                text=values.text(codes[-1]),
                analyte=codes[-1],
                told=told,
                why=why,
            )


def _exchanged(values: "_Values") -> Iterator[KeyWarning]:
    cold, hot = "viscosity_40c", "viscosity_100c"
    if thicker_when_hot(values.of(cold), values.of(hot))[0]:
        cells = values.cell(cold), values.cell(hot)
        texts = values.text(cold), values.text(hot)
        yield KeyWarning(
            key=f"{WarningKind.EXCHANGED.value}:{cells[1]}:{'|'.join(texts)}",
            kind=WarningKind.EXCHANGED,
            cell=cells[1],
            name=cells[1],
            text=texts[1],
            analyte=hot,
            told="The oil would be thicker at 100 than at 40 degrees, which no oil is.",
            why="The two viscosities may stand in each other's field.",
            moved={cells[0]: texts[1], cells[1]: texts[0]},
        )


class _Values:
    """Typed values by analyte, as columns of one."""

    def __init__(self, basis: CheckBasis, found: Typed) -> None:
        self._place = {one.code: at for at, one in enumerate(basis.known.analytes)}
        self._found = found
        self._cells = {
            value.analyte.code: column.key for column in basis.columns for value in column.values
        }
        self._reads = found.reads

    def of(self, code: str) -> FloatArray:
        """The value of an analyte, also one that cannot be; NaN where it was not typed."""
        at = self._place.get(code)
        if at is None:
            return np.array([np.nan])
        value = self._found.values[at]
        return np.array([self._found.plain[at] if np.isnan(value) else value])

    def cell(self, code: str) -> str:
        """The key of the cell an analyte stands in."""
        return self._cells.get(code, "")

    def text(self, code: str) -> str:
        """What was typed there."""
        cell = self.cell(code)
        return self._reads[cell].text.strip() if cell else ""


def _rules(values: _Values, basis: CheckBasis) -> Iterator[tuple[str, str, tuple[str, ...], bool]]:
    """What each pair rule says, why, which analytes it looks at, and whether it is broken."""
    counts = ("particles_4um", "particles_6um", "particles_14um")
    yield (
        "The particle counts rise from a smaller to a larger size.",
        "Counts are cumulative: what is larger than 14 um is larger than 4 um too.",
        counts,
        bool(rises_with_size(*(values.of(code) for code in counts))[0]),
    )
    codes = ("iso4406_4um", "iso4406_6um", "iso4406_14um")
    yield (
        "The contamination codes rise from a smaller to a larger size.",
        "Codes stand for cumulative counts and never rise with size.",
        codes,
        bool(rises_with_size(*(values.of(code) for code in codes))[0]),
    )
    cold, hot = values.of("viscosity_40c"), values.of("viscosity_100c")
    pair = ("viscosity_40c", "viscosity_100c")
    is_reversed = bool(thicker_when_hot(cold, hot)[0])
    yield (
        "The two viscosities make an index no oil of such a machine has.",
        "Indices lie between 80 and 220; one of the two may be mistyped.",
        pair,
        not is_reversed and bool(odd_viscosity_index(_index(cold, hot))[0]),
    )
    zinc, phosphorus = values.of("zinc"), values.of("phosphorus")
    yield (
        "Zinc and phosphorus do not go together.",
        "They come with one additive: 0.6 to 2 parts of zinc to one of phosphorus.",
        ("zinc", "phosphorus"),
        bool(odd_zinc_to_phosphorus(zinc, phosphorus)[0]),
    )
    water, crackle = values.of("water"), values.of("water_crackle")
    yield (
        "Water and the crackle test contradict each other.",
        "The crackle test shows water from 500 to 1000 mg/kg on.",
        ("water_crackle", "water"),
        bool(water_against_crackle(water, crackle)[0]),
    )
    yield from _fuel_rules(values, basis)


def _fuel_rules(
    values: _Values, basis: CheckBasis
) -> Iterator[tuple[str, str, tuple[str, ...], bool]]:
    fuel = values.of("fuel")
    place = {one.code: at for at, one in enumerate(basis.known.analytes)}
    for code in ("viscosity_40c", "viscosity_100c"):
        if code in place:
            new = np.array([basis.fresh[place[code]]])
            yield (
                "Much fuel, but the oil is as thick as new.",
                "4 % fuel thins an engine oil by about 15 %.",
                (code, "fuel"),
                bool(fuel_without_thinning(fuel, values.of(code), new)[0]),
            )
    yield (
        "Much fuel, but the flash point is that of oil without any.",
        "Fuel lowers the flash point.",
        ("flash_point", "fuel"),
        bool(fuel_without_flash(fuel, values.of("flash_point"))[0]),
    )


def _index(cold: FloatArray, hot: FloatArray) -> FloatArray:
    """The viscosity index, NaN where the two make none."""
    if not (np.isfinite(cold).all() and np.isfinite(hot).all()):
        return np.array([np.nan])
    try:
        return np.array([viscosity_index(float(cold[0]), float(hot[0]))])
    except OperatorError:
        return np.array([np.nan])
