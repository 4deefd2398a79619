"""Made-up histories of one box, with everything the compartment page has to show."""

from collections.abc import Sequence
from datetime import date, timedelta
from functools import cache

import numpy as np

from fluiddesk.charts.axes import Axis, AxisFrame
from fluiddesk.charts.limit_bands import bounds_of
from fluiddesk.charts.trends import Trend
from fluiddesk.domain.analytes import Analyte
from fluiddesk.domain.fleet import Certainty, EventKind
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.limits.fired import FiredRule
from fluiddesk.domain.limits.limit_set import LimitKind
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.sampling.due import DueState
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.catalogue import Catalogue, load_catalogue
from fluiddesk.services.compartment_history.facts import (
    AnalyteSeries,
    CompartmentHistory,
    DueFacts,
    EventFacts,
    LimitBand,
    ReasonFacts,
    SampleFacts,
)

BOX = CompartmentId(bytes(16))
FIRST_DAY = date(2024, 1, 8)
TODAY = date(2026, 11, 20)
EVERY_HOURS = 250.0
FILL_HOURS = 500.0

# Analyte -> base, growth per fill hour, noise, Watch, Act, Urgent (rising), new fluid.
ENGINE = {
    "iron": (8.0, 0.06, 2.0, 60, 90, 150, 1.0),
    "chromium": (1.0, 0.004, 0.6, 6, 10, 20, 0.0),
    "aluminium": (2.0, 0.01, 0.8, 15, 25, 40, 1.0),
    "copper": (3.0, 0.012, 1.0, 30, 50, 80, 0.0),
    "lead": (1.0, 0.006, 0.8, 20, 35, 60, 0.0),
    "tin": (0.5, 0.0, 0.1, 8, 14, 25, 0.0),
    "silver": (0.2, 0.0, 0.1, 2, 4, 8, 0.0),
    "silicon": (6.0, 0.012, 1.2, 20, 30, 50, 4.0),
    "sodium": (4.0, 0.01, 1.0, 30, 60, 120, 2.0),
    "potassium": (1.0, 0.004, 0.4, 10, 20, 40, 0.0),
    "water": (200.0, 0.2, 80.0, 1000, 2000, 5000, 100.0),
    "fuel": (0.6, 0.001, 0.3, 2.5, 4.0, 6.0, 0.0),
    "soot": (0.1, 0.003, 0.1, 2.0, 3.0, 5.0, 0.0),
    "particles_4um": (52_000.0, 90.0, 18_000.0, 160_000, 320_000, 640_000, 20_000.0),
    "iso4406_4um": (20.0, 0.003, 0.6, 24, 25, 27, 18.0),
    "boron": (60.0, -0.02, 3.0, None, None, None, 64.0),
    "calcium": (2900.0, -0.3, 60.0, None, None, None, 2950.0),
    "zinc": (1180.0, -0.1, 30.0, None, None, None, 1200.0),
    "phosphorus": (1010.0, -0.1, 25.0, None, None, None, 1040.0),
    "viscosity_100c": (14.6, -0.0008, 0.15, 16.3, 17.5, None, 14.8),
    "base_number_d2896": (9.8, -0.006, 0.2, None, None, None, 10.2),
    "oxidation": (3.0, 0.02, 0.8, 18.0, 25.0, 35.0, 0.0),
    "nitration": (2.0, 0.014, 0.6, 18.0, 25.0, 35.0, 0.0),
    "sulfation": (3.0, 0.02, 0.7, 20.0, 28.0, 38.0, 0.0),
    "ferrous_index": (12.0, 0.02, 3.0, 60, 100, 200, None),
}
FALLING = {
    "base_number_d2896": (6.0, 5.0, 3.0),
    "viscosity_100c": (13.3, 12.6, None),
    "calcium": (2200.0, 1800.0, None),
    "zinc": (900.0, 750.0, None),
}


@cache
def catalogue() -> Catalogue:
    """The program's own catalogue."""
    return load_catalogue()


def make_history(
    *,
    samples: int = 40,
    fault: bool = True,
    analytes: Sequence[str] = tuple(ENGINE),
    all_below: bool = False,
    seed: int = 7,
    trust_marks: bool = True,
    knows_hours: bool = True,
) -> CompartmentHistory:
    """A diesel engine's history: dust and wear rise over the last samples where ``fault``."""
    noise = np.random.default_rng(seed)
    index = np.arange(samples)
    hours = 4_180.0 + index * EVERY_HOURS + np.round(noise.normal(0, 12, samples))
    if not knows_hours:
        hours[:] = np.nan
    fills = (index * EVERY_HOURS // FILL_HOURS).astype(int)
    fluid_hours = np.where(index % 2 == 0, 240.0, 490.0)
    trust = np.zeros(samples, dtype=np.int8)
    if trust_marks and samples > 12:
        trust[samples // 3] = Trust.SUSPECT
        trust[samples // 2] = Trust.REJECTED
    series = [
        _series(code, noise=noise, fluid_hours=fluid_hours, fault=fault, all_below=all_below)
        for code in analytes
    ]
    series += [_crackle(samples)] if samples and not all_below else []
    worst = np.full(samples, Severity.NO_VERDICT, dtype=np.int8)
    for one in series:
        worst = np.maximum(worst, one.severity)
    facts = tuple(
        _sample(i, hours=hours, fluid_hours=fluid_hours, fills=fills, worst=worst, trust=trust)
        for i in range(samples)
    )
    reasons = _reasons(series) if samples else ()
    last = Severity(int(worst[-1])) if samples else Severity.NO_VERDICT
    return CompartmentHistory(
        compartment=BOX,
        site="Grey Ridge quarry",
        machine="EX-104",
        machine_kind="36 t excavator",
        model="36 t excavator, series 2",
        box="Engine",
        fluid="Engine oil 15W-40",
        capacity_l=38.0,
        severity=last,
        trust=Trust.GOOD,
        sentence=_sentence(reasons, samples),
        changed_since=(
            "Iron 48 to 84, silicon 14 to 29 mg/kg; oxidation, soot and fuel as before."
            if samples > 1
            else ""
        ),
        due=_due(samples),
        samples=facts,
        series=tuple(series),
        events=_events(hours),
        reasons=reasons,
        limit_set="1 Starter limits",
    )


def _sentence(reasons: tuple[ReasonFacts, ...], samples: int) -> str:
    if not samples:
        return "No verdict: no sample has been reported for this box"
    if not reasons:
        return "Normal: no limit fired on the sample of 2026-09-14"
    titles = [reason.rule.analyte.replace("_", " ") for reason in reasons]
    return f"{reasons[0].rule.severity.word}: {' and '.join(titles[:2])} past their limits"


def _due(samples: int) -> DueFacts:
    if not samples:
        return DueFacts(
            state=DueState.NEVER_SAMPLED,
            due_on=None,
            window=None,
            hours_left=None,
            by_hours=False,
            interval="250 h or 90 days",
        )
    return DueFacts(
        state=DueState.NOT_YET,
        due_on=date(2026, 12, 2),
        window=(date(2026, 11, 29), date(2026, 12, 5)),
        hours_left=132.0,
        by_hours=True,
        interval="250 h or 90 days",
    )


def _sample(
    i: int,
    *,
    hours: np.ndarray,
    fluid_hours: np.ndarray,
    fills: np.ndarray,
    worst: np.ndarray,
    trust: np.ndarray,
) -> SampleFacts:
    mark = Trust(int(trust[i]))
    reason = {Trust.SUSPECT: "Drawn cold, after the machine had stood", Trust.GOOD: ""}
    return SampleFacts(
        sample_id=bytes([0] * 14) + i.to_bytes(2, "big"),
        bottle_code=f"GR4{i:03d}K",
        taken_on=FIRST_DAY + timedelta(days=25 * i),
        hours=float(hours[i]),
        fluid_hours=float(fluid_hours[i]),
        fill=int(fills[i]),
        severity=Severity(int(worst[i])),
        trust=mark,
        trust_reason=reason.get(mark, "Bottle belongs to another machine"),
        laboratory="Valley laboratory",
        report_number=f"R-{61_200 + 17 * i}",
        issue=1,
        draw_method="valve_probe",
    )


def _series(
    code: str, *, noise: np.random.Generator, fluid_hours: np.ndarray, fault: bool, all_below: bool
) -> AnalyteSeries:
    analyte: Analyte = catalogue().analytes[code]
    base, growth, spread, watch, act, urgent, new = ENGINE[code]
    n = len(fluid_hours)
    values: np.ndarray = base + growth * fluid_hours + noise.normal(0, spread, n)
    if fault and code in ("iron", "silicon") and n:
        ramp = np.clip(np.arange(n) - (n - 6), 0, None)
        values += ramp * (9.5 if code == "iron" else 2.6)
    values = np.round(np.clip(values, 0, None), analyte.decimals)
    signs = np.zeros(n, dtype=np.uint8)
    if analyte.decimals == 0 and analyte.unit == "mg/kg" and code != "water":
        low = (values < 1) | all_below
        values[low], signs[low] = 1.0, Sign.BELOW
    elif all_below:
        values[:], signs[:] = max(base, 1.0), Sign.BELOW
    if code == "soot" and n > 8:
        values[n - 8], signs[n - 8] = 3.5, Sign.ABOVE
    if code == "fuel" and n > 10:
        signs[5:9], values[5:9] = Sign.NOT_TESTED, np.nan
    bands = _bands(code, watch, act, urgent)
    return AnalyteSeries(
        analyte=analyte,
        values=values,
        signs=signs,
        severity=_judge(values, signs, bands),
        printed=tuple(
            _printed(analyte, v, s) for v, s in zip(values.tolist(), signs.tolist(), strict=True)
        ),
        bands=bands,
        reference=new,
        weight={"iron": 9.0, "silicon": 7.0, "oxidation": 3.0}.get(code, 0.0) if fault else 0.1,
    )


def _printed(analyte: Analyte, value: float, sign: int) -> str:
    before = {Sign.BELOW: "<", Sign.ABOVE: ">"}.get(Sign(sign), "")
    return "" if np.isnan(value) else f"{before}{analyte.text(value)} {analyte.unit}"


def _bands(
    code: str, watch: float | None, act: float | None, urgent: float | None
) -> tuple[LimitBand, ...]:
    found = []
    if watch is not None:
        found.append(_band("up", watch, act, urgent))
    if code in FALLING:
        found.append(_band("down", *FALLING[code]))
    return tuple(found)


def _band(
    direction: str, watch: float | None, act: float | None, urgent: float | None
) -> LimitBand:
    steps = zip(("Watch", "Act", "Urgent"), (watch, act, urgent), strict=True)
    told = ", ".join(f"{word} {bound:g}" for word, bound in steps if bound is not None)
    return LimitBand(
        direction=direction,
        watch=watch,
        act=act,
        urgent=urgent,
        kind=LimitKind.LEVEL,
        text=f"level {direction}: {told}",
        source="common practice, no source",
        set_by="starter set",
    )


def _judge(values: np.ndarray, signs: np.ndarray, bands: tuple[LimitBand, ...]) -> np.ndarray:
    severity = np.full(len(values), -1, dtype=np.int8)
    for band in bands:
        turn = 1 if band.direction == "up" else -1
        severity = np.maximum(severity, np.where(np.isnan(values), -1, 0).astype(np.int8))
        for step, bound in enumerate((band.watch, band.act, band.urgent), start=1):
            if bound is not None:
                past = (turn * values >= turn * bound) & (signs != Sign.BELOW)
                severity = np.where(past, np.int8(step), severity).astype(np.int8)
    return severity


def _crackle(samples: int) -> AnalyteSeries:
    signs = np.full(samples, Sign.ABSENT, dtype=np.uint8)
    values = np.zeros(samples)
    if samples > 6:
        signs[-4], values[-4] = Sign.PRESENT, 1.0
    severity = np.where(signs == Sign.PRESENT, 1, 0).astype(np.int8)
    return AnalyteSeries(
        analyte=catalogue().analytes["water_crackle"],
        values=values,
        signs=signs,
        severity=severity,
        printed=tuple("present" if sign == Sign.PRESENT else "absent" for sign in signs),
        bands=(),
        reference=None,
        weight=0.0,
    )


def _reasons(series: Sequence[AnalyteSeries]) -> tuple[ReasonFacts, ...]:
    found = []
    for one in series:
        if one.severity[-1] < Severity.WATCH or not one.bands:
            continue
        band, severity = one.bands[0], Severity(int(one.severity[-1]))
        bound = {1: band.watch, 2: band.act, 3: band.urgent}[int(severity)]
        assert bound is not None
        value = float(one.values[-1])
        found.append(
            ReasonFacts(
                rule=FiredRule(
                    analyte=one.analyte.code,
                    kind=LimitKind.LEVEL,
                    direction=band.direction,
                    severity=severity,
                    sign=Sign(int(one.signs[-1])),
                    value=value,
                    reference=None,
                    compared=value,
                    bound=bound,
                    scope="engine",
                    source=band.source,
                    set_by=band.set_by,
                ),
                title=f"{one.analyte.name} above the {severity.word} limit",
                text=(f"{one.analyte.text(value)} {one.analyte.unit}, limit {bound:g}"),
            )
        )
    return tuple(sorted(found, key=lambda reason: -int(reason.rule.severity)))


def _events(hours: np.ndarray) -> tuple[EventFacts, ...]:
    if not len(hours):
        return ()
    found = []
    for i in range(1, len(hours), 2):
        kind = EventKind.FLUID_CHANGE
        certainty = Certainty.INFERRED if i % 10 == 5 else Certainty.RECORDED
        found.append(_event(kind, i, hours[i] + 5.0, litres=38.0, certainty=certainty))
        if i % 6 == 1:
            found.append(_event(EventKind.TOP_UP, i, hours[i] - 120.0, litres=4.0))
    if len(hours) > 9:
        found.append(_event(EventKind.FILTER_CHANGE, 8, hours[8] + 60.0, litres=None))
        found.append(_event(EventKind.REPAIR, 9, hours[9] + 30.0, litres=None))
    return tuple(sorted(found, key=lambda event: event.happened_on))


def _event(
    kind: EventKind,
    i: int,
    hours: float,
    *,
    litres: float | None,
    certainty: Certainty = Certainty.RECORDED,
) -> EventFacts:
    return EventFacts(
        kind=kind,
        happened_on=FIRST_DAY + timedelta(days=25 * i + 1),
        hours=float(hours),
        litres=litres,
        fluid="Engine oil 15W-40" if litres else "",
        certainty=certainty,
        note="Injector pipe replaced" if kind is EventKind.REPAIR else "",
    )


def make_band(
    direction: str, watch: float | None, act: float | None, urgent: float | None
) -> LimitBand:
    """A level limit of the starter set."""
    return _band(direction, watch, act, urgent)


def make_event(
    kind: EventKind, *, hours: float | None, certainty: Certainty = Certainty.RECORDED
) -> EventFacts:
    """One event on a fixed day."""
    return EventFacts(
        kind=kind,
        happened_on=FIRST_DAY,
        hours=hours,
        litres=None,
        fluid="",
        certainty=certainty,
        note="",
    )


def make_trend(
    values: Sequence[float],
    *,
    code: str = "iron",
    signs: Sequence[int] | None = None,
    fills: Sequence[int] | None = None,
    hours: Sequence[float] | None = None,
    trust: Sequence[int] | None = None,
    up: tuple[float | None, float | None, float | None] | None = None,
    down: tuple[float | None, float | None, float | None] | None = None,
) -> Trend:
    """One analyte of a box, 250 hours between samples, all of one fill unless told otherwise."""
    n = len(values)
    bands = tuple(
        _band(direction, *steps)
        for direction, steps in (("up", up), ("down", down))
        if steps is not None
    )
    sign_column = np.array(signs or [0] * n, dtype=np.uint8)
    value_column = np.array(values, dtype=np.float64)
    series = AnalyteSeries(
        analyte=catalogue().analytes[code],
        values=value_column,
        signs=sign_column,
        severity=_judge(value_column, sign_column, bands),
        printed=("",) * n,
        bands=bands,
        reference=None,
        weight=0.0,
    )
    frame = AxisFrame(
        axis=Axis.HOURS,
        x=np.array(hours if hours is not None else [250.0 * i for i in range(n)]),
        fills=np.array(fills or [0] * n, dtype=np.int32),
        trust=np.array(trust or [0] * n, dtype=np.int8),
    )
    return Trend(series=series, frame=frame, bounds=bounds_of(bands))
