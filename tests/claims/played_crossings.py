"""Present fills with one to three samples, the forecast of each, and when the limit was reached."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.trends.first_passage import (
    AHEAD,
    HORIZON_HOURS,
    foretell,
    quantiles,
)
from fluiddesk.domain.trends.outlook import LUMP_HOURS, Watched
from fluiddesk.domain.trends.prior import FillRates, Group, group_of, stacked
from tests.claims.played_fills import (
    CONSUMPTION,
    FILL_SD,
    FRESH,
    LUMP,
    RESIDUE,
    RESIDUE_SD,
    STEP_HOURS,
    Engines,
    Past,
    engines,
    measured,
    past_fills,
    run,
    seen_sd,
)

FloatArray = NDArray[np.float64]
LIMIT = 80.0
PAST_FILLS, SISTERS = 5, 60


@dataclass(frozen=True, kw_only=True)
class Present:
    """The fill in the box: samples at hours since the change (n, 3), NaN where not drawn.

    ``reached`` is hours from the last sample until the true level reached the limit; infinite
    where it did not in the hours looked at.
    """

    at: FloatArray
    values: FloatArray
    last_at: FloatArray
    reached: FloatArray


def present(
    rng: np.random.Generator,
    known: Engines,
    past: Past,
    *,
    lump: float = LUMP,
    has_fault: bool = False,
) -> Present:
    """``has_fault``: wear grows from the change on, doubling in 40 to 300 h."""
    size = len(known.rate)
    rate = known.rate * np.exp(rng.normal(0.0, FILL_SD, size))
    doubling = rng.uniform(40.0, 300.0, size) if has_fault else np.inf
    start = known.residue * past.last_level + (1 - known.residue) * FRESH
    path, _ = run(rng, start, rate, known.loss, HORIZON_HOURS + 500.0, lump, doubling)
    count = rng.integers(1, 4, size)
    at = np.cumsum(rng.uniform(60.0, 150.0, (size, 3)), axis=1)
    at = np.round(at / STEP_HOURS) * STEP_HOURS
    at = np.where(np.arange(3)[None, :] < count[:, None], at, np.nan)
    place = np.where(np.isnan(at), 0, at / STEP_HOURS).astype(np.int64)
    level = path[place, np.arange(size)[:, None]]
    values = np.where(np.isnan(at), np.nan, measured(rng, level))
    last_at = np.nanmax(at, axis=1)
    hours = np.arange(len(path)) * STEP_HOURS
    crossed = (path >= LIMIT) & (hours[:, None] >= 0)
    first = np.where(crossed.any(axis=0), hours[np.argmax(crossed, axis=0)], np.inf)
    return Present(at=at, values=values, last_at=last_at, reached=first - last_at)


def watched(known: Engines, past: Past, now: Present) -> Watched:
    size = len(now.at)
    start = RESIDUE * past.last_seen + (1 - RESIDUE) * FRESH
    start_sd = np.hypot(
        RESIDUE * seen_sd(past.last_seen), RESIDUE_SD * np.abs(past.last_seen - FRESH)
    )
    loss = np.repeat(known.logged_loss[:, None], 3, axis=1)
    return Watched(
        start=start,
        start_sd=start_sd,
        step_hours=np.diff(now.at, prepend=0.0, axis=1),
        values=now.values,
        sd=seen_sd(now.values),
        is_bound=np.zeros((size, 3), dtype=bool),
        loss=loss,
        brought=loss * FRESH,
        loss_ahead=known.logged_loss,
        brought_ahead=known.logged_loss * FRESH,
        lump_hours=np.full(size, LUMP_HOURS),
    )


def sisters(rng: np.random.Generator, lump: float) -> Group:
    """The prior that the program finds from like engines, from their worked-out rates."""
    known = engines(rng, SISTERS, rng.choice(CONSUMPTION, SISTERS))
    return group_of(_rates(past_fills(rng, known, fills=PAST_FILLS, lump=lump)), is_signed=False)


def _rates(past: Past) -> FillRates:
    return FillRates(
        rate=past.band.ppm_per_100_h / 100,
        sd=past.band.sd / 100,
        is_bound=np.zeros(past.band.sd.shape, dtype=bool),
    )


def sisters_alone(group: Group, now: Present, known: Engines) -> FloatArray:
    """The chances by like engines' rate and the last value alone, nothing learned of this box."""
    size = len(now.last_at)
    last = np.nanmax(np.where(now.at == now.last_at[:, None], now.values, np.nan), axis=1)
    alone = Watched(
        start=last,
        start_sd=np.full(size, 1e3),
        step_hours=np.zeros((size, 1)),
        values=last[:, None],
        sd=seen_sd(last)[:, None],
        is_bound=np.zeros((size, 1), dtype=bool),
        loss=known.logged_loss[:, None],
        brought=known.logged_loss[:, None] * FRESH,
        loss_ahead=known.logged_loss,
        brought_ahead=known.logged_loss * FRESH,
        lump_hours=np.full(size, LUMP_HOURS),
    )
    none = np.zeros((size, 0))
    past = FillRates(rate=none, sd=none, is_bound=none.astype(bool))
    return foretell(alone, group, past, limit=np.full(size, LIMIT)).chance


def straight_line(past: Past, now: Present) -> FloatArray:
    """Hours by least squares through start and samples; the horizon where it never rises."""
    start = RESIDUE * past.last_seen + (1 - RESIDUE) * FRESH
    x = np.column_stack([np.zeros(len(start)), now.at])
    y = np.column_stack([start, now.values])
    has = np.isfinite(x)
    n = has.sum(axis=1)
    mx = np.where(has, x, 0).sum(axis=1) / n
    my = np.where(has, y, 0).sum(axis=1) / n
    dx, dy = np.where(has, x - mx[:, None], 0), np.where(has, y - my[:, None], 0)
    slope = (dx * dy).sum(axis=1) / (dx * dx).sum(axis=1)
    safe = np.where(slope > 0, slope, 1.0)
    there = mx + (LIMIT - my) / safe - now.last_at
    return np.where(slope > 0, np.clip(there, 0.0, HORIZON_HOURS), HORIZON_HOURS)


@dataclass(frozen=True, kw_only=True)
class Trial:
    """Fills that did reach the limit, with every forecast of them, and those that never did."""

    reached: FloatArray
    chance: FloatArray
    alone: FloatArray
    line: FloatArray
    never: FloatArray
    """Chances of the fills that never reached it."""

    def bands(self) -> list[FloatArray]:
        return quantiles(self.chance)


def trial(*, seed: int, crossings: int, lump: float = LUMP, has_fault: bool = False) -> Trial:
    """Play fills until so many have reached the limit; a fill past it at a sample is left out."""
    rng = np.random.default_rng(seed)
    group = sisters(rng, lump)
    parts: list[tuple[FloatArray, ...]] = []
    never = []
    found = 0
    while found < crossings:
        size = min(1000, crossings)
        known = engines(rng, size, rng.choice(CONSUMPTION, size))
        past = past_fills(rng, known, fills=PAST_FILLS, lump=lump)
        now = present(rng, known, past, lump=lump, has_fault=has_fault)
        whole = stacked([group] * size)
        chance = foretell(
            watched(known, past, now), whole, _rates(past), limit=np.full(size, LIMIT)
        ).chance
        open_ = now.reached > 0
        did = open_ & np.isfinite(now.reached) & (now.reached <= HORIZON_HOURS)
        alone = sisters_alone(whole, now, known)
        line = straight_line(past, now)
        parts.append((now.reached[did], chance[did], alone[did], line[did]))
        never.append(chance[open_ & ~did])
        found += int(did.sum())
    reached, chances, others, lines = (
        np.concatenate([part[place] for part in parts])[:crossings] for place in range(4)
    )
    return Trial(
        reached=reached, chance=chances, alone=others, line=lines, never=np.concatenate(never)
    )


def crps(chance: FloatArray, reached: FloatArray) -> FloatArray:
    """Continuous ranked probability score in hours, by the trapezoidal rule on a fine grid."""
    fine = np.linspace(0.0, HORIZON_HOURS, 2001)
    scores = np.empty(len(reached))
    for row in range(len(reached)):
        known = np.interp(fine, AHEAD, chance[row])
        scores[row] = np.trapezoid((known - (fine >= reached[row])) ** 2, fine)
    return scores


def line_with_best_band(line: FloatArray, reached: FloatArray) -> float:
    """Mean score of the line, given in hindsight the log-normal band that suits it best."""
    from scipy.special import ndtr

    fine = np.linspace(1.0, HORIZON_HOURS, 1000)
    best = np.inf
    for spread in (0.2, 0.3, 0.4, 0.5, 0.7, 1.0):
        known = ndtr(np.log(fine[None, :] / np.maximum(line, 1.0)[:, None]) / spread)
        away = known - (fine[None, :] >= reached[:, None])
        best = min(best, float(np.trapezoid(away**2, fine, axis=1).mean()))
    return best
