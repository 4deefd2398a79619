"""Contrast and colour-blind separation of the palette.

Contrast: WCAG 2.2, definitions "relative luminance" and "contrast ratio"; 4.5:1 for text (success
criterion 1.4.3), 3:1 for marks (1.4.11). Red and green blindness: the matrices for full severity of
Machado, Oliveira and Fernandes 2009 (from memory). Colour distance: CIE 1976 L*a*b*, D65. The
distance asked for is common practice, no source: it is the house's own rule.
"""

import itertools

import numpy as np
import pytest

from fluiddesk.charts.palette import DARK, LIGHT, Palette
from fluiddesk.domain.severity import Severity

LEAST_DISTANCE = 20.0

PALETTES = pytest.mark.parametrize("colors", [LIGHT, DARK], ids=lambda colors: colors.name)

SIGHT = {
    "full": np.eye(3),
    "protanopia": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deuteranopia": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
}


def linear(color: str) -> np.ndarray:
    """Linear red, green and blue of "#RRGGBB" (IEC 61966-2-1)."""
    share = np.array([int(color[start : start + 2], 16) for start in (1, 3, 5)]) / 255
    return np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)


def contrast(one: str, other: str) -> float:
    weights = np.array([0.2126, 0.7152, 0.0722])
    low, high = sorted(float(linear(color) @ weights) for color in (one, other))
    return (high + 0.05) / (low + 0.05)


def lab(rgb: np.ndarray) -> np.ndarray:
    to_xyz = np.array(
        [
            [0.4124564, 0.3575761, 0.1804375],
            [0.2126729, 0.7151522, 0.0721750],
            [0.0193339, 0.1191920, 0.9503041],
        ]
    )
    white = np.array([0.95047, 1.0, 1.08883])
    share = to_xyz @ np.clip(rgb, 0, 1) / white
    bent = np.where(share > 216 / 24389, np.cbrt(share), (24389 / 27 * share + 16) / 116)
    return np.array([116 * bent[1] - 16, 500 * (bent[0] - bent[1]), 200 * (bent[1] - bent[2])])


def distance(one: str, other: str, sight: np.ndarray) -> float:
    return float(np.linalg.norm(lab(sight @ linear(one)) - lab(sight @ linear(other))))


def test_that_the_contrast_of_black_and_white_is_that_of_the_standard() -> None:
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21.0)  # WCAG 2.2: from 1 to 21
    assert contrast("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.005)  # from memory


def test_that_white_has_the_lightness_one_hundred_and_no_tint() -> None:
    assert lab(linear("#FFFFFF")) == pytest.approx([100, 0, 0], abs=0.02)
    # Pure red under D65: L* 53.24, a* 80.09, b* 67.20 (from memory).
    assert lab(linear("#FF0000")) == pytest.approx([53.24, 80.09, 67.20], abs=0.02)


@PALETTES
def test_that_grey_stays_grey_for_every_sight(colors: Palette) -> None:
    del colors
    for sight in SIGHT.values():
        assert sight @ np.ones(3) == pytest.approx(np.ones(3), abs=1e-5)


@PALETTES
@pytest.mark.parametrize("severity", list(Severity))
def test_that_every_mark_stands_out_from_each_ground_it_is_drawn_on(
    colors: Palette, severity: Severity
) -> None:
    grounds = [colors.ground, colors.raised, colors.accent_ground]
    grounds += [colors.tint[severity]] if severity in colors.tint else []
    for ground in grounds:
        assert contrast(colors.severity[severity], ground) >= 3.0, (severity, ground)


@PALETTES
def test_that_every_text_can_be_read_on_each_ground(colors: Palette) -> None:
    grounds = [colors.ground, colors.raised, colors.accent_ground, *colors.tint.values()]
    for ink, ground in itertools.product((colors.ink, colors.faint_ink), grounds):
        assert contrast(ink, ground) >= 4.5, (ink, ground)


@PALETTES
def test_that_the_accent_can_be_read_where_buttons_write_with_it(colors: Palette) -> None:
    for ground in (colors.ground, colors.raised, colors.accent_ground):
        assert contrast(colors.accent, ground) >= 4.5, ground


@PALETTES
@pytest.mark.parametrize("sight", list(SIGHT))
def test_that_severities_are_told_apart_by_every_sight(colors: Palette, sight: str) -> None:
    inks = colors.severity
    for one, other in itertools.combinations(Severity, 2):
        apart = distance(inks[one], inks[other], SIGHT[sight])
        assert apart >= LEAST_DISTANCE, (one.word, other.word, round(apart, 1))


@PALETTES
def test_that_only_act_and_urgent_tint_the_ground(colors: Palette) -> None:
    assert set(colors.tint) == {Severity.ACT, Severity.URGENT}
