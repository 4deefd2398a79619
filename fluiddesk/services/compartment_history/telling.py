"""A compartment's history as rows for scripts, with the same figures as the page."""

from typing import Any

import numpy as np

from fluiddesk.domain.samples import Sign
from fluiddesk.domain.severity import Severity
from fluiddesk.services.compartment_history.facts import CompartmentHistory


def sample_rows(history: CompartmentHistory) -> list[dict[str, Any]]:
    """One row a sample, oldest first, each with its readings."""
    return [
        {
            "sampled_on": sample.taken_on,
            "bottle": sample.bottle_code,
            "hours": _number(sample.hours),
            "fluid_hours": _number(sample.fluid_hours),
            "fill": sample.fill,
            "severity": sample.severity.word,
            "trust": sample.trust.word,
            "trust_reason": sample.trust_reason,
            "laboratory": sample.laboratory,
            "report": sample.report_number,
            "issue": sample.issue,
            "readings": _reading_rows(history, index),
        }
        for index, sample in enumerate(history.samples)
    ]


def _reading_rows(history: CompartmentHistory, index: int) -> list[dict[str, Any]]:
    return [
        {
            "analyte": series.analyte.code,
            "symbol": series.analyte.symbol,
            "sign": Sign(int(series.signs[index])).name.lower(),
            "value": _number(float(series.values[index])),
            "unit": series.analyte.unit,
            "shown": series.shown(index),
            "printed": series.printed[index],
            "severity": Severity(int(series.severity[index])).word,
        }
        for series in history.series
        if series.signs[index] != Sign.NOT_TESTED
    ]


def event_rows(history: CompartmentHistory) -> list[dict[str, Any]]:
    """One row an event, oldest first."""
    return [
        {
            "kind": event.kind.value,
            "happened_on": event.happened_on,
            "hours": event.hours,
            "litres": event.litres,
            "fluid": event.fluid,
            "certainty": event.certainty.value,
            "note": event.note,
        }
        for event in history.events
    ]


def _number(value: float) -> float | None:
    return None if np.isnan(value) else float(value)
