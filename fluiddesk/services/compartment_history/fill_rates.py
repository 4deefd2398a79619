"""The rate of every analyte in every fill of one box, through its dated top-ups."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.fleet import Certainty, EventKind
from fluiddesk.domain.trends.prior import FillRates
from fluiddesk.domain.wear.fill_history import RateColumns, known_fresh, rates_of, starts_of
from fluiddesk.domain.wear.mass_balance import mass_balance
from fluiddesk.domain.wear.top_ups import TopUps
from fluiddesk.services.compartment_history.story import BoxStory

FloatArray = NDArray[np.float64]

_TOO_LARGE: Final = 0.9
"""A top-up of more of the box than this is taken for a change (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxRates:
    """The rate of every analyte in every fill of a box, mg/kg per hour (k, m), and its start."""

    rate: FloatArray
    sd: FloatArray
    is_bound: NDArray[np.bool_]
    start: FloatArray
    loss_l_per_h: FloatArray

    def past(self, column: int, rows: Sequence[int], *, turn: float = 1.0) -> FillRates:
        """Some fills of one analyte as one row; ``turn`` -1 for what is used up."""
        chosen = list(rows)
        known = np.isfinite(self.rate[chosen, column])
        return FillRates(
            rate=np.where(known, turn * self.rate[chosen, column], np.nan)[None, :],
            sd=np.where(known, self.sd[chosen, column], 1.0)[None, :],
            is_bound=(self.is_bound[chosen, column] & known)[None, :],
        )


def rates_by_fill(story: BoxStory) -> BoxRates:
    """The rates of a box's fills, through its dated top-ups."""
    hours = story.wear.hours
    loss = np.full(len(hours), story.loss_l_per_h)
    starts = begun_at(story)
    for row, (start, ran) in enumerate(zip(starts, hours.tolist(), strict=True)):
        if start is not None and np.isfinite(ran):
            loss[row] = story.litres_between(start, start + ran) / ran
    start_level, _ = starts_of(story.wear, story.traits, story.analytes)
    even = rates_of(story.wear, story.traits, story.analytes, loss_l_per_h=loss)
    return BoxRates(
        rate=_through_top_ups(story, even, start_level, starts),
        sd=even.sd,
        is_bound=even.is_bound,
        start=start_level,
        loss_l_per_h=loss,
    )


def begun_at(story: BoxStory) -> list[float | None]:
    """The machine's hours at which each fill began, where known."""
    by_number = {fill.number: fill.starts_at_hours for fill in story.fills}
    return [by_number.get(int(number)) for number in story.wear.number]


def _through_top_ups(
    story: BoxStory, even: RateColumns, start: FloatArray, starts: Sequence[float | None]
) -> FloatArray:
    """The rates with each top-up at its hour, where the fill has any with an hour."""
    rate = even.rate.copy()
    fresh = np.nan_to_num(known_fresh(story.wear.fresh, story.analytes))
    for row, begun in enumerate(starts):
        ran = float(story.wear.hours[row])
        if begun is None or not np.isfinite(ran):
            continue
        own = [
            one
            for one in story.top_ups
            if begun < one.hours <= begun + ran and one.litres < _TOO_LARGE * story.capacity_l
        ]
        columns = np.flatnonzero(np.isfinite(rate[row]))
        if not own or not len(columns):
            continue
        n = len(columns)
        found = mass_balance(
            start=np.abs(start[row, columns]),
            end=np.abs(story.wear.end[row, columns]),
            hours=np.full(n, ran),
            volume_l=story.capacity_l,
            density_kg_l=story.density_kg_l,
            top_ups=TopUps(
                at_hours=np.tile([one.hours - begun for one in own], n),
                litres=np.tile([one.litres for one in own], n),
                fresh=np.repeat(np.abs(fresh[row, columns]), len(own)),
                stretch=np.repeat(np.arange(n), len(own)),
            ),
        )
        rate[row, columns] = found.ppm_per_hour
    return rate


def since_component(story: BoxStory) -> list[int]:
    """Rows of the fills since the last component was fitted."""
    fitted = [
        one
        for one in story.events
        if one.kind is EventKind.COMPONENT_FIT
        and one.certainty is not Certainty.DENIED
        and one.happened_on.toordinal() <= int(story.columns.taken_on[-1])
    ]
    if not fitted:
        return list(range(len(story.wear)))
    day = fitted[-1].happened_on.toordinal()
    days = story.columns.taken_on[story.wear.first]
    return np.flatnonzero(days > day).tolist()
