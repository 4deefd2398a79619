from dataclasses import replace

import numpy as np
import pytest

from fluiddesk.desktop.viewstate.limit_ruler import (
    aligned,
    decimals_of,
    ruler,
    ruler_over,
    spread_words,
)
from fluiddesk.domain.limits.limit_set import LimitKind
from fluiddesk.domain.severity import Severity
from fluiddesk.services.limit_rules import LimitLine
from tests.desktop.makers_limits import make_spread
from tests.desktop.makers_results import make_limit, make_limits_shown


def one_line(**changed: object) -> LimitLine:
    return make_limits_shown(make_limit(**changed)).lines[0]


def test_that_bands_start_at_their_bounds_in_true_proportion() -> None:
    drawn = ruler(one_line(watch=60.0, act=100.0, urgent=150.0))
    end = 150.0 * 1.25
    assert [band[0] for band in drawn.bands] == list(Severity)[1:]
    assert [place for place, _ in drawn.ticks] == pytest.approx([60 / end, 100 / end, 150 / end])
    assert [text for _, text in drawn.ticks] == ["60", "100", "150"]


def test_that_bands_leave_no_gap_and_fill_the_line() -> None:
    for direction, bounds in (("up", (1.0, 2.0, 4.0)), ("down", (8.0, 7.5, 7.0))):
        watch, act, urgent = bounds
        drawn = ruler(one_line(direction=direction, watch=watch, act=act, urgent=urgent))
        assert drawn.bands[0][1] == pytest.approx(0)
        assert drawn.bands[-1][2] == pytest.approx(1)
        joints = zip(drawn.bands, drawn.bands[1:], strict=False)
        assert all(left[2] == pytest.approx(right[1]) for left, right in joints)


def test_that_a_falling_limit_has_its_worst_band_at_the_left() -> None:
    drawn = ruler(
        one_line(
            kind=LimitKind.CHANGE_PERCENT, direction="down", watch=-10.0, act=-15.0, urgent=-20.0
        )
    )
    minus = "\N{MINUS SIGN}"
    assert drawn.is_falling
    assert [band[0] for band in drawn.bands] == list(reversed(list(Severity)[1:]))
    assert [text for _, text in drawn.ticks] == [f"{minus}20", f"{minus}15", f"{minus}10"]


def test_that_bounds_far_from_zero_are_drawn_wide_enough_to_tell_apart() -> None:
    drawn = ruler(one_line(watch=18.0, act=19.0, urgent=21.0))
    widths = [end - start for _, start, end in drawn.bands]
    assert min(widths) > 0.1


def test_that_a_missing_bound_leaves_its_band_out() -> None:
    drawn = ruler(one_line(watch=None, act=4.0, urgent=None))
    assert [band[0] for band in drawn.bands] == [Severity.NORMAL, Severity.ACT]


def test_that_a_limit_without_bounds_draws_nothing() -> None:
    assert ruler(one_line(watch=None, act=None, urgent=None, is_off=True)).bands == ()


@pytest.mark.parametrize(("text", "digits"), [("4", 0), ("+1.5", 1), ("0.05", 2), ("", 0)])
def test_that_digits_behind_the_decimal_sign_are_counted(text: str, digits: int) -> None:
    assert decimals_of(text) == digits


def test_that_numbers_are_padded_to_stand_in_line_at_the_decimal_sign() -> None:
    padded = [aligned(text, decimals=2) for text in ("4", "1.5", "0.05", "")]
    assert [text.strip() for text in padded] == ["4", "1.5", "0.05", ""]
    assert [len(text) for text in padded[:3]] == [len("4.00"), len("1.50"), len("0.05")]


# --- over the fleet's own figures ---------------------------------------------------------------


def test_that_bars_and_bands_share_one_line_that_begins_at_nothing() -> None:
    drawn = ruler_over(one_line(), make_spread(most=120.0))
    assert drawn.ends[0] == "0"
    assert not drawn.is_log
    assert drawn.bars[0][0] == 0
    assert drawn.bars[0][2] == 1
    places = {text: place for place, text in drawn.ticks}
    assert places["60"] == pytest.approx(60 / 155.4, abs=0.05)
    # The tallest bars end where the figures end, before the last bound.
    assert drawn.bars[-1][1] < places["150"]


def test_that_figures_over_decades_stand_on_a_logarithmic_line() -> None:
    edges = np.array([0.0, 2.0, 20.0, 200.0, 4000.0])
    spread = replace(make_spread(), edges=edges, counts=np.array([40, 20, 10, 1]))
    drawn = ruler_over(one_line(watch=20.0, act=200.0, urgent=2000.0), spread)
    assert drawn.is_log
    first, second, third = (place for place, _ in drawn.ticks)
    assert second - first == pytest.approx(third - second)


def test_that_a_falling_limit_keeps_its_worst_band_left_over_figures() -> None:
    line = one_line(direction="down", watch=12.0, act=11.0, urgent=10.0)
    drawn = ruler_over(line, replace(make_spread(), edges=np.linspace(8.0, 16.0, 41)))
    assert [severity for severity, _, _ in drawn.bands] == [
        Severity.URGENT,
        Severity.ACT,
        Severity.WATCH,
        Severity.NORMAL,
    ]
    assert [text for _, text in drawn.ticks] == ["10", "11", "12"]


def test_that_without_figures_the_bands_stand_alone() -> None:
    empty = replace(make_spread(), samples=0, edges=np.empty(0), counts=np.empty(0, dtype=np.int64))
    assert ruler_over(one_line(), empty) == ruler(one_line())
    assert spread_words(empty) == "The fleet has no figure for this row yet."


def test_that_the_bars_are_told_in_words() -> None:
    told = spread_words(make_spread())
    assert "samples of 31 machines, 12 below detection" in told
    assert "98 % below" in told
