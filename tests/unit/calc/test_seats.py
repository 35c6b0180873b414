"""Seat cuts: right triangles by hand, and SciPy's solver, search and hull as the reference."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.linalg import solve
from scipy.optimize import minimize_scalar
from scipy.spatial import ConvexHull

from shopflow.calc.seat_cuts import Cut, Fit, suggested_contact
from shopflow.calc.seat_faults import SeatError, SeatFault, Slip
from shopflow.calc.seat_outline import outline, valve_outline
from shopflow.calc.seats import Seat, cut_seat, tangent_length
from tests.optional import present


def mm(value: float | None) -> float:
    return 1e3 * present(value)


def cut(angle: float, width: float | None = None, outer: float | None = None, **rest: Any) -> Cut:
    """A cut in degrees and mm, the contact where it is of 45 degrees."""
    width, outer, radius = (
        None if size is None else 1e-3 * size for size in (width, outer, rest.get("radius"))
    )
    return Cut(math.radians(angle), width, outer, radius, rest.get("contact", angle == 45))


def fit(**sizes: float) -> Fit:
    return Fit(**{name: 1e-3 * size for name, size in sizes.items()})


def slips(cuts: Sequence[Cut], valve: Fit | None = None) -> list[tuple[Slip, int | None]]:
    with pytest.raises(SeatError) as caught:
        cut_seat(cuts, valve)
    return [(fault.slip, fault.cut) for fault in caught.value.faults]


@pytest.mark.source(
    "Right triangles by hand: sines and cosines of 30, 45 and 60 degrees, √3 and √2"
)
def test_a_three_angle_seat_from_widths_and_one_diameter() -> None:
    """cos 30 = √3/2, cos 45 = sin 45 = √2/2, sin 30 = cos 60 = 1/2."""
    seat = cut_seat([cut(30, 1.0), cut(45, 1.5, 43.0), cut(60, 2.0)])
    top, contact, bottom = seat.faces
    assert mm(top.outer_diameter) == pytest.approx(43.0 + math.sqrt(3), abs=1e-12)
    assert mm(contact.inner_diameter) == pytest.approx(43.0 - 1.5 * math.sqrt(2), abs=1e-12)
    assert mm(bottom.inner_diameter) == pytest.approx(41.0 - 1.5 * math.sqrt(2), abs=1e-12)
    assert mm(top.depth) == pytest.approx(0.5, abs=1e-12)
    for side in (contact.depth, contact.radial_width):
        assert mm(side) == pytest.approx(0.75 * math.sqrt(2), abs=1e-12)
    assert mm(bottom.depth) == pytest.approx(math.sqrt(3), abs=1e-12)
    assert mm(seat.depth) == pytest.approx(0.5 + 0.75 * math.sqrt(2) + math.sqrt(3), abs=1e-12)


@pytest.mark.source("Right triangles by hand: a face of 60 degrees is twice its radial width")
def test_widths_from_outer_diameters() -> None:
    seat = cut_seat(
        [cut(30, None, 46.0), cut(45, None, 44.0), cut(60, None, 42.0)], fit(throat_diameter=40.0)
    )
    assert [mm(face.width) for face in seat.faces] == pytest.approx(
        [2 / math.sqrt(3), math.sqrt(2), 2.0], abs=1e-12
    )


@pytest.mark.source("Right triangle by hand: contact 1.5 mm inside a 45 degree valve of 44 mm")
def test_the_contact_on_the_valve() -> None:
    """0.75 mm along the radius is 0.75 √2 down the face and 0.75 along the axis."""
    seat = cut_seat([cut(45, math.sqrt(2), 42.5)], fit(head_diameter=44.0, margin=1.2))
    assert mm(seat.contact_position) == pytest.approx(0.75 * math.sqrt(2), abs=1e-12)
    assert mm(seat.contact_depth) == pytest.approx(1.95, abs=1e-12)
    assert mm(seat.contact_mean_diameter) == pytest.approx(41.5, abs=1e-12)
    assert seat.throat_ratio == pytest.approx(40.5 / 44.0)
    assert seat.is_inside_valve


def test_the_contact_can_be_stated_by_its_position_on_the_valve() -> None:
    stated = cut_seat([cut(45, 1.5)], fit(head_diameter=44.0, contact_position=0.5))
    by_diameter = cut_seat([cut(45, 1.5, 44.0 - math.sqrt(0.5))], fit(head_diameter=44.0))
    assert mm(stated.contact.outer_diameter) == pytest.approx(44.0 - math.sqrt(0.5), abs=1e-12)
    assert mm(by_diameter.contact_position) == pytest.approx(0.5, abs=1e-12)


@pytest.mark.source("SciPy linalg.solve: the diameters as the unknowns of linear equations")
@given(
    angles=st.lists(st.floats(5, 85), min_size=1, max_size=6, unique_by=lambda one: round(one)),
    widths=st.lists(st.floats(0.2, 3.0), min_size=6, max_size=6),
    anchor=st.integers(0, 5),
)
def test_diameters_are_those_of_linear_equations(
    angles: list[float], widths: list[float], anchor: int
) -> None:
    ordered, count = sorted(angles), len(angles)
    anchor %= count
    rows, right = np.zeros((count + 1, count + 1)), np.zeros(count + 1)
    for index, angle in enumerate(ordered):
        rows[index, index], rows[index, index + 1] = 1.0, -1.0
        right[index] = 2 * widths[index] * math.cos(math.radians(angle))
    rows[count, anchor], right[count] = 1.0, 80.0
    seat = cut_seat(
        [
            cut(angle, widths[index], 80.0 if index == anchor else None, contact=index == 0)
            for index, angle in enumerate(ordered)
        ]
    )
    edges = [seat.faces[0].outer_diameter, *(face.inner_diameter for face in seat.faces)]
    assert 1e3 * np.array(edges) == pytest.approx(solve(rows, right), rel=1e-12)


RADII = [cut(30, 1.0, radius=1.0), cut(45, 1.5, 43.0, radius=0.8), cut(60, 2.0, radius=2.5)]


@pytest.mark.source("Geometry: a radius is as far from both faces, by SciPy's minimize_scalar")
def test_a_blend_touches_both_faces() -> None:
    """The arc's centre, found here by search, is its radius away from either face."""
    seat = cut_seat([cut(45, 3.0, 43.0, radius=2.0), cut(75, 3.0, contact=False)])
    first, second = (math.radians(angle) for angle in (45, 75))
    edge = np.array([seat.faces[1].outer_diameter / 2, seat.faces[1].top]) * 1e3
    faces = [np.array([-math.cos(angle), math.sin(angle)]) for angle in (first, second)]
    into_metal = (faces[1] - faces[0]) / np.linalg.norm(faces[1] - faces[0])

    def distance(centre: NDArray[np.float64], face: NDArray[np.float64]) -> float:
        away = centre - edge
        return abs(float(away[0] * face[1] - away[1] * face[0]))

    search = minimize_scalar(
        lambda length: abs(distance(edge + length * into_metal, faces[0]) - 2.0),
        bounds=(0.0, 20.0), method="bounded", options={"xatol": 1e-12},
    )  # fmt: skip
    centre = edge + search.x * into_metal
    arc = 1e3 * np.array(outline(seat)[1:-2])
    np.testing.assert_allclose(np.linalg.norm(arc - centre, axis=1), 2.0, atol=1e-6)
    assert distance(centre, faces[1]) == pytest.approx(2.0, abs=1e-6)
    touch = np.linalg.norm(arc[0] - edge)
    assert mm(tangent_length(2e-3, math.radians(30))) == pytest.approx(float(touch), abs=1e-9)


@pytest.mark.source("Geometry: cuts that steepen bound convex metal, by SciPy's ConvexHull")
def test_the_outline_is_convex_with_its_radii() -> None:
    points = 1e3 * np.array(outline(cut_seat(RADII)))
    corner = [[points[0][0], points[-1][1]]]
    hull = ConvexHull(np.unique(np.concatenate([points, corner]).round(9), axis=0))
    assert len(hull.vertices) == len(hull.points)
    assert (np.diff(points[:, 1]) >= -1e-12).all()


def test_radii_take_from_the_contact() -> None:
    plain, rounded = cut_seat([cut(45, 1.5, 43.0), cut(60, 2.0)]), cut_seat(RADII[1:])
    in_use = 0.8 * math.tan(math.radians(7.5))
    assert mm(rounded.contact.flat_width) == pytest.approx(1.5 - in_use, abs=1e-12)
    smaller = mm(plain.contact_mean_diameter) + in_use * math.cos(math.radians(45))
    assert mm(rounded.contact_mean_diameter) == pytest.approx(smaller, abs=1e-12)


def test_the_valve_lies_on_the_contact() -> None:
    seat = cut_seat([cut(30, 1.0), cut(45, 1.5, 43.0)], fit(head_diameter=44.0, margin=1.5))
    inner, edge, rim, _ = (1e3 * np.array(point) for point in valve_outline(seat, 20e-3))
    contact = 1e3 * np.array([seat.contact.outer_diameter / 2, seat.contact.top])
    slope, to_contact = edge - inner, contact - inner
    across = slope[0] * to_contact[1] - slope[1] * to_contact[0]
    assert across == pytest.approx(0.0, abs=1e-9)
    assert (edge[0], edge[1] - rim[1]) == pytest.approx((22.0, 1.5))
    assert valve_outline(cut_seat([cut(45, 1.5, 43.0)]), 20e-3) == []


def test_a_cylinder_under_the_seat_keeps_its_diameter() -> None:
    seat = cut_seat([cut(45, 1.5, 43.0), cut(90, 3.0)])
    throat = seat.faces[1]
    assert throat.inner_diameter == throat.outer_diameter == seat.throat_diameter
    assert (mm(throat.depth), mm(throat.radial_width)) == pytest.approx((3.0, 0.0))


IMPOSSIBLE: dict[str, tuple[list[Cut], Fit | None, list[tuple[Slip, int | None]]]] = {
    "flat": ([cut(0, 1.0, 44.0, contact=True)], None, [(Slip.ANGLE, 0)]),
    "past a right angle": ([cut(91, 1.0, 44.0, contact=True)], None, [(Slip.ANGLE, 0)]),
    "flatter below": ([cut(45, 1.0, 44.0), cut(30, 1.0)], None, [(Slip.NOT_STEEPER, 1)]),
    "as steep below": (
        [cut(45, 1.0, 44.0), cut(45, 1.0, contact=False)], None, [(Slip.NOT_STEEPER, 1)]
    ),
    "no contact": ([cut(30, 1.0, 44.0)], None, [(Slip.NO_CONTACT, None)]),
    "cylinder as contact": (
        [cut(90, 1.0, 44.0, contact=True)], None, [(Slip.CONTACT_IS_CYLINDER, 0)]
    ),
    "no diameter": ([cut(30, 1.0), cut(45, 1.5)], None, [(Slip.NO_DIAMETER, 1)]),
    "no width above": ([cut(30), cut(45, 1.5, 43.0)], None, [(Slip.NO_SIZE, 0)]),
    "no width below": ([cut(45, 1.5, 43.0), cut(60)], None, [(Slip.NO_THROAT, 1)]),
    "no height": ([cut(45, 1.5, 43.0), cut(90)], None, [(Slip.NO_WIDTH, 1)]),
    "past the axis": ([cut(45, 40.0, 43.0)], None, [(Slip.PAST_AXIS, 0)]),
    "next begins further out": (
        [cut(45, None, 43.0), cut(60, 1.0, 44.0)], None, [(Slip.ORDER, 0)]
    ),
    "overlap": ([cut(45, 2.0, 43.0), cut(60, 1.0, 41.0)], None, [(Slip.OVERLAP, 0)]),
    "gap": ([cut(45, 1.0, 43.0), cut(60, 1.0, 41.0)], None, [(Slip.GAP, 0)]),
    "position": (
        [cut(45, 1.0, 43.0)], fit(head_diameter=44.0, contact_position=0.2), [(Slip.POSITION, None)]
    ),
    "radius": ([cut(45, 1.0, 43.0, radius=10.0), cut(60, 4.0)], None, [(Slip.BLEND, 0)]),
    "radius of the cut before": (
        [cut(45, 4.0, 43.0, radius=10.0), cut(60, 1.0)], None, [(Slip.BLEND, 0)]
    ),
    "throat": ([cut(45, 1.0, 43.0)], fit(throat_diameter=42.5), [(Slip.THROAT, None)]),
}  # fmt: skip


@pytest.mark.parametrize(("cuts", "valve", "reasons"), IMPOSSIBLE.values(), ids=IMPOSSIBLE.keys())
def test_impossible_lists(
    cuts: list[Cut], valve: Fit | None, reasons: list[tuple[Slip, int | None]]
) -> None:
    assert slips(cuts, valve) == reasons


def test_a_fault_carries_its_lengths() -> None:
    with pytest.raises(SeatError) as caught:
        cut_seat([cut(45, 2.0, 43.0), cut(60, 1.0, 41.0)])
    (fault,) = caught.value.faults
    assert [mm(length) for length in fault.lengths] == pytest.approx([43 - 2 * math.sqrt(2), 41])
    assert fault == SeatFault(Slip.OVERLAP, 0, fault.lengths)


def test_a_stated_diameter_within_the_tolerance_agrees_with_the_width() -> None:
    exact = 43.0 - 2.0 * math.cos(math.radians(45))
    near = cut_seat([cut(45, 1.0, 43.0), cut(60, 1.0, round(exact, 1))])
    assert mm(near.faces[1].outer_diameter) == pytest.approx(41.6)
    assert slips([cut(45, 1.0, 43.0), cut(60, 1.0, exact + 0.06)]) == [(Slip.OVERLAP, 0)]


def test_a_seat_outside_the_valve_is_told() -> None:
    def on(diameter: float) -> Seat:
        return cut_seat([cut(45, 1.0, 44.0)], fit(head_diameter=diameter))

    assert on(44.0).is_inside_valve
    assert not on(43.8).is_inside_valve


@pytest.mark.source("common practice, no source: most seats are near 45 degrees")
def test_the_contact_suggested() -> None:
    assert suggested_contact([math.radians(angle) for angle in (30, 39, 55, 70)]) == 1
