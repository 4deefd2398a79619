"""Made-up true wear, hours left, events and arguments for the compartment page."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import numpy as np

from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.compartment_history.facts import (
    AnalyteSeries,
    Argument,
    CompartmentHistory,
    FindingFacts,
    LimitSpan,
    OtherSide,
    SheetFacts,
    SisterBand,
    StartPoint,
)
from fluiddesk.services.compartment_history.forecast_facts import (
    AnalyteClock,
    BaseNumberFacts,
    ForecastScore,
    HoursLeft,
)
from fluiddesk.services.compartment_history.wear_facts import (
    AnalyteWear,
    ControlChartFacts,
    CumulativeFacts,
    FillFacts,
    FillWear,
    TrueWear,
)
from tests.desktop.makers_history import TODAY, catalogue, make_band, make_history

OTHER_BOX = CompartmentId(b"another box 1234")


def make_full_history(
    *, samples: int = 40, fault: bool = True, seed: int = 7
) -> CompartmentHistory:
    """A history with everything the page can show."""
    plain = make_history(samples=samples, fault=fault, seed=seed)
    if not plain.samples:
        return plain
    fills = make_fills(plain)
    return replace(
        plain,
        fill_facts=fills,
        series=tuple(_told_in_full(one, plain, fills) for one in plain.series),
        findings=(
            FindingFacts(
                found_on=plain.samples[len(plain.samples) // 2].taken_on,
                result="confirmed",
                part="air intake hose",
                note="cracked at the clamp",
                place_hours=float(plain.hours[len(plain.samples) // 2]) + 30.0,
            ),
        ),
        arguments=(
            Argument(is_for=True, text="Silicon and aluminium rise together, as dust does."),
            Argument(is_for=True, text="The intake hose was found cracked before."),
            Argument(is_for=False, text="Sodium and potassium are level: no coolant."),
        ),
        wear=make_wear(plain),
        hours_left=make_hours_left(),
        hours_now=float(plain.hours[-1]) + 60.0,
        hours_per_day=9.5,
        samples=(*plain.samples[:-1], replace(plain.samples[-1], revisions=make_revisions())),
    )


def make_revisions() -> tuple[SheetFacts, ...]:
    """Two issues of one report."""
    return (
        SheetFacts(
            sheet_id=b"1",
            laboratory="Valley laboratory",
            report_number="R-61863",
            issue=1,
            received_on=date(2026, 11, 2),
            is_current=False,
            entered_by="file of 2026-11-02",
        ),
        SheetFacts(
            sheet_id=b"2",
            laboratory="Valley laboratory",
            report_number="R-61863",
            issue=2,
            received_on=date(2026, 11, 6),
            is_current=True,
            entered_by="M. Keyer",
            changed=("Iron 32 to 84", "Silicon 14 to 29"),
        ),
    )


def make_fills(history: CompartmentHistory) -> tuple[FillFacts, ...]:
    """One entry a fill, changed five hours after its last sample."""
    found, fills, hours = [], history.fills, history.hours
    for number in dict.fromkeys(fills.tolist()):
        own = np.flatnonzero(fills == number)
        first = history.samples[own[0]]
        begin = float(hours[own[0]] - first.fluid_hours)
        found.append(
            FillFacts(
                number=number,
                starts_on=first.taken_on - timedelta(days=24),
                starts_at_hours=begin,
                ends_at_hours=float(hours[own[-1]]),
                is_inferred=number % 5 == 3,
                samples=(int(own[0]), int(own[-1]) + 1),
                topped_up_l=4.0,
                loss_l_per_100_h=0.8,
            )
        )
    return tuple(found)


def _told_in_full(
    one: AnalyteSeries, history: CompartmentHistory, fills: Sequence[FillFacts]
) -> AnalyteSeries:
    n = len(history.samples)
    starts = [
        StartPoint(
            fill=fill.number,
            on=fill.starts_on,
            hours=fill.starts_at_hours,
            value=float(0.12 * before + 0.88 * (one.reference or 0.0)),
        )
        for fill in fills[1:]
        for before in [one.values[fill.samples[0] - 1]]
        if one.signs[fill.samples[0] - 1] == Sign.PLAIN
    ]
    changes = np.append(np.nan, np.diff(one.values))
    return replace(
        one,
        starts=tuple(starts),
        spans=_spans(one, n),
        references=np.full(n, np.nan if one.reference is None else one.reference),
        changes=changes,
        is_large_change=np.abs(changes) > np.nanmax(np.abs(one.values)) * 0.2,
        sisters=_sisters(one) if not one.analyte.is_presence_test else None,
    )


def _spans(one: AnalyteSeries, n: int) -> tuple[LimitSpan, ...]:
    """For the first third of the samples the limits were half as high again."""
    cut = n // 3
    if not cut or not one.bands:
        return (LimitSpan(first=0, last=n - 1, limit_set="1 Starter limits", bands=one.bands),)

    def looser(bound: float | None, direction: str) -> float | None:
        if bound is None:
            return None
        return round(bound * (1.4 if direction == "up" else 0.9), 2)

    old = tuple(
        make_band(
            band.direction,
            looser(band.watch, band.direction),
            looser(band.act, band.direction),
            looser(band.urgent, band.direction),
        )
        for band in one.bands
    )
    return (
        LimitSpan(first=0, last=cut - 1, limit_set="1 Starter limits", bands=old),
        LimitSpan(first=cut, last=n - 1, limit_set="2 Own limits", bands=one.bands),
    )


def _sisters(one: AnalyteSeries) -> SisterBand:
    at = np.array([0.0, 125.0, 250.0, 375.0, 500.0])
    base = float(np.nanmedian(one.values))
    middle = base * (0.6 + 0.5 * at / 500.0)
    return SisterBand(
        fluid_hours=at,
        low=middle * 0.6,
        middle=middle,
        high=middle * 1.35,
        boxes=14,
        samples=420,
        scope="engines of 36 t excavators",
    )


def with_other_side(history: CompartmentHistory) -> CompartmentHistory:
    """The same box with a twin on the right."""
    n = len(history.samples)
    noise = np.random.default_rng(3)

    def twin(one: AnalyteSeries) -> OtherSide:
        return OtherSide(
            name="Final drive, right",
            hours=history.hours + 2.0,
            fluid_hours=np.array([sample.fluid_hours for sample in history.samples]),
            taken_on=np.array([one.taken_on.toordinal() for one in history.samples], np.int32),
            fill=history.fills,
            values=np.round(one.values * 0.8 * noise.uniform(0.9, 1.1, n), one.analyte.decimals),
            signs=one.signs,
            trust=np.zeros(n, dtype=np.int8),
        )

    return replace(
        history,
        compartment=OTHER_BOX,
        box="Final drive, left",
        series=tuple(replace(one, other_side=twin(one)) for one in history.series),
    )


def make_wear(history: CompartmentHistory, *, fills: int = 12) -> TrueWear:
    """True wear of four metals; the last two fills make more iron."""
    codes = {"iron": 11.2, "chromium": 1.1, "aluminium": 2.4, "copper": 3.1}
    metals = tuple(_metal(code, rate, fills=fills) for code, rate in codes.items())
    return TrueWear(
        metals=metals,
        assumptions=(
            "12 % of the old fluid stays in the box at a change (by its kind).",
            "Losses of 0.8 L per 100 h, from the top-ups of this fill.",
        ),
    )


def _metal(code: str, rate: float, *, fills: int) -> AnalyteWear:
    noise = np.random.default_rng(len(code))
    ppm = rate * noise.uniform(0.85, 1.15, fills)
    if code == "iron":
        ppm[-2:-1] *= 1.7
        ppm[-1:] *= 2.3
    mg = ppm * 38 * 0.87 / 100
    grams = np.cumsum(mg * 0.5)
    told = tuple(
        FillWear(
            fill=i,
            from_hours=4_180.0 + 500 * i,
            to_hours=4_670.0 + 500 * i,
            on=date(2024, 1, 8) + timedelta(days=50 * i),
            ppm_per_100_h=float(ppm[i]),
            ppm_low=float(ppm[i] * 0.84),
            ppm_high=float(ppm[i] * 1.17),
            mg_per_hour=float(mg[i]),
            mg_low=float(mg[i] * 0.84),
            mg_high=float(mg[i] * 1.17),
            grams=float(mg[i] * 0.5),
            naive_ppm_per_100_h=float(ppm[i] * 0.88),
            reads_low_by=0.14 if i > fills - 4 else None,
            is_bound=code == "copper" and i == 2,
            why="",
        )
        for i in range(fills)
    )
    if code == "chromium" and fills > 4:
        nan = float("nan")
        told = (
            *told[:4],
            replace(
                told[4], ppm_per_100_h=nan, ppm_low=nan, ppm_high=nan, mg_per_hour=nan,
                mg_low=nan, mg_high=nan, grams=nan, why="No believed sample of this fill.",
            ),
            *told[5:],
        )  # fmt: skip
    ends = np.array([one.to_hours for one in told])
    return AnalyteWear(
        analyte=catalogue().analytes[code],
        fills=told,
        now_ppm_per_100_h=float(ppm[-1]),
        now_ppm_low=float(ppm[-1] * 0.84),
        now_ppm_high=float(ppm[-1] * 1.16),
        now_mg_per_hour=float(mg[-1]),
        now_mg_low=float(mg[-1] * 0.84),
        now_mg_high=float(mg[-1] * 1.16),
        sisters_ppm_per_100_h=rate * 0.9,
        sisters=14,
        cumulative=CumulativeFacts(
            hours=ends,
            grams=grams,
            low=grams * 0.93,
            high=grams * 1.07,
            since=date(2024, 1, 8),
            serial="E-4471",
            is_partial=code == "copper",
        ),
        chart=_chart(ppm) if fills >= 8 else None,
        no_chart_why="" if fills >= 8 else f"{fills} of the 8 fills a control chart needs.",
        reads_low_by=0.14,
        sentence="Iron is made at 25.8 ppm per 100 h, twice the rate of like machines.",
    )


def _chart(rates: np.ndarray) -> ControlChartFacts:
    centre = float(np.median(rates))
    spread = centre * 0.1
    average = np.zeros(len(rates))
    level = centre
    for i, rate in enumerate(rates):
        level = 0.3 * rate + 0.7 * level
        average[i] = level
    return ControlChartFacts(
        fills=tuple(range(len(rates))),
        rates=rates,
        centre=centre,
        lower=centre - 3 * spread,
        upper=centre + 3 * spread,
        average=average,
        average_lower=np.full(len(rates), centre - 1.2 * spread),
        average_upper=np.full(len(rates), centre + 1.2 * spread),
        is_step=np.abs(rates - centre) > 3 * spread,
        is_drift=np.abs(average - centre) > 1.2 * spread,
    )


def make_hours_left() -> HoursLeft:
    """Iron reaches Act in some 210 hours."""
    analytes = catalogue().analytes
    return HoursLeft(
        p10=118.0,
        p50=214.0,
        p90=386.0,
        on10=TODAY + timedelta(days=12),
        on50=TODAY + timedelta(days=23),
        on90=TODAY + timedelta(days=43),
        analyte=analytes["iron"],
        severity=Severity.ACT,
        bound=90.0,
        chance_before_due=0.14,
        counted_from_on=date(2026, 11, 13),
        hours_since=60.0,
        sentence="Iron reaches Act (90 mg/kg) in 118 to 386 hours, most likely around 214.",
        clocks=(
            AnalyteClock(
                analyte=analytes["iron"], severity=Severity.ACT, bound=90.0,
                p10=118.0, p50=214.0, p90=386.0, chance_before_due=0.13,
            ),
            AnalyteClock(
                analyte=analytes["silicon"], severity=Severity.ACT, bound=30.0,
                p10=190.0, p50=420.0, p90=None, chance_before_due=0.02,
            ),
            AnalyteClock(
                analyte=analytes["copper"], severity=Severity.WATCH, bound=30.0,
                is_in_sight=False, why="No limit in sight: its rate may as well be zero.",
            ),
            AnalyteClock(
                analyte=analytes["fuel"], severity=Severity.WATCH, bound=2.5,
                why="Not enough to say: one believed sample of this fill, two are needed.",
            ),
        ),
        base_number=BaseNumberFacts(
            used_per_1000_h=8.5,
            value=7.4,
            limit=4.0,
            limit_text="Act, 4.0 mg KOH/g",
            hours_left=477.0,
            straight_line_hours_left=425.0,
            ends_on=TODAY + timedelta(days=52),
        ),
        score=ForecastScore(
            scope="iron of engines",
            marked=46,
            crossed=31,
            inside=0.81,
            median_error_hours=-14.0,
            cut_off=9,
            open=6,
            sentence="Of 31 crossings, 25 fell inside the band (81 %; 80 % were promised).",
        ),
    )  # fmt: skip


def no_limit_in_sight() -> HoursLeft:
    """A box that shows no way to a limit."""
    return HoursLeft(
        is_in_sight=False,
        why="No limit in sight: no analyte rises for certain.",
        sentence="No limit in sight: no analyte rises for certain.",
    )


def not_enough() -> HoursLeft:
    """A box with too few samples."""
    return HoursLeft(
        is_enough=False,
        why="Not enough to say: one believed sample since the change.",
        missing=("a second sample of this fill", "a meter reading of the last 30 days"),
        sentence="Not enough to say: one believed sample since the change.",
    )


def rejected(history: CompartmentHistory, index: int) -> CompartmentHistory:
    """The same box with one sample rejected."""
    changed = replace(history.samples[index], trust=Trust.REJECTED, trust_reason="Wrong bottle")
    samples = (*history.samples[:index], changed, *history.samples[index + 1 :])
    return replace(history, samples=samples)
