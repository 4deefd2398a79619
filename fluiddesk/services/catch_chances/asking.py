"""Chances as they are and as they could be, by group, from columns in memory."""

import math
from collections.abc import Callable, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.sampling.catch import catch_chance
from fluiddesk.domain.units import percent_text
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.catch_chances.facts import (
    AS_NOW,
    LOW_CHANCE,
    ChanceColumns,
    Chances,
    Comparison,
    GroupBy,
    GroupFigures,
    GroupLine,
    Hours,
    Lane,
    LeftOut,
    Wish,
)

DAYS_SOONER: Final = 3.0
"""By how much faster post is held against half the interval, unless somebody says otherwise."""

_YEAR_DAYS: Final = 365.25
_LOW_SHARE: Final = 0.10
_ROUNDING: Final = 1e-9
_SHORTEST_SHARE: Final = 0.05
_HALVINGS: Final = 16


def chances(columns: ChanceColumns, wish: Wish = AS_NOW) -> Chances:
    """The chance of every box that a fault is told before it becomes a failure.

    (D - L) / T where one sample in time is sure to show it: D hours the fault shows, L running
    hours from drawing to answer, T running hours between samples (``domain/sampling/catch.py``).
    """
    hours = columns.interval_hours * wish.interval_share
    if wish.interval_hours is not None:
        hours = np.full(len(columns), wish.interval_hours)
    days = columns.interval_days * wish.interval_share
    every = np.fmin(hours, days * columns.per_day)
    answer = _answer_days(columns, wish) * columns.per_day
    known = (columns.left_out == LeftOut.NOT) & (every > 0)
    chance = np.full(len(columns), np.nan)
    chance[known] = catch_chance(
        shows_hours=columns.shows_hours[known],
        interval_hours=every[known],
        answer_hours=answer[known],
        sensitivity=columns.sensitivity[known],
    )
    return Chances(
        chance=chance,
        interval_hours=np.where(known, every, np.nan),
        answer_hours=np.where(known, answer, np.nan),
        bottles=np.where(
            known,
            np.divide(columns.per_day * _YEAR_DAYS, every, out=np.zeros_like(every), where=known),
            np.nan,
        ),
    )


def _answer_days(columns: ChanceColumns, wish: Wish) -> Hours:
    of_lane = np.array([lane.days for lane in columns.lanes], dtype=np.float64)
    days = of_lane[columns.lane] if len(of_lane) else np.zeros(len(columns))
    if wish.answer_days is not None:
        days = np.full(len(columns), wish.answer_days)
    return np.maximum(days - wish.days_sooner, 0.0)


def figures(found: Chances, chosen: NDArray[np.bool_]) -> GroupFigures:
    """The chances of some boxes together."""
    chance = found.chance[chosen]
    told = chance[~np.isnan(chance)]
    if not len(told):
        return GroupFigures(mean=None, low_tenth=None, low_boxes=0, bottles=0.0)
    return GroupFigures(
        mean=float(told.mean()),
        low_tenth=float(np.quantile(told, _LOW_SHARE)),
        low_boxes=int((told < LOW_CHANCE - _ROUNDING).sum()),
        bottles=float(np.nansum(found.bottles[chosen])),
    )


def group_names(columns: ChanceColumns, catalogue: Catalogue, by: GroupBy) -> list[str]:
    """The group of each box, in the words it is listed by."""
    rows = columns.rows
    match by:
        case GroupBy.SITE:
            return [row.site for row in rows]
        case GroupBy.LANE:
            titles = [lane.title for lane in columns.lanes]
            return [titles[at] for at in columns.lane.tolist()]
        case GroupBy.MACHINE_KIND:
            kinds = {
                kind: catalogue.machine_kind_name(kind) for kind in _seen(rows, "machine_kind")
            }
            return [kinds[row.machine_kind] for row in rows]
        case GroupBy.BOX_KIND:
            kinds = {kind: catalogue.kind_name(kind) for kind in _seen(rows, "kind")}
            return [kinds[row.kind] for row in rows]


def _seen(rows: Sequence[object], name: str) -> set[str]:
    return {getattr(row, name) for row in rows}


def group_lines(
    columns: ChanceColumns,
    names: Sequence[str] | NDArray[np.str_],
    *,
    now: Chances,
    then: Chances | None = None,
) -> tuple[GroupLine, ...]:
    """Each group as it is and, where something else was asked, as it would be; lowest first.

    Args:
        columns: the boxes.
        names: the group of each, see ``group_names``.
        now: the chances as they are.
        then: the chances as asked.
    """
    if not len(columns):
        return ()
    found, group = np.unique(np.array(names, dtype=str), return_inverse=True)
    lines = [
        group_line(columns, group == place, str(name), now=now, then=then)
        for place, name in enumerate(found.tolist())
    ]
    return tuple(sorted(lines, key=lambda one: (one.now.mean is None, one.now.mean, one.group)))


def group_line(
    columns: ChanceColumns,
    chosen: NDArray[np.bool_],
    name: str,
    *,
    now: Chances,
    then: Chances | None = None,
) -> GroupLine:
    """One group: the boxes chosen."""
    told = chosen & (columns.left_out == LeftOut.NOT)
    lanes = [columns.lanes[at] for at in np.unique(columns.lane[told]).tolist()]
    days = _answer_days(columns, AS_NOW)[told]
    return GroupLine(
        group=name,
        boxes=int(told.sum()),
        left_out=int(chosen.sum() - told.sum()),
        answer_days=float(np.median(days)) if len(days) else None,
        known_from=_known_from(lanes),
        now=figures(now, told),
        then=None if then is None else figures(then, told),
        about=tuple(f"{lane.title}: {lane.about}" for lane in lanes),
    )


def _known_from(lanes: Sequence[Lane]) -> str:
    words = {lane.known_from.value for lane in lanes}
    return next(iter(words)) if len(words) == 1 else "mixed" if words else ""


def compared(
    columns: ChanceColumns,
    chosen: NDArray[np.bool_] | None = None,
    *,
    days_sooner: float = DAYS_SOONER,
) -> Comparison:
    """Answers some days sooner held against half the interval, for some boxes or for all."""
    which = np.ones(len(columns), dtype=bool) if chosen is None else chosen

    def asked(wish: Wish) -> GroupFigures:
        return figures(chances(columns, wish), which)

    now, sooner = asked(AS_NOW), asked(Wish(days_sooner=days_sooner))
    halved = asked(Wish(interval_share=0.5))
    share = None if sooner.mean is None else _share_for(sooner.mean, asked)
    return Comparison(
        days_sooner=days_sooner,
        now=now.mean,
        sooner=sooner.mean,
        halved=halved.mean,
        bottles_now=now.bottles,
        bottles_sooner=None if share is None else now.bottles / share,
        bottles_halved=halved.bottles,
    )


def _share_for(mean: float, asked: Callable[[Wish], GroupFigures]) -> float | None:
    """The share of the interval at which the mean chance is reached; ``None`` where none is."""
    low, high = _SHORTEST_SHARE, 1.0
    if (asked(Wish(interval_share=low)).mean or 0.0) < mean - _ROUNDING:
        return None
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        if (asked(Wish(interval_share=middle)).mean or 0.0) < mean:
            high = middle
        else:
            low = middle
    return high


def lowest_first(found: Chances, chosen: NDArray[np.bool_]) -> NDArray[np.intp]:
    """Places of the boxes chosen, lowest chance first, those without one last."""
    places = np.flatnonzero(chosen)
    return places[np.argsort(found.chance[places], kind="stable")]


def whole_sentence(columns: ChanceColumns, now: Chances) -> str:
    """The fleet's chance in one line."""
    whole = figures(now, np.ones(len(columns), dtype=bool))
    told = int((~np.isnan(now.chance)).sum())
    if whole.mean is None or not math.isfinite(whole.mean):
        return "No box has an interval and a machine that runs, so there is no chance to tell."
    left_out = len(columns) - told
    rest = f"; {left_out:,} left out" if left_out else ""
    return (
        f"A fault is told in time with a chance of {percent_text(whole.mean)}; "
        f"{whole.low_boxes:,} of {told:,} boxes stand below {percent_text(LOW_CHANCE)}{rest}."
    )
