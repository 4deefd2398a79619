"""What the true wear panel shows, as plain values: rates per fill, grams, control chart."""

from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.analytes import Analyte


@dataclass(frozen=True, slots=True, kw_only=True)
class FillFacts:
    """One charge of fluid and the samples drawn from it.

    Attributes:
        number: as ``SampleFacts.fill``.
        starts_on: day of the change, ``None`` where no change was recorded.
        starts_at_hours: true machine hours of the change; worked out from the first sample's
            hours on the fluid where the change has none; ``None`` where neither is known.
        ends_at_hours: of its last sample.
        is_inferred: the change was worked out from the results, nobody recorded it.
        samples: places in ``CompartmentHistory.samples``, first and one past the last.
        topped_up_l: litres added during the fill, as far as litres were recorded.
        loss_l_per_100_h: those litres per 100 hours; ``None`` where nothing is known.
    """

    number: int
    starts_on: date | None
    starts_at_hours: float | None
    ends_at_hours: float
    is_inferred: bool
    samples: tuple[int, int]
    topped_up_l: float = 0.0
    loss_l_per_100_h: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FillWear:
    """What one fill says of the wear of one metal.

    The rate is that of the whole fill, from its change to its last believed sample. All figures
    are NaN where ``why`` says that nothing can be said of this fill.

    Attributes:
        fill: its number.
        from_hours: true machine hours where the stretch begins.
        to_hours: where it ends.
        on: day of the sample that ends it.
        ppm_per_100_h: metal made, as a rise of the whole fill, with its 80 % band.
        mg_per_hour: metal made, with its 80 % band.
        grams: made in this stretch.
        naive_ppm_per_100_h: value over age, which is what a plain reading would give.
        reads_low_by: share by which losses hide the metal (0.12 = the level would stand 12 %
            higher without losses); ``None`` where they hide little.
        is_bound: the sample was below what the laboratory can see: the rate is at most this.
        why: "", or why nothing can be said.
    """

    fill: int
    from_hours: float
    to_hours: float
    on: date
    ppm_per_100_h: float
    ppm_low: float
    ppm_high: float
    mg_per_hour: float
    mg_low: float
    mg_high: float
    grams: float
    naive_ppm_per_100_h: float
    reads_low_by: float | None = None
    is_bound: bool = False
    why: str = ""

    @property
    def has_rate(self) -> bool:
        """Whether a rate could be worked out."""
        return not np.isnan(self.ppm_per_100_h)


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlChartFacts:
    """Control chart of the rates of the fills, ppm per 100 h; n fills in order.

    ``is_step`` marks fills outside the limits of single values, ``is_drift`` those whose moving
    average lies outside its own.
    """

    fills: tuple[int, ...]
    rates: NDArray[np.float64]
    centre: float
    lower: float
    upper: float
    average: NDArray[np.float64]
    average_lower: NDArray[np.float64]
    average_upper: NDArray[np.float64]
    is_step: NDArray[np.bool_]
    is_drift: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class CumulativeFacts:
    """Grams worn since the component was fitted, at the end of each fill; n points, rising hours.

    ``low`` and ``high`` are the 80 % band. ``since`` is the day and ``serial`` the component they
    count from; the first fill on record where no fitting is known (``is_partial``).
    """

    hours: NDArray[np.float64]
    grams: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    since: date | None
    serial: str = ""
    is_partial: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class AnalyteWear:
    """True wear of one metal of one box.

    Attributes:
        analyte: the metal.
        fills: one entry a fill with a believed sample, oldest first.
        now_ppm_per_100_h: rate of the box now: its fills weighed by age, drawn towards sister
            machines where it has few; NaN where nothing is known. With its 80 % band.
        now_mg_per_hour: the same in mg/h.
        sisters_ppm_per_100_h: middle rate of sister machines, ``None`` with too few.
        sisters: how many boxes stand behind it.
        cumulative: grams since the component was fitted, ``None`` without a rate.
        chart: where 8 or more fills have a rate, else ``None``.
        no_chart_why: what is missing for the chart.
        reads_low_by: of the last fill.
        sentence: the panel's line in plain words.
    """

    analyte: Analyte
    fills: tuple[FillWear, ...]
    now_ppm_per_100_h: float = float("nan")
    now_ppm_low: float = float("nan")
    now_ppm_high: float = float("nan")
    now_mg_per_hour: float = float("nan")
    now_mg_low: float = float("nan")
    now_mg_high: float = float("nan")
    sisters_ppm_per_100_h: float | None = None
    sisters: int = 0
    cumulative: CumulativeFacts | None = None
    chart: ControlChartFacts | None = None
    no_chart_why: str = ""
    reads_low_by: float | None = None
    sentence: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueWear:
    """The true wear panel: one entry a wear metal, the most worth looking at first.

    ``assumptions`` tells in words what was taken for granted (residue, losses, density).
    """

    metals: tuple[AnalyteWear, ...] = ()
    why: str = ""
    assumptions: tuple[str, ...] = ()
