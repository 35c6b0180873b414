"""A seat in section: to scale, its labels apart, readable on a phone and without colour."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from shopflow.calc.seat_cuts import Cut, Fit
from shopflow.calc.seats import cut_seat
from shopflow.charts import svg
from shopflow.charts.marks import Area, Drawing, Stroke, Words
from shopflow.charts.seat_section import layout_seat
from shopflow.documents.seat import SeatCutRow, SeatSheet
from shopflow.papers.seat_section import section
from shopflow.units import SI

PHONE = 300.0
"""Points that a drawing is wide: no more than the px that a phone of 360 px leaves it."""

NARROW = ((15, 0.4), (30, 0.3), (45, 0.8), (55, 0.2), (65, 0.2), (75, 0.3), (85, 0.4))
"""Cuts far narrower on the drawing than their labels are high."""


def drawn(cuts: tuple[tuple[float, float], ...], width: float = PHONE) -> Drawing:
    """A seat of these angles and widths in mm under a valve of 32 mm."""
    seat = cut_seat(
        [
            Cut(math.radians(angle), 1e-3 * size, 31e-3 if angle == 45 else None, None, angle == 45)
            for angle, size in cuts
        ],
        Fit(32e-3, 1.2e-3),
    )
    rows = tuple(
        SeatCutRow(f"{angle}°", f"{size} mm", "", "", "", "", is_contact=angle == 45)
        for angle, size in cuts
    )
    facts = (("Valve head diameter", "32.00 mm"),)
    return layout_seat(section(SeatSheet("Intake", rows, facts, seat), SI), width)


def surface(drawing: Drawing) -> Stroke:
    """The line of the cut metal: the one of class "curve" with the most points."""
    curves = [mark for mark in drawing.marks if isinstance(mark, Stroke) and mark.part == "curve"]
    return max(curves, key=lambda mark: len(mark.points))


@pytest.mark.source("Slopes by hand: tan 30°, tan 45° and tan 60° of the drawn lines")
def test_the_drawing_is_to_scale() -> None:
    line = surface(drawn(((30, 1.0), (45, 1.5), (60, 2.0))))
    faces = list(pairwise(line.points))[::2]
    slopes = [(deep - top) / (outer - inner) for (outer, top), (inner, deep) in faces]
    assert slopes == pytest.approx([1 / math.sqrt(3), 1.0, math.sqrt(3)], rel=1e-9)
    lengths = [math.dist(*face) for face in faces]
    assert [length / lengths[0] for length in lengths] == pytest.approx([1.0, 1.5, 2.0], rel=1e-9)


@pytest.mark.parametrize("cuts", [NARROW, ((45, 2.0),), ((30, 0.8), (45, 1.2), (60, 4.0))])
def test_labels_lie_apart_and_within_the_drawing(cuts: tuple[tuple[float, float], ...]) -> None:
    drawing = drawn(cuts)
    words = [mark for mark in drawing.marks if isinstance(mark, Words)]
    labels = [mark for mark in words if mark.text.endswith(("°", "seat"))]
    assert len(labels) == len(cuts)
    below = [next(word for word in words if word.at[0] == label.at[0] and word.at[1] > label.at[1])
             for label in labels]  # fmt: skip
    for (_, width), (label, _) in pairwise(zip(labels, below, strict=True)):
        assert label.at[1] - label.size >= width.at[1] - 1e-9
    assert all(0 <= mark.at[0] < drawing.width for mark in words)
    assert all(mark.at[1] <= drawing.height for mark in words)


def test_each_cut_has_a_leader_from_its_face_to_its_label() -> None:
    drawing = drawn(NARROW)
    leaders = [m for m in drawing.marks if isinstance(m, Stroke) and m.part == "leader"]
    assert len(leaders) == len(NARROW)
    ends = [leader.points[-1][1] for leader in leaders]
    starts = [leader.points[0][1] for leader in leaders]
    assert starts == sorted(starts)
    assert ends == sorted(ends)


def test_letters_are_as_large_on_a_phone_as_elsewhere() -> None:
    sizes = {mark.size for mark in drawn(NARROW).marks if isinstance(mark, Words)}
    assert min(sizes) >= 12.0


def test_the_contact_is_told_by_its_thickness_and_metal_by_its_filling() -> None:
    marks = drawn(((30, 1.0), (45, 1.5), (60, 2.0))).marks
    strokes = [mark for mark in marks if isinstance(mark, Stroke)]
    assert max(stroke.width for stroke in strokes) > 3 * surface(drawn(NARROW)).width
    assert {mark.colour for mark in marks if isinstance(mark, Area)} == {"#d3d9e0", "#ffffff"}


def test_the_description_carries_the_data() -> None:
    text = svg.render(drawn(((30, 1.0), (45, 1.5))), "seat")
    assert "From the chamber to the throat: 30° cut, 1.0 mm wide" in text
    assert "45° seat, 1.5 mm wide" in text
    assert "valve head diameter: 32.00 mm" in text.lower()
