"""Judge chosen samples of a fleet by one limit set, and keep what each limit said of them."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.limits.limit_set import LimitSet, limits_in_force
from fluiddesk.services.limit_rules.fleet_part import boxes_of
from fluiddesk.services.reassess.fleet_columns import FleetColumns, JudgedPart, judge_columns
from fluiddesk.services.reassess.judging import Progress, Rulebook

Rows = Sequence[NDArray[np.bool_]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Replay:
    """What one set says of chosen samples.

    Attributes:
        severity: one column a group; No verdict on rows that were not chosen.
        parts: what single limits said, part by part; each of boxes with the same limits.
    """

    severity: tuple[NDArray[np.int8], ...]
    parts: tuple[JudgedPart, ...]


def replay(
    columns: FleetColumns, rulebook: Rulebook, *, rows: Rows, progress: Progress | None = None
) -> Replay:
    """Judge the chosen samples by a rulebook.

    Raises:
        CancelledError: when ``progress`` says to stop.
    """
    parts: list[JudgedPart] = []

    def keep(part: JudgedPart) -> None:
        # Single precision is enough to read a figure, and half the memory of a fleet's year.
        parts.append(replace(part, figures=part.figures.astype(np.float32)))

    found = judge_columns(columns, rulebook, rows=rows, on_part=keep, progress=progress)
    return Replay(severity=tuple(one.severity for one in found), parts=tuple(parts))


def replay_boxes(
    columns: FleetColumns,
    rulebook: Rulebook,
    *,
    rows: Rows,
    boxes: NDArray[np.bool_],
    progress: Progress | None = None,
) -> Replay:
    """The same for the samples of some boxes, in the places of the whole fleet."""
    own, places = boxes_of(columns, boxes)
    asked = [mask[place] for mask, place in zip(rows, places, strict=True)]
    found = replay(own, rulebook, rows=asked, progress=progress)
    severity = []
    for group, told, place in zip(columns.groups, found.severity, places, strict=True):
        spread = np.full(len(group), -1, dtype=np.int8)
        spread[place] = told
        severity.append(spread)
    parts = [replace(part, rows=places[part.group][part.rows]) for part in found.parts]
    return Replay(severity=tuple(severity), parts=tuple(parts))


def merged(
    columns: FleetColumns,
    held: Replay,
    fresh: Replay,
    *,
    judged_again: NDArray[np.bool_],
    draft: LimitSet,
) -> Replay:
    """What a draft says: the fresh replay of the boxes judged again, the former of the others.

    The others stand in the same bands by the draft's limits, whose place the former ones take.
    """
    severity = tuple(
        np.where(judged_again[group.compartment], new, old)
        for group, new, old in zip(columns.groups, fresh.severity, held.severity, strict=True)
    )
    kept = [_rest(columns, part, judged_again, draft) for part in held.parts]
    return Replay(
        severity=severity, parts=(*(part for part in kept if len(part.rows)), *fresh.parts)
    )


def _rest(
    columns: FleetColumns, part: JudgedPart, judged_again: NDArray[np.bool_], draft: LimitSet
) -> JudgedPart:
    box = columns.groups[part.group].compartment[part.rows]
    stays = ~judged_again[box]
    if not stays.any():
        return replace(part, rows=part.rows[:0])
    wanted = {limit.key for limit in part.limits}
    about = [limit for limit in draft.limits if limit.key in wanted]
    facts = columns.boxes[int(box[int(np.argmax(stays))])].box
    now = {limit.key: limit for limit in limits_in_force(about, facts)}
    limits = tuple(now.get(limit.key, limit) for limit in part.limits)
    if stays.all():
        return replace(part, limits=limits)
    return replace(
        part,
        rows=part.rows[stays],
        limits=limits,
        own=part.own[stays],
        bands=part.bands[stays],
        figures=part.figures[stays],
    )
