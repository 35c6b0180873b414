"""The drawing of a trend: bars from least to greatest, the limits, a line from visit to visit."""

from __future__ import annotations

from shopflow.charts.marks import Sign, Stroke
from shopflow.charts.trend import Trend, layout_trend


def test_a_trend_rises_with_its_values_and_stays_within_its_sheet():
    drawing = layout_trend(
        Trend("Guide bore", "7.00, 7.02 mm", [(7.0, 7.0), (7.01, 7.03)], upper=7.05)
    )
    first, second = [mark for mark in drawing.marks if isinstance(mark, Sign)]
    assert first.at[0] < second.at[0]
    assert first.at[1] > second.at[1]
    (limit,) = [mark for mark in drawing.marks if isinstance(mark, Stroke) and mark.dash]
    assert limit.points[0][1] < second.at[1]
    points = [point for mark in drawing.marks if isinstance(mark, Stroke) for point in mark.points]
    assert all(0 <= x <= drawing.width and 0 <= y <= drawing.height for x, y in points)


def test_values_all_alike_lie_in_the_middle():
    drawing = layout_trend(Trend("Deck cut", "0, 0 mm", [(0.0, 0.0), (0.0, 0.0)]))
    signs = [mark for mark in drawing.marks if isinstance(mark, Sign)]
    assert {mark.at[1] for mark in signs} == {drawing.height / 2}
