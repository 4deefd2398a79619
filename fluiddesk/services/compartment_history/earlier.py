"""One history over all the records of a box whose machine changed its site.

Each site keeps the record that it owned. Read in the order of ownership they are one story: true
hours go on, since the meter goes along; fills are counted on from site to site.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from fluiddesk.domain.fleet import Certainty, EventKind
from fluiddesk.domain.samples import SampleColumns, Sign
from fluiddesk.services.compartment_history.facts import EventFacts
from fluiddesk.services.fleet_condition import BoxRow
from fluiddesk.services.register.transfer import CARRIED_NOTE

_OF_THE_SAMPLE = (
    "severity", "trust", "taken_on", "true_hours", "fluid_hours", "direction", "headline",
    "reasons", "first_seen_on", "sample_id", "previous_severity",
)  # fmt: skip


def joined(parts: Sequence[SampleColumns], events: Sequence[EventFacts]) -> SampleColumns | None:
    """The samples of all records, oldest first, on the analytes of all; ``None`` without one.

    Args:
        parts: the samples of each record that has any, in the order of ownership.
        events: what happened to the box, over all records; it tells which fill a sample is of.
    """
    whole: SampleColumns | None = None
    for part in parts:
        if not len(part):
            continue
        whole = part if whole is None else _appended(whole, part, events)
    return whole


def _appended(
    before: SampleColumns, after: SampleColumns, events: Sequence[EventFacts]
) -> SampleColumns:
    numbers = tuple(sorted({*before.analytes, *after.analytes}))
    changes = [
        event
        for event in events
        if event.kind is EventKind.FLUID_CHANGE
        and event.certainty is not Certainty.DENIED
        # A change on the day of a sample came after it, as is usual.
        and before.taken_on[-1] <= event.happened_on.toordinal() < after.taken_on[0]
    ]
    shift = int(before.fill[-1]) + len(changes) - int(after.fill[0])
    parts = [
        on_analytes(before, numbers),
        replace(on_analytes(after, numbers), fill=after.fill + np.int32(shift)),
    ]
    fields = [name for name in SampleColumns.__dataclass_fields__ if name != "analytes"]
    return SampleColumns(
        analytes=numbers,
        **{name: np.concatenate([getattr(part, name) for part in parts]) for name in fields},
    )


def on_analytes(columns: SampleColumns, numbers: Sequence[int]) -> SampleColumns:
    """The same samples laid out on more analytes; what was not tested says so."""
    at = np.searchsorted(np.array(numbers), np.array(columns.analytes, dtype=np.int64))
    values = np.full((len(columns), len(numbers)), np.nan)
    signs = np.full((len(columns), len(numbers)), Sign.NOT_TESTED, dtype=np.uint8)
    values[:, at] = columns.values
    signs[:, at] = columns.signs
    return replace(columns, analytes=tuple(numbers), values=values, signs=signs)


def without_copies(records: Sequence[Sequence[EventFacts]]) -> tuple[EventFacts, ...]:
    """The events of all records by day; a fill that went along to another site is told once."""
    told = list(records[0]) if records else []
    for record in records[1:]:
        known = {(one.kind, one.happened_on) for one in told}
        told += [
            one
            for one in record
            if one.note != CARRIED_NOTE or (one.kind, one.happened_on) not in known
        ]
    return tuple(sorted(told, key=lambda event: event.happened_on))


def standing(rows: Mapping[bytes, BoxRow], order: Sequence[bytes]) -> BoxRow:
    """How the box stands: by its newest sample, whichever record that belongs to.

    Args:
        rows: how each record stands, by its compartment.
        order: the compartments, oldest first; the last one is the record that goes on.
    """
    now = rows[order[-1]]
    drawn = [rows[key] for key in order if key in rows and rows[key].sample_id is not None]
    if drawn and now.sample_id is None:
        now = now._replace(**{name: getattr(drawn[-1], name) for name in _OF_THE_SAMPLE})
    elif len(drawn) > 1 and (now.previous_severity is None or now.previous_severity < 0):
        now = _against(now, drawn[-2])
    waiting = [row for row in rows.values() if row.awaited_on is not None]
    if waiting and now.awaited_on is None:
        newest = max(waiting, key=lambda row: str(row.awaited_on))
        now = now._replace(awaited_on=newest.awaited_on, awaited_hours=newest.awaited_hours)
    return now


def _against(now: BoxRow, before: BoxRow) -> BoxRow:
    """The first sample at a site, held against the last verdict at the site before."""
    first, last = before.severity, now.severity
    if first is None or last is None or first < 0:
        return now
    way = (last > first) - (last < first)
    return now._replace(previous_severity=first, direction=way)
