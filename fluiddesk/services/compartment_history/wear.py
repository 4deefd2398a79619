"""True wear of one box: the rate of each metal in each fill, grams, and the control chart."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.analytes import Analyte, AnalyteFamily
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.statistics.entry import NotEnough
from fluiddesk.domain.statistics.ewma import ewma_chart
from fluiddesk.domain.statistics.individuals_chart import FEWEST_RESULTS, individuals_chart
from fluiddesk.domain.trends.prior import FillRates, Group, box_rates, completed, stacked
from fluiddesk.domain.wear.equilibrium import is_worth_saying, reads_low_percent
from fluiddesk.domain.wear.fill_history import LOSS_SD, RESIDUE_SD
from fluiddesk.domain.wear.mass_balance import MG_PER_G
from fluiddesk.domain.wear.rate_band import half_width
from fluiddesk.services.compartment_history.facts import AnalyteSeries
from fluiddesk.services.compartment_history.fill_rates import BoxRates, begun_at, since_component
from fluiddesk.services.compartment_history.grams import cumulative_facts
from fluiddesk.services.compartment_history.sisters import Sisters, no_group
from fluiddesk.services.compartment_history.story import BoxStory
from fluiddesk.services.compartment_history.targets import NOT_DISSOLVED
from fluiddesk.services.compartment_history.wear_facts import (
    AnalyteWear,
    ControlChartFacts,
    CumulativeFacts,
    FillWear,
    TrueWear,
)

FloatArray = NDArray[np.float64]

_WIDTH: Final = 2.8
_WEIGHT: Final = 0.3
"""Of the moving average that finds slow wear (common practice, no source)."""
_PER_100_H: Final = 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _FillSpan:
    """What the fills of all metals share: where and when they lie, and how much losses hide."""

    number: int
    from_hours: float
    to_hours: float
    on: date
    hours: float
    reads_low_by: float | None


def true_wear(
    story: BoxStory,
    rates: BoxRates,
    series: Sequence[AnalyteSeries],
    sisters: Sisters | None,
    *,
    box: CompartmentId,
) -> TrueWear:
    """The true wear panel of a box: one entry a wear metal, in the order of its curves."""
    place = {analyte.code: at for at, analyte in enumerate(story.analytes) if analyte is not None}
    metals = [
        one.analyte
        for one in series
        if one.analyte.family is AnalyteFamily.WEAR
        and one.analyte.unit == "mg/kg"
        and one.analyte.code not in NOT_DISSOLVED
        and one.analyte.code in place
    ]
    assumptions = _assumptions(story)
    if not metals:
        return TrueWear(why="No wear metal was tested for.", assumptions=assumptions)
    columns = [place[one.code] for one in metals]
    group = stacked(
        [
            sisters.group(one.number, without=box, is_signed=False, turn=1.0)
            if sisters is not None
            else no_group(is_signed=False)
            for one in metals
        ]
    )
    bands = _now(story, rates, columns, group)
    grams = cumulative_facts(story, rates, columns)
    spans = _spans(story, rates)
    told = tuple(
        _metal(
            story, rates, metal, columns[row], spans=spans, now=bands[row],
            sisters=_sisters(group, row), grams=grams[row],
        )
        for row, metal in enumerate(metals)
    )  # fmt: skip
    why = ""
    if not any(fill.has_rate for one in told for fill in one.fills):
        why = f"No rate can be told yet: {told[0].fills[-1].why}." if told[0].fills else ""
    return TrueWear(metals=told, why=why, assumptions=assumptions)


def _assumptions(story: BoxStory) -> tuple[str, ...]:
    mass = story.capacity_l * story.density_kg_l
    lost = (
        f"{100 * story.loss_l_per_h:.2g} L per 100 h made up, as recorded, known to "
        f"{100 * LOSS_SD:.0f} %"
        if story.top_ups
        else "no top-ups on record: nothing is taken as lost"
    )
    return (
        f"{story.capacity_l:g} L of {story.density_kg_l:.3g} kg/L ({mass:.3g} kg)",
        f"{100 * story.residue_share:.3g} % of the old fluid stays at a change, "
        f"give or take {100 * RESIDUE_SD:.0f} %",
        lost,
        "metal leaves with lost fluid as it stands in the box",
        "new fluid holds what its reference says, no metal where it says nothing",
    )


def _sisters(group: Group, row: int) -> tuple[float | None, int]:
    """The middle rate of like boxes per 100 h and how many there are; ``None`` with too few."""
    if not group.is_known[row]:
        return None, 0
    return _PER_100_H * float(group.middle[row]), int(group.boxes[row])


def _now(
    story: BoxStory, rates: BoxRates, columns: Sequence[int], group: Group
) -> list[tuple[float, float, float]]:
    """Each metal's rate of the box per 100 h with its 80 % band: its fills, drawn to like boxes."""
    own = since_component(story)
    past = [rates.past(column, own) for column in columns]
    seen = FillRates(
        rate=np.concatenate([one.rate for one in past]),
        sd=np.concatenate([one.sd for one in past]),
        is_bound=np.concatenate([one.is_bound for one in past]),
    )
    grid = box_rates(completed(group, seen, fallback=np.zeros(len(columns))), seen)
    known = np.isfinite(seen.rate).any(axis=1)
    ends = [np.where(known, _PER_100_H * grid.quantile(share), np.nan) for share in (0.1, 0.5, 0.9)]
    return [
        (float(low), float(middle), float(high)) for low, middle, high in zip(*ends, strict=True)
    ]


def _spans(story: BoxStory, rates: BoxRates) -> list[_FillSpan]:
    wear, columns = story.wear, story.columns
    found = []
    for row, start in enumerate(begun_at(story)):
        last, ran = int(wear.last[row]), float(wear.hours[row])
        to_hours = float(columns.hours[last])
        loss = float(rates.loss_l_per_h[row]) / story.capacity_l
        hides = np.isfinite(ran) and is_worth_saying(hours=ran, loss=loss)
        found.append(
            _FillSpan(
                number=int(wear.number[row]),
                from_hours=start if start is not None else to_hours - ran,
                to_hours=to_hours,
                on=date.fromordinal(int(columns.taken_on[last])),
                hours=ran,
                reads_low_by=reads_low_percent(hours=ran, loss=loss) / 100 if hides else None,
            )
        )
    return found


def _metal(
    story: BoxStory,
    rates: BoxRates,
    analyte: Analyte,
    column: int,
    *,
    spans: Sequence[_FillSpan],
    now: tuple[float, float, float],
    sisters: tuple[float | None, int],
    grams: CumulativeFacts | None,
) -> AnalyteWear:
    per_mg = story.capacity_l * story.density_kg_l / _PER_100_H
    fills = tuple(_fill_wear(story, rates, row, column, span) for row, span in enumerate(spans))
    chart = _chart([fills[row] for row in since_component(story)])
    low, middle, high = now
    found = AnalyteWear(
        analyte=analyte,
        fills=fills,
        now_ppm_per_100_h=middle,
        now_ppm_low=low,
        now_ppm_high=high,
        now_mg_per_hour=middle * per_mg,
        now_mg_low=low * per_mg,
        now_mg_high=high * per_mg,
        sisters_ppm_per_100_h=sisters[0],
        sisters=sisters[1],
        cumulative=grams,
        chart=chart if isinstance(chart, ControlChartFacts) else None,
        no_chart_why=chart if isinstance(chart, str) else "",
        reads_low_by=fills[-1].reads_low_by if fills else None,
    )
    return _with_sentence(found)


def _fill_wear(
    story: BoxStory, rates: BoxRates, row: int, column: int, span: _FillSpan
) -> FillWear:
    per_mg = story.capacity_l * story.density_kg_l / _PER_100_H
    rate = _PER_100_H * float(rates.rate[row, column])
    reach = half_width(0.80) * _PER_100_H * float(rates.sd[row, column])
    why = "" if np.isfinite(rate) else _why_no_rate(story, row, column)
    return FillWear(
        fill=span.number,
        from_hours=span.from_hours,
        to_hours=span.to_hours,
        on=span.on,
        ppm_per_100_h=rate,
        ppm_low=rate - reach,
        ppm_high=rate + reach,
        mg_per_hour=rate * per_mg,
        mg_low=(rate - reach) * per_mg,
        mg_high=(rate + reach) * per_mg,
        grams=rate * per_mg * span.hours / MG_PER_G,
        naive_ppm_per_100_h=_PER_100_H * float(story.wear.end[row, column]) / span.hours,
        reads_low_by=span.reads_low_by if not why else None,
        is_bound=bool(rates.is_bound[row, column]),
        why=why,
    )


def _why_no_rate(story: BoxStory, row: int, column: int) -> str:
    if np.isnan(story.wear.end[row, column]):
        return "not tested at the last sample of the fill"
    last = int(story.wear.last[row])
    if np.isnan(story.columns.fluid_hours[last]):
        return "the hours on the fluid are not known: record the fluid change"
    if np.isnan(story.wear.hours[row]):
        return f"sampled {story.columns.fluid_hours[last]:.0f} h after the change, too soon"
    return "the level in the new fluid is not known"


def _chart(fills: Sequence[FillWear]) -> ControlChartFacts | str:
    """The control chart of the rates, or what is missing for it."""
    told = [fill for fill in fills if fill.has_rate and not fill.is_bound]
    rates = np.array([fill.ppm_per_100_h for fill in told])
    single = individuals_chart(rates) if len(rates) else None
    if single is None or isinstance(single, NotEnough):
        if len(rates) < FEWEST_RESULTS:
            return (
                f"A control chart needs {FEWEST_RESULTS} fills with a rate above detection; "
                f"there are {len(rates)}."
            )
        return "The rates of the fills do not differ: there is no spread to judge by."
    moving = ewma_chart(
        rates, centre=single.centre, sigma=single.sigma, weight=_WEIGHT, width=_WIDTH,
        narrow_start=True,
    )  # fmt: skip
    if isinstance(moving, NotEnough):
        return str(moving)
    return ControlChartFacts(
        fills=tuple(fill.fill for fill in told),
        rates=rates,
        centre=single.centre,
        lower=single.lower,
        upper=single.upper,
        average=moving.average,
        average_lower=moving.lower,
        average_upper=moving.upper,
        is_step=single.is_signal,
        is_drift=moving.is_signal,
    )


def _with_sentence(metal: AnalyteWear) -> AnalyteWear:
    if np.isnan(metal.now_ppm_per_100_h):
        last = metal.fills[-1].why if metal.fills else "no believed sample"
        return replace(metal, sentence=f"{metal.analyte.name}: no rate can be told, {last}.")
    told = (
        f"{metal.analyte.name}: {metal.now_ppm_per_100_h:.3g} mg/kg per 100 h "
        f"({metal.now_ppm_low:.3g} to {metal.now_ppm_high:.3g}), "
        f"{metal.now_mg_per_hour:.3g} mg/h"
    )
    if metal.fills and metal.fills[-1].is_bound:
        told += "; the last sample was below what the laboratory can see"
    if metal.sisters_ppm_per_100_h is not None:
        told += f"; like boxes {metal.sisters_ppm_per_100_h:.3g}"
    if metal.reads_low_by is not None:
        told += f"; the last value reads low by {100 * metal.reads_low_by:.0f} %, lost oil hides it"
    return replace(metal, sentence=f"{told}.")
