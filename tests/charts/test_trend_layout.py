"""Three curves that matter come first, families follow, and all panels are equal."""

import pytest
from PySide6.QtCore import QPointF

from fluiddesk.charts.trend_layout import TrendLayout, arrange, grouped_trends
from fluiddesk.charts.trends import trends_of
from tests.desktop.makers_history import make_history


def layout(width: float) -> TrendLayout:
    return arrange(grouped_trends(trends_of(make_history())), width=width)


def test_that_the_three_curves_that_matter_come_first_by_weight() -> None:
    first = grouped_trends(trends_of(make_history()))[0]
    assert [trend.series.analyte.code for trend in first.trends] == ["iron", "silicon", "oxidation"]


def test_that_the_reasons_for_the_verdict_come_before_any_other_curve() -> None:
    first = grouped_trends(trends_of(make_history()), ["tin", "lead"])[0]
    codes = [trend.series.analyte.code for trend in first.trends]
    assert codes[:3] == ["tin", "lead", "iron"]


def test_that_every_analyte_stands_under_its_family() -> None:
    groups = grouped_trends(trends_of(make_history()))
    assert [group.heading for group in groups] == [
        "",
        "Wear",
        "Contamination",
        "Additive",
        "Fluid condition",
    ]
    told = [trend.series.analyte.code for group in groups[1:] for trend in group.trends]
    assert sorted(told) == sorted(series.analyte.code for series in make_history().series)


def test_that_a_box_with_three_analytes_shows_each_once() -> None:
    history = make_history(samples=3, analytes=("iron", "copper"))
    panels = arrange(grouped_trends(trends_of(history)), width=700).panels
    assert len(panels) == 3


@pytest.mark.parametrize(("width", "columns"), [(200, 1), (704, 3), (1320, 5)])
def test_that_columns_follow_the_width_and_panels_are_equal(width: float, columns: int) -> None:
    made = layout(width)
    assert made.columns == columns
    assert len({(panel.frame.width(), panel.frame.height()) for panel in made.panels}) == 1
    assert all(panel.frame.right() <= width + 0.5 for panel in made.panels)


def test_that_no_panel_covers_another_nor_a_heading() -> None:
    made = layout(704)
    rects = [panel.frame for panel in made.panels] + [row for _, row in made.headings]
    pairs = [(a, b) for i, a in enumerate(rects) for b in rects[i + 1 :]]
    assert not any(a.intersects(b) for a, b in pairs)


def test_that_down_and_up_lead_to_the_panel_below_and_back() -> None:
    made = layout(704)
    below = made.neighbour(1, down=True)
    assert made.panels[below].frame.top() > made.panels[1].frame.bottom()
    assert made.panels[below].frame.left() == made.panels[1].frame.left()
    assert made.neighbour(below, down=False) == 1
    assert made.neighbour(0, down=False) == 0


def test_that_a_point_between_panels_belongs_to_none() -> None:
    made = layout(704)
    frame = made.panels[0].frame
    assert made.panel_at(frame.center()) == 0
    assert made.panel_at(QPointF(frame.right() + 8, frame.center().y())) is None
