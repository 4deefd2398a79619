"""Engines played with known wear: fills, samples, top-ups as logged, and when a limit is reached.

The set-up, common practice without a source: the rate of a box is log-normal about 12 mg/kg per
100 h with a spread of 0.4; from fill to fill it varies by 15 %; metal comes in lumps of eight hours
(gamma process); the laboratory errs by the reproducibility of iron / 2.77 and rounds to whole
numbers; litres are logged within 15 %; the residue is taken as 0.12 while it is 0.05 to 0.20.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.wear.fill import Fill, Spread
from fluiddesk.domain.wear.rate_band import RateBand, rate_band

FloatArray = NDArray[np.float64]

VOLUME_L, DENSITY, FRESH = 40.0, 0.87, 1.0
FILL_HOURS = 250.0
RESIDUE, RESIDUE_SD, LOSS_SD = 0.12, 0.04, 0.15
CONSUMPTION = (0.0, 0.0002, 0.0006, 0.0015)
"""Share of the sump lost and made up per hour: 0 to 0.15 %."""
MIDDLE_PPM_PER_H, BETWEEN_SD, FILL_SD, LUMP = 0.12, 0.4, 0.15, 8.0
STEP_HOURS = 2.0


def laboratory_sd(level: FloatArray) -> FloatArray:
    """Reproducibility of iron, 0.52 X^0.8 (ASTM D5185, from memory, unconfirmed), over 2.77."""
    return 0.52 * np.maximum(level, 1.0) ** 0.8 / 2.77


def seen_sd(level: FloatArray) -> FloatArray:
    """What the program takes as the error of a printed value: the laboratory's, and rounding."""
    return np.hypot(laboratory_sd(level), 1 / 12**0.5)


@dataclass(frozen=True, kw_only=True)
class Engines:
    """n engines: true rate (mg/kg per hour), loss, residue; the loss as logged."""

    rate: FloatArray
    loss: FloatArray
    residue: FloatArray
    logged_loss: FloatArray


def engines(rng: np.random.Generator, size: int, loss: FloatArray | float) -> Engines:
    lost = np.broadcast_to(np.asarray(loss, dtype=np.float64), (size,))
    return Engines(
        rate=MIDDLE_PPM_PER_H * np.exp(rng.normal(0.0, BETWEEN_SD, size)),
        loss=lost,
        residue=rng.uniform(0.05, 0.20, size),
        logged_loss=lost * (1.0 + rng.normal(0.0, LOSS_SD, size)).clip(0.0),
    )


def run(
    rng: np.random.Generator,
    level: FloatArray,
    rate: FloatArray,
    loss: FloatArray,
    hours: float,
    lump: float = LUMP,
    doubling: FloatArray | float = np.inf,
) -> tuple[FloatArray, FloatArray]:
    """The true level at the end of each step of two hours (steps + 1, n), and all metal made.

    ``doubling``: hours in which the rate doubles, as in a fault that grows.
    """
    steps = round(hours / STEP_HOURS)
    path = np.empty((steps + 1, len(level)))
    path[0] = level
    kept = np.exp(-loss * STEP_HOURS)
    total = np.zeros(len(level))
    for step in range(steps):
        grown = np.minimum(2.0 ** (step * STEP_HOURS / doubling), 1e3)
        made = rng.gamma(STEP_HOURS / lump, lump * rate * grown)
        total += made
        path[step + 1] = (path[step] + made) * kept + loss * STEP_HOURS * FRESH
    return path, total


def measured(rng: np.random.Generator, level: FloatArray) -> FloatArray:
    printed: FloatArray = np.maximum(np.round(level + rng.normal(0.0, laboratory_sd(level))), 0.0)
    return printed


@dataclass(frozen=True, kw_only=True)
class Past:
    """Past fills of n engines, mg/kg per 100 h (n, p): worked out, plain readings, truly made."""

    band: RateBand[FloatArray]
    naive: FloatArray
    start_only: FloatArray
    true: FloatArray
    last_level: FloatArray
    last_seen: FloatArray


def past_fills(rng: np.random.Generator, known: Engines, *, fills: int, lump: float = LUMP) -> Past:
    """Play so many fills, the first one before them to have something left at the change."""
    size = len(known.rate)
    level = np.full(size, FRESH)
    ends, trues = [], []
    seen = np.empty((fills + 1, size))
    for place in range(fills + 1):
        rate = known.rate * np.exp(rng.normal(0.0, FILL_SD, size))
        start = known.residue * level + (1 - known.residue) * FRESH
        path, made = run(rng, start, rate, known.loss, FILL_HOURS, lump)
        level = path[-1]
        seen[place] = measured(rng, level)
        ends.append(level)
        trues.append(made / FILL_HOURS)
    end, before = seen[1:].ravel(), seen[:-1].ravel()
    loss = np.tile(known.logged_loss, fills)
    fill = Fill(
        end=end,
        before=before,
        residue_share=RESIDUE,
        hours=FILL_HOURS,
        volume_l=VOLUME_L,
        density_kg_l=DENSITY,
        fresh=FRESH,
        loss_l_per_h=loss * VOLUME_L,
    )
    spread = Spread(
        end=seen_sd(end),
        before=seen_sd(before),
        residue_share=RESIDUE_SD,
        loss_relative=LOSS_SD,
    )
    band = rate_band(fill, spread)
    start = RESIDUE * before + (1 - RESIDUE) * FRESH
    shape = (fills, size)
    return Past(
        band=RateBand(
            ppm_per_100_h=band.ppm_per_100_h.reshape(shape).T,
            sd=band.sd.reshape(shape).T,
            low=band.low.reshape(shape).T,
            high=band.high.reshape(shape).T,
        ),
        naive=(100 * end / FILL_HOURS).reshape(shape).T,
        start_only=(100 * (end - start) / FILL_HOURS).reshape(shape).T,
        true=100 * np.array(trues[1:]).T,
        last_level=ends[-1],
        last_seen=seen[-1],
    )
