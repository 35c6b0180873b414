"""The valve's areas against a search for the least distance between its two seats."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.calc.areas import (
    Seat,
    curtain_area,
    head_area,
    least_valve_area,
    port_area_at_stem,
)
from shopflow.calc.gas import bernoulli_velocity

CFM = 0.3048**3 / 60
DEGREE = math.pi / 180


def searched_area(d: float, w: float, beta: float, dp: float, ds: float, lift: float) -> float:
    """Least area, by the nearest points of the port's and the valve's seat face.

    In the (r, z) plane both faces are the same line, the valve's moved by the lift. From each of
    many points of the valve's face the nearest point of the port's is found by projection; of the
    nearest pairs the one on the least radius bounds the flow.
    """
    inner = np.array([d / 2 - w, 0.0])
    along = np.array([w, w * math.tan(beta)])
    valve = inner + np.linspace(0.0, 1.0, 501)[:, None] * along + np.array([0.0, lift])
    share = np.clip((valve - inner) @ along / (along @ along), 0.0, 1.0)
    port = inner + share[:, None] * along
    distance = np.hypot(*(valve - port).T)
    area = math.pi * (valve[:, 0] + port[:, 0]) * distance
    nearest = distance <= distance.min() * (1 + 1e-12)
    return min(float(area[nearest].min()), math.pi / 4 * (dp**2 - ds**2))


def seat(w: float, beta: float, dp: float = 0.039, ds: float = 0.007) -> Seat:
    """A seat by its width projected on the radius."""
    return Seat(ds, beta, w / math.cos(beta), dp)


# D 44, w 1.5 (projected), throat 39, stem 7 mm: by hand from the frustums of the three stages
# (tests/published/test_valve.py integrates them), in mm2.
BY_HAND = {
    45: {1: 92.1898, 2: 186.6011, 3: 283.2338, 5: 508.4202, 8: 890.6741, 12: 1156.1061},
    39: {1: 101.2946, 2: 204.9773, 3: 311.0481, 5: 543.6429, 8: 927.8338, 12: 1156.1061},
    30: {1: 112.7268, 2: 227.8097, 3: 345.2489, 5: 587.1704, 8: 973.3393, 12: 1156.1061},
}


@pytest.mark.source("Geometry: frustums by hand, and a search for the least distance")
@pytest.mark.parametrize(
    ("degrees", "lift", "area"),
    [(degrees, lift, area) for degrees, row in BY_HAND.items() for lift, area in row.items()],
)
def test_least_area_of_a_44_mm_valve(degrees: int, lift: int, area: float) -> None:
    beta = degrees * DEGREE
    answer = float(least_valve_area(0.044, seat(0.0015, beta), lift * 1e-3))
    assert answer * 1e6 == pytest.approx(area, abs=6e-5)
    searched = searched_area(0.044, 0.0015, beta, 0.039, 0.007, lift * 1e-3)
    assert answer == pytest.approx(searched, rel=1e-9)


angles = st.floats(10.0, 70.0).map(lambda degrees: degrees * DEGREE)
heads = st.floats(0.015, 0.060)
widths = st.floats(0.01, 0.08)
lifts = st.floats(0.002, 0.6)


@pytest.mark.source("Geometry: search for the least distance between the two seats")
@given(heads, widths, angles, lifts)
def test_least_area_is_what_a_search_finds(
    head: float, width: float, beta: float, lift: float
) -> None:
    w, dp, ds = width * head, 0.87 * head, 0.2 * head
    answer = float(least_valve_area(head, seat(w, beta, dp, ds), lift * head))
    assert answer == pytest.approx(searched_area(head, w, beta, dp, ds, lift * head), rel=1e-9)


@given(heads, widths, angles, lifts, st.floats(1e-6, 0.1))
def test_least_area_never_falls_with_lift(
    head: float, width: float, beta: float, lift: float, more: float
) -> None:
    shape = seat(width * head, beta, 0.87 * head, 0.2 * head)
    low, high = (float(least_valve_area(head, shape, x * head)) for x in (lift, lift + more))
    assert high >= low * (1 - 1e-12)


@given(heads, widths, angles)
def test_least_area_is_continuous_where_its_stages_meet(
    head: float, width: float, beta: float
) -> None:
    w, dp, ds = width * head, 0.87 * head, 0.2 * head
    shape = seat(w, beta, dp, ds)
    middle = head - w
    throat = float(port_area_at_stem(dp, ds))
    first = w / (math.sin(beta) * math.cos(beta))
    h = (dp**2 - ds**2) / (4 * middle)
    boundaries = [first]
    if h > w / math.sin(beta):
        assert float(least_valve_area(head, shape, first)) == pytest.approx(
            math.pi * middle * w / math.sin(beta), rel=1e-9
        )
        boundaries.append(math.sqrt(h**2 - w**2) + w * math.tan(beta))
        assert float(least_valve_area(head, shape, boundaries[1])) == pytest.approx(
            throat, rel=1e-9
        )
    for boundary in boundaries:
        below, above = (
            float(least_valve_area(head, shape, boundary * x)) for x in (1 - 1e-9, 1 + 1e-9)
        )
        assert below == pytest.approx(above, rel=1e-7)


@given(heads, widths, angles, lifts, st.floats(0.01, 100.0))
def test_least_area_goes_with_the_square_of_size(
    head: float, width: float, beta: float, lift: float, size: float
) -> None:
    small = least_valve_area(head, seat(width * head, beta, 0.87 * head, 0.2 * head), lift * head)
    grown = size * head
    large = least_valve_area(
        grown, seat(width * grown, beta, 0.87 * grown, 0.2 * grown), lift * grown
    )
    assert float(large) == pytest.approx(float(small) * size**2, rel=1e-9)


@pytest.mark.source("Geometry: the slant square to the seat, by hand: cos β / cos 45°")
@pytest.mark.parametrize(("degrees", "ratio"), [(39, 1.0990), (30, 1.2247)])
def test_a_shallower_seat_opens_more_just_off_its_seat(degrees: int, ratio: float) -> None:
    """cos β / cos 45°: the slant of the first stage, by hand."""
    areas = [
        float(least_valve_area(0.044, seat(0.0015, angle * DEGREE), 1e-8))
        for angle in (degrees, 45)
    ]
    assert areas[0] / areas[1] == pytest.approx(ratio, abs=6e-5)


@pytest.mark.source("Geometry: π D (D/4) = π D²/4")
def test_curtain_and_head_are_alike_at_a_quarter_of_the_diameter() -> None:
    assert float(curtain_area(0.044, 0.011)) == pytest.approx(float(head_area(0.044)), rel=1e-14)


# A 44 mm valve at 28 inH2O in dry air of 20 °C (R 287.05), incompressible, by hand: lift in mm,
# cfm, and the coefficients on curtain and head.
COEFFICIENTS = [
    (2, 39, 0.61857, 0.11247),
    (4, 80, 0.63443, 0.23070),
    (6, 123, 0.65029, 0.35470),
    (8, 158, 0.62650, 0.45564),
    (10, 179, 0.56782, 0.51620),
    (12, 185, 0.48904, 0.53350),
]


@pytest.mark.source("Bernoulli's equation and the areas of curtain and head, by hand")
@pytest.mark.parametrize(("lift", "cfm", "curtain", "head"), COEFFICIENTS)
def test_coefficients_of_an_ordinary_curve(
    lift: int, cfm: int, curtain: float, head: float
) -> None:
    density = 101325 / (287.05 * 293.15)
    effective = cfm * CFM / float(bernoulli_velocity(28 * 249.08891, density))
    on_curtain = effective / float(curtain_area(0.044, lift * 1e-3))
    on_head = effective / float(head_area(0.044))
    assert on_curtain == pytest.approx(curtain, abs=1e-5)
    assert on_head == pytest.approx(head, abs=1e-5)
    assert on_head == pytest.approx(on_curtain * 4 * lift / 44, rel=1e-12)


def test_arrays_of_valves_give_what_each_gives() -> None:
    lift = np.linspace(1e-4, 0.015, 9)
    head = np.array([[0.030], [0.044]])
    shape = Seat(0.2 * head, np.pi / 4, 0.05 * head, 0.87 * head)
    total = least_valve_area(head, shape, lift)
    assert total.shape == (2, 9)
    for row in range(2):
        d = float(head[row, 0])
        item = least_valve_area(d, Seat(0.2 * d, np.pi / 4, 0.05 * d, 0.87 * d), lift)
        assert total[row] == pytest.approx(item, rel=1e-14)
