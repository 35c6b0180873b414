"""The drawing of a velocity map: its fields fill the outline, and every reading is told."""

from __future__ import annotations

from itertools import pairwise
from math import pi

import pytest

from shopflow.charts.marks import Area, Sign, Words
from shopflow.charts.velocity_map import (
    STEPS_OF_SCALE,
    Field,
    VelocityMap,
    layout_velocity_map,
)

ARMS, ENDS = 8, (0.2, 0.5, 0.8, 1.0)


def velocity_map(is_rectangle: bool) -> VelocityMap:
    half = pi / ARMS
    fields = [Field((0.0, 2.0 * pi), (0.0, ENDS[0]), (0.0, 0.0), 100.0, "middle: 100")]
    for inner, outer in pairwise(ENDS):
        for arm in range(ARMS):
            turn = 2.0 * pi * arm / ARMS
            value = 90.0 - 10.0 * arm * outer
            words = f"arm {arm}: {value}"
            fields.append(
                Field((turn - half, turn + half), (inner, outer), (0.0, 0.0), value, words)
            )
    return VelocityMap("Map", "To scale", 0.04, 0.03, is_rectangle, "ft/s", fields)


def area_of(corners: tuple[tuple[float, float], ...]) -> float:
    """By Gauss's formula."""
    pairs = zip(corners, (*corners[1:], corners[0]), strict=True)
    return abs(sum(x * other_y - other_x * y for (x, y), (other_x, other_y) in pairs)) / 2.0


@pytest.mark.source("Gauss's area formula; ellipse pi w h / 4, rectangle w h")
@pytest.mark.parametrize("is_rectangle", [False, True])
@pytest.mark.parametrize("width", [262.0, 560.0])
def test_the_fields_fill_the_outline(is_rectangle: bool, width: float) -> None:
    drawing = layout_velocity_map(velocity_map(is_rectangle), width)
    areas = [mark for mark in drawing.marks if isinstance(mark, Area)]
    fields = areas[: 1 + 3 * ARMS]
    scale = min((width - 24.0) / 0.04, 0.7 * width / 0.03)
    whole = 0.04 * 0.03 * scale**2 * (1.0 if is_rectangle else pi / 4.0)
    assert sum(area_of(mark.corners) for mark in fields) == pytest.approx(whole, rel=0.03)
    assert len(areas) == len(fields) + STEPS_OF_SCALE


@pytest.mark.parametrize("width", [262.0, 560.0])
def test_every_reading_is_told_and_nothing_lies_outside(width: float) -> None:
    content = velocity_map(is_rectangle=False)
    drawing = layout_velocity_map(content, width)
    told = [mark.reading.words for mark in drawing.marks if isinstance(mark, Sign) and mark.reading]
    assert told == [field.words for field in content.fields]
    for mark in drawing.marks:
        if isinstance(mark, Sign | Words):
            assert 0.0 <= mark.at[0] <= width
            assert 0.0 <= mark.at[1] <= drawing.height
