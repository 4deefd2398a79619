"""The verdict in one sentence, and what changed since the sample before."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from fluiddesk.domain.fleet import EventKind
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.sampling.due import DueState
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.compartment_history.facts import (
    AnalyteSeries,
    DueFacts,
    EventFacts,
    ReasonFacts,
    SampleFacts,
)

_WAYS: Final = {1: "rising", 0: "level", -1: "falling"}
_MOST_TOLD: Final = 3
_FEWEST_TO_COMPARE: Final = 2
_LARGE_CHANGE: Final = 0.30
"""Share by which a value must move to be told where the method's reproducibility is not known
(common practice, no source)."""


def verdict_sentence(
    *,
    severity: Severity,
    samples: Sequence[SampleFacts],
    reasons: Sequence[ReasonFacts],
    direction: int,
    due: DueFacts | None = None,
    is_stale: bool = False,
) -> str:
    """The verdict, trust, leading reason, direction and next due, in plain words.

    ``is_stale``: two intervals have passed since the last sample.
    """
    next_due = _due_words(due) if due is not None else ""
    if not samples:
        return f"No sample has been reported for this box yet.{next_due}"
    last = samples[-1]
    if last.trust is Trust.REJECTED:
        told = f"The last sample, of {last.taken_on}, was rejected: {last.trust_reason}."
        return f"{told}{next_due}"
    if severity is Severity.NO_VERDICT:
        told = "No verdict: no limit could be held against the last sample"
    elif not reasons:
        told = f"Normal: every value of {last.taken_on} is inside its limits"
    else:
        rest = len({reason.rule.analyte for reason in reasons}) - 1
        more = f", and {rest} more {'value' if rest == 1 else 'values'}" if rest else ""
        told = f"{severity.word}: {_lower_first(reasons[0].title)} ({reasons[0].text}){more}"
    told += f"; {_WAYS[direction]}" if severity >= Severity.WATCH else ""
    if last.trust is Trust.SUSPECT:
        told += f". Doubt the sample first: {last.trust_reason}"
    stale = " It is stale: two intervals have passed without a sample." if is_stale else ""
    return f"{told}.{stale}{next_due}"


def _due_words(due: DueFacts) -> str:
    """When the next sample is due, as a sentence of its own; "" where nothing is planned."""
    if due.awaited_on is not None:
        return f" A sample of {due.awaited_on} is at the laboratory."
    if due.due_on is None:
        return ""
    if due.state is DueState.OVERDUE:
        return f" The next sample has been due since {due.due_on}."
    return f" Next sample due {due.due_on}."


def _lower_first(text: str) -> str:
    return text[:1].lower() + text[1:]


def change_sentence(
    series: Sequence[AnalyteSeries], samples: Sequence[SampleFacts], events: Sequence[EventFacts]
) -> str:
    """The values that moved by more than the method explains, and what was done in between."""
    if len(samples) < _FEWEST_TO_COMPARE:
        return "This is the first sample; there is nothing to compare it with."
    before, last = samples[-2], samples[-1]
    moved = sorted(((_size_of_change(one), one) for one in series), key=lambda pair: -pair[0])
    parts = [
        f"{one.analyte.name} {one.shown(-2)} to {one.shown(-1)}"
        for size, one in moved[:_MOST_TOLD]
        if size > 1
    ]
    done = [
        _event_words(event)
        for event in events
        if before.taken_on < event.happened_on <= last.taken_on
    ]
    told = ", ".join(parts) if parts else "no value moved by more than its method explains"
    between = f"; in between {', '.join(done)}" if done else ""
    return f"Since {before.taken_on}: {told}{between}."


def _size_of_change(one: AnalyteSeries) -> float:
    """The change between the last two samples in units of what counts as one; 0 where unknown."""
    if len(one.values) < _FEWEST_TO_COMPARE or (one.signs[-2:] > Sign.ABOVE).any():
        return 0.0
    level = np.array([max(abs(float(one.values[-1])), abs(float(one.values[-2])))])
    precision = one.analyte.reproducibility
    least = float(precision.at(level)[0]) if precision else _LARGE_CHANGE * float(level[0])
    step = abs(float(one.values[-1]) - float(one.values[-2]))
    return step / least if least > 0 else 0.0


def _event_words(event: EventFacts) -> str:
    words = {
        EventKind.FLUID_CHANGE: "fluid change",
        EventKind.FILTER_CHANGE: "filter change",
        EventKind.COMPONENT_FIT: "component fitted",
        EventKind.REPAIR: "repair",
        EventKind.STAND_DOWN: "stand-down",
    }
    if event.kind is EventKind.TOP_UP:
        return "top-up" if event.litres is None else f"top-up of {event.litres:g} L"
    return words[event.kind]


def chance_text(chance: float | None) -> str:
    """A chance as people say it: no false precision at the ends.

    >>> chance_text(0.137), chance_text(0.002), chance_text(0.999), chance_text(None)
    ('14 %', 'less than 1 %', 'more than 99 %', '')
    """
    if chance is None:
        return ""
    percent = 100 * chance
    if percent < 1:
        return "less than 1 %"
    return "more than 99 %" if percent > 99 else f"{percent:.0f} %"  # noqa: PLR2004 - as its words
