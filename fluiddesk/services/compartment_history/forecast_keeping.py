"""Keep the forecast of each box whose newest sample has none yet, and mark those made before."""

import hashlib
from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Final

import numpy as np

from fluiddesk import __version__
from fluiddesk.domain.errors import BusyError
from fluiddesk.domain.identity import CompartmentId, SampleId
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.compartment_history.fetching import Fetched, fetch, series_of, story_of
from fluiddesk.services.compartment_history.fill_rates import rates_by_fill
from fluiddesk.services.compartment_history.forecast_facts import ForecastScore, HoursLeft
from fluiddesk.services.compartment_history.forecasts import (
    AFTERWARDS,
    FROM_CHANGE,
    outcome_of,
    score_of,
)
from fluiddesk.services.compartment_history.hours_left import Clock, hours_left
from fluiddesk.services.compartment_history.sisters import Shelf, shelf_of
from fluiddesk.services.compartment_history.story import BoxStory
from fluiddesk.services.reassess.judging import rows_of
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, ForecastRecord, canonical_json

MOST_AT_ONCE: Final = 40
"""After an intake that touches more boxes the forecasts are left to ``fluiddesk forecasts``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """How many boxes were looked at, forecasts kept and earlier ones marked."""

    boxes: int = 0
    kept: int = 0
    marked: int = 0


def keep_after(
    place: Workplace, compartments: Collection[CompartmentId], *, today: date, moment: datetime
) -> Kept:
    """Keep the forecasts of the boxes that a use case touched, if they are few.

    A transaction of its own after the one that saved the samples: it must never hold that up. Where
    another desk is writing just then, nothing is kept: the next time will do.
    """
    if not compartments or len(compartments) > MOST_AT_ONCE or place.store.is_read_only:
        return Kept()
    try:
        return keep_forecasts(place, compartments, today=today, moment=moment)
    except BusyError:
        return Kept()


def keep_forecasts(
    place: Workplace,
    compartments: Collection[CompartmentId] | None,
    *,
    today: date,
    moment: datetime,
) -> Kept:
    """Keep and mark the forecasts of some boxes, or of all with a sample."""
    shelf = shelf_of(place.store)
    done = Kept()
    with place.store.transaction(who=place.who, moment=moment) as desk, shelf.held_still(desk):
        known = [key for key, _ in desk.blocks.pairs(compartments)]
        for key in known:
            found = _keep(desk, place.catalogue, key, shelf=shelf, today=today)
            done = Kept(
                boxes=done.boxes + 1,
                kept=done.kept + found.kept,
                marked=done.marked + found.marked,
            )
    return done


def replay_forecasts(
    place: Workplace,
    compartments: Collection[CompartmentId] | None,
    *,
    today: date,
    moment: datetime,
) -> Kept:
    """Work out afterwards what would have been said at every earlier sample, and mark it.

    Each forecast knows the samples and events of its box up to its day and the limits of that day;
    of like boxes it knows what is known now. Its remark says that it was worked out afterwards.
    """
    shelf = shelf_of(place.store)
    done = Kept()
    with place.store.transaction(who=place.who, moment=moment) as desk, shelf.held_still(desk):
        for key, _ in desk.blocks.pairs(compartments):
            found = fetch(desk, place.catalogue, key, shelf=shelf)
            kept = desk.forecasts.add(list(_replayed(found, place.catalogue, today=today)))
            marked = _mark(desk, place.catalogue, found)
            done = Kept(boxes=done.boxes + 1, kept=done.kept + kept, marked=done.marked + marked)
    return done


def _replayed(found: Fetched, catalogue: Catalogue, *, today: date) -> Iterator[ForecastRecord]:
    whole = found.columns
    if whole is None:
        return
    for place in range(len(whole) - 1):
        day = date.fromordinal(int(whole.taken_on[place]))
        events = tuple(one for one in found.papers.events if one.happened_on <= day)
        then = replace(
            found,
            columns=rows_of(whole, slice(0, place + 1)),
            papers=replace(found.papers, events=events),
        )
        made = _forecast(then, catalogue, today=today)
        if made is not None and made.p50 is not None:
            yield replace(made, why=f"{made.why} {AFTERWARDS}".strip())


def _keep(
    desk: Desk, catalogue: Catalogue, compartment: CompartmentId, *, shelf: Shelf, today: date
) -> Kept:
    found = fetch(desk, catalogue, compartment, shelf=shelf)
    marked = _mark(desk, catalogue, found)
    made = _forecast(found, catalogue, today=today)
    return Kept(kept=desk.forecasts.add([made]) if made is not None else 0, marked=marked)


def _mark(desk: Desk, catalogue: Catalogue, found: Fetched) -> int:
    """Mark the open forecasts of a box of which something is known now."""
    waiting = desk.forecasts.open_of(found.box.compartment_id)
    story = story_of(found, catalogue) if waiting else None
    if story is None:
        return 0
    series = series_of(found, catalogue)
    marks = [
        (made, *came) for made in waiting if (came := outcome_of(made, story, series)) is not None
    ]
    desk.forecasts.mark(marks)
    return len(marks)


def _forecast(found: Fetched, catalogue: Catalogue, *, today: date) -> ForecastRecord | None:
    """What is said of a box by what is known of it; ``None`` where hours have no start."""
    story = story_of(found, catalogue)
    at_hours = _counted_from(story) if story is not None else None
    if story is None or at_hours is None:
        return None
    # Without a meter today: hours count from the sample, as they are to be marked.
    clock = Clock(
        today=today, hours_now=None, hours_per_day=None, hours_to_due=_interval_hours(found)
    )
    left = hours_left(
        story,
        rates_by_fill(story),
        series_of(found, catalogue),
        found.sisters,
        clock,
        box=found.box.compartment_id,
    )
    return _record(found, story, left, at_hours=at_hours)


def _counted_from(story: BoxStory) -> float | None:
    """The machine's hours at the last sample, or at a later change of the fluid."""
    last = float(story.columns.hours[-1])
    if story.changed_at_hours is not None:
        return max(story.changed_at_hours, last) if np.isfinite(last) else story.changed_at_hours
    return last if np.isfinite(last) else None


def _interval_hours(found: Fetched) -> float | None:
    row = found.row
    if row.interval_hours:
        return float(row.interval_hours)
    if row.interval_days and row.hours_per_day:
        return float(row.interval_days) * float(row.hours_per_day)
    return None


def _remark(story: BoxStory, left: HoursLeft) -> str:
    if left.why or story.change_since is None:
        return left.why
    return f"{FROM_CHANGE} {story.change_since.isoformat()}."


def _record(found: Fetched, story: BoxStory, left: HoursLeft, *, at_hours: float) -> ForecastRecord:
    # "None left" is said of a limit that was reached already: there is nothing to mark in it.
    numbers = (None,) * 3 if left.p90 == 0.0 else (left.p10, left.p50, left.p90)
    told = {
        "analyte": left.analyte.code if left.analyte else "",
        "severity": int(left.severity),
        "bound": left.bound,
        "at_hours": round(at_hours, 1),
        "numbers": [None if one is None else round(one, 1) for one in numbers],
    }
    digest = hashlib.sha256(canonical_json(told).encode()).hexdigest()[:32]
    return ForecastRecord(
        site=found.box.site_id,
        compartment=found.box.compartment_id,
        sample=SampleId(story.columns.sample_id[-1].tobytes()),
        analyte=left.analyte.code if left.analyte else "",
        severity=int(left.severity),
        bound=left.bound,
        at_hours=at_hours,
        p10=numbers[0],
        p50=numbers[1],
        p90=numbers[2],
        chance_before_due=left.chance_before_due,
        why=_remark(story, left),
        program_version=__version__,
        inputs_digest=digest,
    )


def forecast_scores(place: Workplace) -> tuple[ForecastScore, ...]:
    """How the forecasts of each kind of box fared, in the order of the power path."""
    with place.store.reading() as desk:
        tallies = {one.kind: one for one in desk.forecasts.tallies()}
    known = [kind for kind in place.catalogue.compartment_kinds if kind in tallies]
    rest = sorted(set(tallies) - set(known))
    return tuple(
        score_of(tallies[kind], place.catalogue.kind_name(kind)) for kind in (*known, *rest)
    )
