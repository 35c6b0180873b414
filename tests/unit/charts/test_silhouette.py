"""A port's silhouette: to scale, its ends named, before and after told without colour."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from shopflow.charts import svg
from shopflow.charts.marks import Area, Drawing, Sign, Stroke, Words
from shopflow.charts.silhouette import layout_silhouette
from shopflow.documents import AlongPort, PortSurvey, SectionPoint
from shopflow.papers.silhouette import caption, silhouette
from shopflow.units import SI, US_CUSTOMARY
from tests.optional import present

DISTANCES = (0.012, 0.025, 0.060, 0.0605)
WIDTHS = (0.044, 0.040, 0.046, 0.046)


def port(*, has_width: bool = True, datum: str = "valve seat", count: int = 4) -> AlongPort:
    """A port before and after; its areas are those of circles of its widths."""
    surveys = []
    for when, more in (("before", 0.0), ("after", 0.002)):
        points = tuple(
            SectionPoint(
                at, math.pi / 4 * (wide + more) ** 2, 1.0, None, None, None,
                width=wide + more if has_width else None,
            )
            for at, wide in list(zip(DISTANCES, WIDTHS, strict=True))[:count]
        )  # fmt: skip
        surveys.append(PortSurvey(when, points, None, 1e-3))
    return AlongPort("intake", "2", datum, datum == "valve seat", tuple(surveys))


def drawn(along: AlongPort, width: float = 560.0) -> Drawing:
    return layout_silhouette(present(silhouette(along, SI)), width)


def walls(drawing: Drawing) -> list[Stroke]:
    """The walls: upper and lower of each line."""
    return [mark for mark in drawing.marks if isinstance(mark, Stroke) and mark.part == "curve"
            and len(mark.points) == 4]  # fmt: skip


@pytest.mark.parametrize("has_width", [True, False])
@pytest.mark.source("Lengths by hand: one scale along and across")
def test_the_silhouette_is_to_scale(has_width: bool) -> None:
    drawing = drawn(port(has_width=has_width))
    upper, lower, *before = walls(drawing)
    scale = (upper.points[1][0] - upper.points[0][0]) / 13.0
    across = [low[1] - high[1] for high, low in zip(upper.points, lower.points, strict=True)]
    assert across == pytest.approx([scale * (1e3 * wide + 2.0) for wide in WIDTHS], rel=1e-9)
    assert all(line.dash for line in before)
    assert not upper.dash
    grounds = [mark for mark in drawing.marks if isinstance(mark, Area)]
    assert len(grounds) == 1


def test_marks_tell_before_from_after_and_say_each_width() -> None:
    signs = [mark for mark in drawn(port()).marks if isinstance(mark, Sign) and mark.reading]
    words = {present(sign.reading).words: sign.filled for sign in signs}
    assert len(words) == 8
    assert words["before the work: 44.00 mm wide, 12.00 mm from the valve seat"] is False
    assert words["after the work: 46.00 mm wide, 12.00 mm from the valve seat"] is True


@pytest.mark.parametrize("width", [310.0, 560.0])
def test_words_lie_within_the_drawing_and_apart(width: float) -> None:
    drawing = drawn(port(), width)
    below = [mark for mark in drawing.marks if isinstance(mark, Words) and mark.anchor == "middle"]
    assert [mark.text for mark in below] == ["12", "25", "60", "Distance from the valve seat, mm"]
    assert all(second.at[0] - first.at[0] > 14 for first, second in pairwise(below[:3]))
    text = svg.render(drawing, "silhouette")
    assert "Valve seat" in text
    assert "Toward the port flange" in text


def test_the_seat_is_at_the_left_whatever_the_distances_are_from() -> None:
    by_seat, by_flange = drawn(port()), drawn(port(datum="port flange"))
    assert walls(by_seat)[0].points[0][0] < walls(by_seat)[0].points[-1][0]
    assert walls(by_flange)[0].points[0][0] > walls(by_flange)[0].points[-1][0]
    words = [mark.text for mark in by_flange.marks if isinstance(mark, Words)]
    assert {"Toward the valve seat", "Port flange"} <= set(words)


def test_areas_alone_are_drawn_as_circles_and_one_section_not_at_all() -> None:
    assert "by areas" in caption(port(has_width=False))
    assert "width" in caption(port())
    assert silhouette(port(count=1), US_CUSTOMARY) is None
