"""The current condition of each box, from the verdicts on all its samples."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.limits.fired import FiredRule
from fluiddesk.domain.severity import Trust
from fluiddesk.domain.trends.direction import direction
from fluiddesk.services.reassess.judging import Verdicts


@dataclass(frozen=True, slots=True, kw_only=True)
class Latest:
    """The last believed sample of each box of a group; all columns shape (b,).

    Attributes:
        row: the sample's row in the group.
        box: index of the compartment.
        direction: 1 rising, 0 level, -1 falling.
        previous_severity: of the believed sample before, -1 where there is none.
        first_seen_on: day ordinal since when the severity has held without a break.
    """

    row: NDArray[np.intp]
    box: NDArray[np.int32]
    direction: NDArray[np.int8]
    previous_severity: NDArray[np.int8]
    first_seen_on: NDArray[np.int32]


def latest(verdicts: Verdicts) -> Latest:
    """Find the last believed sample of each box and how it compares with those before.

    A rejected sample says nothing of the machine and is passed over. Samples of one box stand
    together in the group, in the order taken.
    """
    columns = verdicts.columns
    kept = np.flatnonzero(columns.trust != Trust.REJECTED)
    box, severity = columns.compartment[kept], verdicts.severity[kept]
    is_last = np.diff(box, append=box[-1:] + 1) != 0
    is_first = np.diff(box, prepend=box[:1] - 1) != 0
    moved = direction(load=verdicts.load[kept], box=box)
    before = np.where(is_first, np.int8(-1), np.roll(severity, 1)).astype(np.int8)
    turns = is_first | (severity != before)
    # The newest turn at or before each sample: since then the severity has been the same.
    since = np.maximum.accumulate(np.where(turns, np.arange(len(kept)), 0))
    last = np.flatnonzero(is_last)
    return Latest(
        row=kept[last],
        box=box[last],
        direction=moved[last],
        previous_severity=before[last],
        first_seen_on=columns.taken_on[kept][since[last]],
    )


def reasons_at(verdicts: Verdicts, row: int) -> tuple[FiredRule, ...] | None:
    """The rules that fired on a row; ``None`` where its verdict did not change."""
    if row in verdicts.reasons:
        return verdicts.reasons[row]
    return () if bool(verdicts.changed[row]) else None
