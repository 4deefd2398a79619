"""One box's samples, events and fills put side by side: what its wear and its outlook rest on."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.analytes import Analyte
from fluiddesk.domain.fleet import Certainty, EventKind
from fluiddesk.domain.samples import SampleColumns
from fluiddesk.domain.wear.fill_history import (
    BoxTraits,
    FillColumns,
    fills_of,
    starts_of,
)
from fluiddesk.services.compartment_history.facts import EventFacts, StartPoint
from fluiddesk.services.compartment_history.wear_facts import FillFacts

FloatArray = NDArray[np.float64]

_FEWEST_HOURS_FOR_A_LOSS: Final = 200.0
"""Over fewer hours recorded top-ups tell no pace (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TopUp:
    """Litres added at an hour of the machine's age."""

    hours: float
    litres: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxStory:
    """Everything of one box that its wear and its hours left are worked out from.

    Attributes:
        columns: its samples, in order.
        analytes: one a column of ``columns``; ``None`` where the catalogue lacks it.
        fresh: (n, m), the new fluid's level that held at each sample; NaN where not on record.
        events: what happened, by day, each with its place on the hours axis.
        fills: its fills with a sample.
        wear: the same fills as columns.
        capacity_l: litres in the box; ``residue_share`` and ``density_kg_l`` likewise its own.
        top_ups: with hours and litres, by hours.
        loss_l_per_h: litres lost and made up per hour over the whole record.
        change_since: whether the fluid was changed after the last sample, and when.
        changed_at_hours: the machine's hours then, ``None`` where not known.
    """

    columns: SampleColumns
    analytes: tuple[Analyte | None, ...]
    fresh: FloatArray
    events: tuple[EventFacts, ...]
    fills: tuple[FillFacts, ...]
    wear: FillColumns
    capacity_l: float
    residue_share: float
    density_kg_l: float
    top_ups: tuple[TopUp, ...]
    loss_l_per_h: float
    change_since: date | None
    changed_at_hours: float | None

    @property
    def traits(self) -> BoxTraits:
        """What the mass balance asks of the box."""
        return BoxTraits(
            volume_l=np.array([self.capacity_l]),
            density_kg_l=np.array([self.density_kg_l]),
            residue_share=np.array([self.residue_share]),
            loss_l_per_h=np.array([self.loss_l_per_h]),
        )

    def litres_between(self, start: float, end: float) -> float:
        """Litres topped up after one hour of the machine and up to another."""
        return sum(one.litres for one in self.top_ups if start < one.hours <= end)


def box_story(
    columns: SampleColumns,
    events: Sequence[EventFacts],
    *,
    analytes: Sequence[Analyte | None],
    references: FloatArray,
    capacity_l: float,
    residue_share: float,
    density_kg_l: float,
) -> BoxStory:
    """Put one box's samples and events side by side.

    Args:
        columns: its samples, at least one.
        events: what happened to it, by day.
        analytes: one a column of ``columns``.
        references: (r, m), new-fluid values by reference number.
        capacity_l: litres in the box.
        residue_share: share of old fluid that a change leaves.
        density_kg_l: of its fluid.
    """
    placed = placed_events(columns, events)
    fresh = fresh_at(columns, references)
    wear = fills_of(columns, fresh)
    top_ups = tuple(
        TopUp(hours=one.place_hours, litres=one.litres)
        for one in placed
        if one.kind is EventKind.TOP_UP
        and one.certainty is not Certainty.DENIED
        and one.litres
        and one.place_hours is not None
        # More than the box holds cannot have been made up for a loss.
        and one.litres <= capacity_l
    )
    fills = _fill_facts(columns, placed, top_ups)
    change = _change_since(columns, placed)
    return BoxStory(
        columns=columns,
        analytes=tuple(analytes),
        fresh=fresh,
        events=placed,
        fills=fills,
        wear=wear,
        capacity_l=capacity_l,
        residue_share=residue_share,
        density_kg_l=density_kg_l,
        top_ups=top_ups,
        loss_l_per_h=_loss(columns, top_ups),
        change_since=change.happened_on if change else None,
        changed_at_hours=change.place_hours if change else None,
    )


def fresh_at(columns: SampleColumns, references: FloatArray) -> FloatArray:
    """The new fluid's level that held at each sample, (n, m); NaN where not on record."""
    if not len(references):
        return np.full(columns.values.shape, np.nan)
    known = columns.reference >= 0
    found: FloatArray = np.where(
        known[:, None], references[np.where(known, columns.reference, 0)], np.nan
    )
    return found


def _loss(columns: SampleColumns, top_ups: Sequence[TopUp]) -> float:
    """Litres made up per hour over the span of the samples."""
    hours = columns.hours[np.isfinite(columns.hours)]
    if not len(hours):
        return 0.0
    first, last = float(hours.min()), float(hours.max())
    first = min(first, *(one.hours for one in top_ups)) if top_ups else first
    if last - first < _FEWEST_HOURS_FOR_A_LOSS:
        return 0.0
    return sum(one.litres for one in top_ups if one.hours <= last) / (last - first)


# --- events on the hours axis ---------------------------------------------------------------------


def placed_events(columns: SampleColumns, events: Sequence[EventFacts]) -> tuple[EventFacts, ...]:
    """The events with their place on the hours axis, and the hours since the change before."""
    known = np.isfinite(columns.hours)
    days = columns.taken_on[known].astype(np.float64)
    hours = columns.hours[known]
    found: list[EventFacts] = []
    changed_at: float | None = None
    for event in events:
        at = event.hours if event.hours is not None else _between(days, hours, event.happened_on)
        since = at - changed_at if at is not None and changed_at is not None else None
        found.append(
            replace(
                event, place_hours=at, fluid_hours=since if since is None or since >= 0 else None
            )
        )
        if event.kind is EventKind.FLUID_CHANGE and event.certainty is not Certainty.DENIED:
            changed_at = at
    return tuple(found)


def _between(days: FloatArray, hours: FloatArray, day: date) -> float | None:
    """Hours on a day from the samples around it; none before the first or after the last."""
    at = float(day.toordinal())
    if not len(days) or not days[0] <= at <= days[-1]:
        return None
    return float(np.interp(at, days, hours))


def _changes(events: Sequence[EventFacts]) -> list[EventFacts]:
    return [
        one
        for one in events
        if one.kind is EventKind.FLUID_CHANGE and one.certainty is not Certainty.DENIED
    ]


def _change_since(columns: SampleColumns, events: Sequence[EventFacts]) -> EventFacts | None:
    """The last change after the last sample; one on the day of a sample came after it."""
    last = int(columns.taken_on[-1])
    later = [one for one in _changes(events) if one.happened_on.toordinal() >= last]
    return later[-1] if later else None


# --- fills ----------------------------------------------------------------------------------------


def _fill_facts(
    columns: SampleColumns, events: Sequence[EventFacts], top_ups: Sequence[TopUp]
) -> tuple[FillFacts, ...]:
    edges = np.flatnonzero(np.diff(columns.fill, prepend=columns.fill[0] - 1))
    stops = [*edges[1:].tolist(), len(columns)]
    changes = _changes(events)
    found = []
    for start, stop in zip(edges.tolist(), stops, strict=True):
        day = int(columns.taken_on[start])
        before = int(columns.taken_on[start - 1]) if start else 0
        own = [one for one in changes if before <= one.happened_on.toordinal() < day]
        change = own[-1] if own else None
        begun = change.place_hours if change else None
        if begun is None:
            since = columns.hours[start] - columns.fluid_hours[start]
            begun = float(since) if np.isfinite(since) else None
        end = float(columns.hours[stop - 1])
        litres = (
            sum(one.litres for one in top_ups if begun < one.hours <= end)
            if begun is not None
            else 0.0
        )
        ran = end - begun if begun is not None else 0.0
        found.append(
            FillFacts(
                number=int(columns.fill[start]),
                starts_on=change.happened_on if change else None,
                starts_at_hours=begun,
                ends_at_hours=end,
                is_inferred=change is not None and change.is_inferred,
                samples=(start, stop),
                topped_up_l=litres,
                loss_l_per_100_h=100 * litres / ran if ran > 0 and top_ups else None,
            )
        )
    return tuple(found)


def start_points(story: BoxStory) -> tuple[tuple[StartPoint, ...], ...]:
    """Where each curve starts anew: for each analyte one point a fill after a known change."""
    level, _ = starts_of(story.wear, story.traits, story.analytes)
    by_number = {int(number): row for row, number in enumerate(story.wear.number)}
    rows = [
        (by_number[fill.number], fill)
        for fill in story.fills
        if fill.starts_at_hours is not None
        and fill.number in by_number
        and not story.wear.is_first[by_number[fill.number]]
    ]
    return tuple(
        tuple(
            StartPoint(
                fill=fill.number,
                on=fill.starts_on,
                hours=fill.starts_at_hours,
                value=float(level[row, column]),
            )
            for row, fill in rows
        )
        for column in range(level.shape[1])
    )
