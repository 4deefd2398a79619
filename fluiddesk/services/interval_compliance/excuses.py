"""Which due events were excused, and why others were missed, by states of machines and by notes."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.fleet import MachineState
from fluiddesk.domain.sampling.outcome import is_excused_throughout
from fluiddesk.services.day_ordinals import day_ordinal
from fluiddesk.services.due_counting.clocks import FloatArray, IntArray

Reasons = dict[tuple[bytes, int], str]
"""By compartment and due day, the reason in words."""


def excused_by_state(
    states: Sequence[tuple[Any, ...]],
    *,
    number: Mapping[bytes, int],
    machine: IntArray,
    low: FloatArray,
    high: FloatArray,
) -> NDArray[np.bool_]:
    """Whether a machine did not work during the whole of each window.

    Args:
        states: machine, state and since when, by machine and day.
        number: by machine, the number that ``machine`` holds.
        machine: shape (n,), the machine of each event.
        low: shape (n,), first day of each window.
        high: shape (n,), last day.
    """
    owner, begins, ends = [], [], []
    for at, (one, state, since) in enumerate(states):
        if one not in number or state == MachineState.WORKING.value:
            continue
        goes_on = at + 1 < len(states) and states[at + 1][0] == one
        owner.append(number[one])
        begins.append(float(day_ordinal(since)))
        ends.append(float(day_ordinal(states[at + 1][2])) if goes_on else np.inf)
    return is_excused_throughout(
        box=machine,
        low=np.ceil(low),
        high=np.floor(high),
        span_box=np.array(owner, dtype=np.int64),
        span_from=np.array(begins, dtype=np.float64),
        span_to=np.array(ends, dtype=np.float64),
    )


def noted(
    notes: Sequence[Mapping[str, Any]],
    *,
    place: Mapping[bytes, int],
    box: IntArray,
    due_on: FloatArray,
) -> tuple[IntArray, Reasons]:
    """The events that people excused, and every reason given; a note belongs to the nearest one.

    Args:
        notes: rows of the store.
        place: by compartment, the index that ``box`` holds.
        box: shape (n,), rising.
        due_on: shape (n,), day of each due point.

    Returns:
        Rows of the excused events, and the reasons.
    """
    reasons: Reasons = {}
    excused: list[int] = []
    first = np.searchsorted(box, np.arange(len(place) + 1))
    for note in notes:
        at = place.get(note["compartment_id"], -1)
        if note["voided_reason"] is not None or at < 0 or first[at] == first[at + 1]:
            continue
        rows = np.arange(first[at], first[at + 1])
        near = int(rows[np.argmin(np.abs(due_on[rows] - note["due_on"].toordinal()))])
        words = note["reason"].replace("_", " ")
        told = f"{words}: {note['note']}" if note["note"] else words
        reasons[(note["compartment_id"], int(np.floor(due_on[near])))] = told
        if note["kind"] == "excused":
            excused.append(near)
    return np.array(excused, dtype=np.int64), reasons
