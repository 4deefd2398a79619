"""The reasons for and against the verdict, in plain words, the weightiest first."""

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np

from fluiddesk.domain.fleet import EventKind
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.compartment_history.facts import (
    AnalyteSeries,
    Argument,
    EventFacts,
    ReasonFacts,
    SampleFacts,
)
from fluiddesk.services.compartment_history.forecast_facts import HoursLeft
from fluiddesk.services.compartment_history.wear_facts import AnalyteWear, TrueWear

YOUNG_FILL_HOURS: Final = 50.0
"""A younger fill has had no time to show wear (common practice, no source)."""
_MUCH_MORE: Final = 1.5
_ABOUT_THE_SAME: Final = 1.15
_LIKELY_GROWTH: Final = 0.5
_MOST: Final = 8


def arguments(
    *,
    severity: Severity,
    samples: Sequence[SampleFacts],
    series: Sequence[AnalyteSeries],
    reasons: Sequence[ReasonFacts],
    events: Sequence[EventFacts],
    wear: TrueWear,
    left: HoursLeft,
) -> tuple[Argument, ...]:
    """What speaks for the box being as bad as judged, and what against it."""
    if not samples:
        return ()
    by_code = {one.analyte.code: one for one in series}
    metals = {one.analyte.code: one for one in wear.metals}
    speak_for = [f"{one.title}: {one.text}" for one in reasons]
    against = list(_doubts(samples, events))
    for code, metal in metals.items():
        if code in by_code:
            more, less = _of_metal(
                metal, is_reason=any(one.rule.analyte == code for one in reasons)
            )
            speak_for += more
            against += less
    for one in series:
        if one.analyte.code in {reason.rule.analyte for reason in reasons}:
            against += list(_of_value(one))
    speak_for += [
        f"{one.analyte.name} rises faster and faster within this fill "
        f"(chance {100 * one.chance_of_growth:.0f} %)"
        for one in left.clocks
        if one.chance_of_growth > _LIKELY_GROWTH
    ]
    if severity is Severity.NORMAL and not speak_for:
        against = []
    return (
        *(Argument(is_for=True, text=text) for text in speak_for[:_MOST]),
        *(Argument(is_for=False, text=text) for text in against[:_MOST]),
    )


def _doubts(samples: Sequence[SampleFacts], events: Sequence[EventFacts]) -> Iterator[str]:
    """What weakens the last sample as a whole."""
    last = samples[-1]
    if last.trust is not Trust.GOOD:
        yield f"The sample is {last.trust.word.lower()}: {last.trust_reason}"
    if last.fluid_hours < YOUNG_FILL_HOURS:
        yield (
            f"The fluid had run {last.fluid_hours:.0f} h only: a change takes the metal away, "
            "not the fault"
        )
    changed = [
        one
        for one in events
        if one.kind is EventKind.FLUID_CHANGE and one.happened_on >= last.taken_on
    ]
    if changed:
        yield f"The fluid was changed on {changed[-1].happened_on}, after this sample"
    guessed = [one for one in events if one.is_inferred]
    if guessed:
        yield f"{len(guessed)} of the events were worked out from results, nobody recorded them"


def _of_metal(metal: AnalyteWear, *, is_reason: bool) -> tuple[list[str], list[str]]:
    """What true wear says of one metal: for, against."""
    speak_for: list[str] = []
    against: list[str] = []
    name, last = metal.analyte.name, metal.fills[-1] if metal.fills else None
    if last is None or not last.has_rate or last.is_bound:
        return speak_for, against
    sisters = metal.sisters_ppm_per_100_h
    if sisters and last.ppm_low > _MUCH_MORE * sisters:
        speak_for.append(
            f"{name} is made at {last.ppm_per_100_h:.3g} mg/kg per 100 h, "
            f"like boxes make {sisters:.3g}"
        )
    if is_reason and sisters and last.ppm_high < _ABOUT_THE_SAME * sisters:
        against.append(f"{name} is made no faster than in like boxes ({sisters:.3g} per 100 h)")
    chart, within = metal.chart, metal.analyte.name_in_text
    if chart is not None and chart.fills[-1] == last.fill:
        if chart.is_step[-1] and chart.rates[-1] > chart.centre:
            speak_for.append(f"The rate of {within} stepped outside what this box usually does")
        elif chart.is_drift[-1] and chart.average[-1] > chart.centre:
            speak_for.append(f"The rate of {within} has crept up over the last fills")
    if metal.reads_low_by is not None:
        speak_for.append(
            f"{name} reads low by {100 * metal.reads_low_by:.0f} %: lost oil takes metal away"
        )
    return speak_for, against


def _of_value(one: AnalyteSeries) -> Iterator[str]:
    """What weakens one value that fired."""
    if not len(one.changes) or Sign(int(one.signs[-1])) > Sign.ABOVE:
        return
    change = float(one.changes[-1])
    if np.isfinite(change) and change != 0 and not bool(one.is_large_change[-1]):
        yield (
            f"{one.analyte.name} moved by {one.analyte.text(abs(change))} {one.analyte.unit} "
            "since the sample before, which two laboratories may differ by"
        )
    other = one.other_side
    if other is not None:
        told = np.flatnonzero(other.signs == Sign.PLAIN)
        if len(told) and float(other.values[told[-1]]) >= float(one.values[-1]):
            yield f"{one.analyte.name} stands no lower in the {other.name.lower()}"
