"""Grams of each metal worn since the component was fitted, and how well they are known."""

import itertools
from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.fleet import Certainty, EventKind
from fluiddesk.domain.wear.cumulative import CumulativeWear, cumulative_wear
from fluiddesk.domain.wear.fill import Fill, Spread
from fluiddesk.domain.wear.fill_history import LOSS_SD, RESIDUE_SD, known_fresh, level_sd
from fluiddesk.domain.wear.mass_balance import MG_PER_G
from fluiddesk.domain.wear.rate_band import half_width
from fluiddesk.services.compartment_history.fill_rates import BoxRates, since_component
from fluiddesk.services.compartment_history.story import BoxStory
from fluiddesk.services.compartment_history.wear_facts import CumulativeFacts

FloatArray = NDArray[np.float64]

_KNOWN_TO: Final = 0.5
"""The level before the first fill on record is taken from its end, known to half of the rise."""


def cumulative_facts(
    story: BoxStory, rates: BoxRates, columns: Sequence[int]
) -> list[CumulativeFacts | None]:
    """Grams since the component was fitted, for some analytes; ``None`` without a rate.

    Fills without a rate are passed over: the sum is then a part of the whole (``is_partial``).
    """
    own = np.array(since_component(story), dtype=np.intp)
    known = np.isfinite(rates.rate[own][:, list(columns)]) if len(own) else np.zeros((0, 0), bool)
    rows = [own[known[:, at]] for at in range(len(columns))] if len(own) else []
    chosen = [(row, column) for row, column in zip(rows, columns, strict=False) if len(row)]
    if not chosen:
        return [None] * len(columns)
    row = np.concatenate([one for one, _ in chosen])
    column = np.concatenate([np.full(len(one), at) for one, at in chosen])
    found, follows = _worn(story, rates, row, column)
    begins = np.append(True, np.diff(column) != 0)
    chain = found.total_sd**2
    ends = np.append(~follows[1:], True)
    edges = [*np.flatnonzero(begins).tolist(), len(row)]
    mass = story.capacity_l * story.density_kg_l
    answer: dict[int, CumulativeFacts] = {}
    for start, stop in itertools.pairwise(edges):
        part = slice(start, stop)
        # Chains of fills whose errors hang together; separate ones add as squares.
        closed = np.cumsum(np.where(ends[part], chain[part], 0.0))
        earlier = np.where(ends[part], closed - chain[part], closed)
        reach = half_width(0.80) * np.sqrt(chain[part] + np.maximum(earlier, 0.0))
        # The rates through dated top-ups count; the spread is that of even losses.
        made = rates.rate[row[part], column[part]] * mass * story.wear.hours[row[part]] / MG_PER_G
        grams = np.cumsum(made)
        answer[int(column[start])] = _facts(story, row[part], grams, reach, fills=len(own))
    return [answer.get(one) for one in columns]


def _worn(
    story: BoxStory, rates: BoxRates, row: NDArray[np.intp], column: NDArray[np.intp]
) -> tuple[CumulativeWear, NDArray[np.bool_]]:
    """The wear of each fill of each analyte, and whether it goes on from the one above it."""
    wear = story.wear
    end = np.abs(wear.end[row, column])
    guessed = np.isnan(wear.before[row, column])
    before = np.where(guessed, end, np.abs(wear.before[row, column]))
    fresh = np.abs(np.nan_to_num(known_fresh(wear.fresh, story.analytes)[row, column]))
    sd = level_sd(wear.end, wear.is_bound, story.analytes)[row, column]
    next_row = (np.diff(row, prepend=-9) == 1) & (np.diff(column, prepend=-9) == 0)
    follows: NDArray[np.bool_] = next_row & (np.append(np.nan, end[:-1]) == before)
    found = cumulative_wear(
        Fill(
            end=end,
            before=before,
            residue_share=story.residue_share,
            hours=wear.hours[row],
            volume_l=story.capacity_l,
            density_kg_l=story.density_kg_l,
            fresh=fresh,
            loss_l_per_h=rates.loss_l_per_h[row],
        ),
        Spread(
            end=sd,
            before=np.where(guessed, _KNOWN_TO * np.abs(before - fresh), sd),
            residue_share=RESIDUE_SD,
            loss_relative=LOSS_SD,
        ),
        component=np.cumsum(~follows),
    )
    return found, follows


def _facts(
    story: BoxStory, rows: NDArray[np.intp], grams: FloatArray, reach: FloatArray, *, fills: int
) -> CumulativeFacts:
    fitted = [
        one
        for one in story.events
        if one.kind is EventKind.COMPONENT_FIT
        and one.certainty is not Certainty.DENIED
        and one.happened_on.toordinal() <= int(story.columns.taken_on[-1])
    ]
    return CumulativeFacts(
        hours=story.columns.hours[story.wear.last[rows]],
        grams=grams,
        low=np.maximum(grams - reach, 0.0),
        high=grams + reach,
        since=fitted[-1].happened_on if fitted else story.fills[0].starts_on,
        serial=fitted[-1].note if fitted else "",
        is_partial=not fitted or len(rows) < fills,
    )
