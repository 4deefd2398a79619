"""Samples of curves as tab-separated text, for a spreadsheet."""

from collections.abc import Sequence

import numpy as np

from fluiddesk.charts.trends import Trend
from fluiddesk.domain.severity import Severity
from fluiddesk.services.compartment_history.facts import SampleFacts


def data_text(trend: Trend, samples: Sequence[SampleFacts]) -> str:
    """One analyte's samples as a table: date, hours, fluid hours, value, severity, bottle."""
    analyte = trend.series.analyte
    head = ("Date", "Hours", "Hours on fluid", "Fill", f"{analyte.name} ({analyte.unit})",
            "Severity", "Trust", "Bottle")  # fmt: skip
    lines = ["\t".join(head)]
    for index, sample in enumerate(samples):
        shown = trend.series.shown(index)
        if shown:
            row = (
                *_sample_cells(sample),
                shown,
                Severity(int(trend.series.severity[index])).word,
                sample.trust.word,
                sample.bottle_code,
            )
            lines.append("\t".join(row))
    return "\n".join(lines)


def all_data_text(trends: Sequence[Trend], samples: Sequence[SampleFacts]) -> str:
    """Every analyte as a column, one sample a line."""
    head = ["Date", "Hours", "Hours on fluid", "Fill", "Verdict", "Trust", "Bottle"]
    head += [f"{one.series.analyte.name} ({one.series.analyte.unit})" for one in trends]
    lines = ["\t".join(head)]
    for index, sample in enumerate(samples):
        row = (
            *_sample_cells(sample),
            sample.severity.word,
            sample.trust.word,
            sample.bottle_code,
            *(one.series.shown(index) for one in trends),
        )
        lines.append("\t".join(row))
    return "\n".join(lines)


def _sample_cells(sample: SampleFacts) -> tuple[str, str, str, str]:
    return (
        sample.taken_on.isoformat(),
        _plain(sample.hours),
        _plain(sample.fluid_hours),
        str(sample.fill),
    )


def _plain(hours: float) -> str:
    return "" if np.isnan(hours) else f"{hours:.0f}"
