"""A valve's geometry by brute force, and published ranges of its coefficients."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from shopflow.calc.areas import Seat, curtain_area, head_area, least_valve_area, port_area_at_stem

D, W, THROAT, STEM = 44e-3, 1.5e-3, 39e-3, 7e-3
"""A valve's head, its seat's width projected on the radius, throat and stem, m."""

PORT = math.pi / 4 * (THROAT**2 - STEM**2)
# Degrees: L1 and L2 in mm, where one stage gives way to the next, by hand: w / (sin β cos β), and
# where the opening is as large as the throat less the stem.
BOUNDARIES = {45: (3.00000, 10.02791), 39: (3.06702, 9.74258), 30: (3.46410, 9.39393)}
each_boundary = pytest.mark.parametrize(
    ("degrees", "first", "second"), [(angle, *value) for angle, value in BOUNDARIES.items()]
)


def area(degrees: float, lift: float) -> float:
    """Least area at a lift in mm, mm2."""
    beta = math.radians(degrees)
    return (
        float(least_valve_area(D, Seat(STEM, beta, W / math.cos(beta), THROAT), lift / 1e3)) * 1e6
    )


def frustum(r1: float, z1: float, r2: float, z2: float) -> float:
    """Side of a cone's frustum by integrating rings along it, m2."""
    slant = math.hypot(r2 - r1, z2 - z1)
    return float(quad(lambda s: 2 * math.pi * (r1 + s * (r2 - r1)), 0, 1)[0]) * slant


@pytest.mark.source("Geometry, by hand: the slant ends at the seat's edge, A(L1) = π Dm w / sin β")
@each_boundary
def test_the_first_stage_ends_where_the_slant_reaches_the_seat_s_edge(
    degrees: int, first: float, second: float
) -> None:
    beta = math.radians(degrees)
    assert 1e3 * W / (math.sin(beta) * math.cos(beta)) == pytest.approx(first, abs=6e-6)
    assert area(degrees, first) == pytest.approx(
        1e6 * math.pi * (D - W) * W / math.sin(beta), rel=1e-5
    )


@pytest.mark.source("SciPy brentq: the lift at which the opening is as large as the throat")
@each_boundary
def test_the_throat_takes_over_where_the_opening_is_as_large(
    degrees: int, first: float, second: float
) -> None:
    almost = 1e6 * PORT * (1 - 1e-12)
    lift = brentq(lambda x: area(degrees, x) - almost, first, 12.0, xtol=1e-9)
    assert lift == pytest.approx(second, abs=6e-6)
    assert area(degrees, second + 0.01) == pytest.approx(1e6 * PORT, rel=1e-12)


@pytest.mark.source(
    "Geometry: frustum between the seat's edges, its rings integrated by SciPy quad"
)
@pytest.mark.parametrize("degrees", [30, 39, 45])
@pytest.mark.parametrize("lift", [4.0, 6.0, 8.0])
def test_the_second_stage_is_a_frustum_between_edges(degrees: int, lift: float) -> None:
    """From the valve face's outer edge to the insert's inner one."""
    rise = W * math.tan(math.radians(degrees))
    answer = frustum(D / 2 - W, lift / 1e3, D / 2, rise)
    assert area(degrees, lift) == pytest.approx(1e6 * answer, rel=1e-9)


@pytest.mark.source("Geometry: frustum square to the seat, its rings integrated by SciPy quad")
@pytest.mark.parametrize("degrees", [30, 39, 45])
@pytest.mark.parametrize("lift", [0.5, 1.0, 2.5])
def test_the_first_stage_is_a_frustum_square_to_the_seat(degrees: int, lift: float) -> None:
    beta, lifted = math.radians(degrees), lift / 1e3
    inner = D / 2 - W
    answer = frustum(inner, lifted, inner + lifted * math.sin(beta) * math.cos(beta),
                    lifted * math.sin(beta) ** 2)  # fmt: skip
    assert area(degrees, lift) == pytest.approx(1e6 * answer, rel=1e-9)


@pytest.mark.source("Monte Carlo integration of the annulus, fixed seed")
def test_the_throat_less_the_stem_by_throwing_points() -> None:
    """400 000 points; the standard error of the share is below 8e-4 of the square."""
    points = np.random.default_rng(20260105).uniform(-0.5, 0.5, (400_000, 2)) * THROAT
    radius = np.hypot(*points.T)
    share = float(((radius < THROAT / 2) & (radius > STEM / 2)).mean())
    assert port_area_at_stem(THROAT, STEM) == pytest.approx(share * THROAT**2, rel=4e-3)
    assert 1e6 * port_area_at_stem(THROAT, STEM) == pytest.approx(1156.1061, abs=6e-5)


@pytest.mark.source("JSME dictionary of mechanical engineering (ranges), on the opening's area")
def test_a_typical_inlet_keeps_to_the_ranges_on_least_area() -> None:
    """0.9 to 0.95 at low lift, about 0.7 near full lift, from Heywood's typical curtain values.

    Figure 6-18 (from memory): 0.66 at L/D 0.05 and 0.47 at 0.30, read to a few hundredths.
    """
    on_least = [
        cd * float(curtain_area(D, depth * D)) * 1e6 / area(45, depth * D * 1e3)
        for depth, cd in ((0.05, 0.66), (0.30, 0.47))
    ]
    assert 0.85 < on_least[0] < 1.0
    assert 0.6 < on_least[1] < 0.8


@pytest.mark.source("common practice, no source")
def test_a_throat_of_85_to_90_percent_is_reached_past_a_fifth_of_the_diameter() -> None:
    """Throat 85 to 90 % of the valve: the port takes over between L/D 0.2 and 0.25."""
    for share in (0.85, 0.90):
        throat = share * D
        seat = Seat(STEM, math.pi / 4, W / math.cos(math.pi / 4), throat)
        cap = float(port_area_at_stem(throat, STEM))
        assert float(least_valve_area(D, seat, 0.17 * D)) < cap
        assert float(least_valve_area(D, seat, 0.25 * D)) == pytest.approx(cap)
    assert float(head_area(D)) == pytest.approx(float(curtain_area(D, D / 4)))
