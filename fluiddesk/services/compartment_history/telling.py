"""A compartment's history as rows for scripts, with the same figures as the page."""

from typing import Any

import numpy as np

from fluiddesk.domain.samples import Sign
from fluiddesk.domain.severity import Severity
from fluiddesk.services.compartment_history.facts import CompartmentHistory
from fluiddesk.services.compartment_history.forecast_facts import BaseNumberFacts


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
            "id": event.event_id.hex(),
            "place_hours": event.place_hours,
        }
        for event in history.events
    ]


def due_row(history: CompartmentHistory) -> dict[str, Any]:
    """When the next sample is due, and the next planned fluid change; null where none is known."""
    due, change = history.due, history.due.next_change
    return {
        "state": due.state.word,
        "due_on": due.due_on,
        "window": list(due.window) if due.window else None,
        "hours_left": due.hours_left,
        "basis": due.interval,
        "next_fluid_change": None
        if change is None
        else {
            "planned_on": change.planned_on,
            "at_hours": change.at_hours,
            "hours_left": change.hours_left,
            "sample_window_from": change.window_from,
            "is_sampled": change.is_sampled,
        },
    }


def hours_left_row(history: CompartmentHistory) -> dict[str, Any]:
    """The hours left as the page tells them: three numbers, or all three null and a ``why``."""
    left = history.hours_left
    return {
        "p10": left.p10,
        "p50": left.p50,
        "p90": left.p90,
        "on10": left.on10,
        "on50": left.on50,
        "on90": left.on90,
        "analyte": left.analyte.code if left.analyte else None,
        "severity": left.severity.word if left.analyte else None,
        "bound": left.bound,
        "chance_before_due": left.chance_before_due,
        "counted_from": left.counted_from_on,
        "hours_since": left.hours_since,
        "in_sight": left.is_in_sight,
        "enough": left.is_enough,
        "why": left.why,
        "missing": list(left.missing),
        "sentence": left.sentence,
        "clocks": [
            {
                "analyte": one.analyte.code,
                "severity": one.severity.word,
                "bound": one.bound,
                "p10": one.p10,
                "p50": one.p50,
                "p90": one.p90,
                "chance_before_due": one.chance_before_due,
                "why": one.why,
            }
            for one in left.clocks
        ],
        "base_number": _base_number(left.base_number),
        "score": left.score.sentence if left.score else "",
    }


def _base_number(clock: BaseNumberFacts | None) -> dict[str, Any] | None:
    if clock is None:
        return None
    return {
        "value": clock.value,
        "limit": clock.limit,
        "limit_text": clock.limit_text,
        "used_per_1000_h": clock.used_per_1000_h,
        "hours_left": _number(clock.hours_left),
        "straight_line_hours_left": _number(clock.straight_line_hours_left),
        "ends_on": clock.ends_on,
    }


def wear_rows(history: CompartmentHistory) -> list[dict[str, Any]]:
    """One row a wear metal: its rate now, each fill, grams since the component was fitted."""
    return [
        {
            "analyte": metal.analyte.code,
            "ppm_per_100_h": _number(metal.now_ppm_per_100_h),
            "ppm_low": _number(metal.now_ppm_low),
            "ppm_high": _number(metal.now_ppm_high),
            "mg_per_hour": _number(metal.now_mg_per_hour),
            "like_boxes_ppm_per_100_h": metal.sisters_ppm_per_100_h,
            "reads_low_by": metal.reads_low_by,
            "grams": _number(float(metal.cumulative.grams[-1])) if metal.cumulative else None,
            "grams_low": _number(float(metal.cumulative.low[-1])) if metal.cumulative else None,
            "grams_high": _number(float(metal.cumulative.high[-1])) if metal.cumulative else None,
            "grams_since": metal.cumulative.since if metal.cumulative else None,
            "fills": [
                {
                    "fill": fill.fill,
                    "from_hours": _number(fill.from_hours),
                    "to_hours": _number(fill.to_hours),
                    "ppm_per_100_h": _number(fill.ppm_per_100_h),
                    "ppm_low": _number(fill.ppm_low),
                    "ppm_high": _number(fill.ppm_high),
                    "mg_per_hour": _number(fill.mg_per_hour),
                    "at_most": fill.is_bound,
                    "why": fill.why,
                }
                for fill in metal.fills
            ],
            "sentence": metal.sentence,
        }
        for metal in history.wear.metals
    ]


def _number(value: float) -> float | None:
    """A number, or null where there is none: JSON knows neither NaN nor infinity."""
    return float(value) if np.isfinite(value) else None
