"""Loads by height against SciPy, the handbook's spring and a manual's limits."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator, interp1d

from shopflow.calc.cam import SineSquaredLobe, ValveMotion
from shopflow.calc.spring_loads import SpringLoads
from shopflow.calc.springs import valve_lift, wire_rate

INCH = 0.0254
LBF = 0.45359237 * 9.80665
PSI = LBF / INCH**2


@pytest.mark.source("SciPy interp1d: the line through two points and on beyond them")
def test_two_points_are_a_straight_line():
    heights, loads = [1.80 * INCH, 1.25 * INCH], [120 * LBF, 330 * LBF]
    spring, line = SpringLoads(heights, loads), interp1d(heights, loads, fill_value="extrapolate")
    for height in (1.80, 1.61, 1.25, 1.10, 1.90):
        assert spring.load(height * INCH) == pytest.approx(float(line(height * INCH)), rel=1e-9)
    assert spring.is_constant_rate
    assert spring.rates == pytest.approx([210 * LBF / (0.55 * INCH)])


@pytest.mark.source("SciPy PchipInterpolator and its derivative")
def test_more_points_are_the_monotone_curve():
    heights = np.array([30.0, 33.0, 36.5, 40.0, 44.0])
    loads = np.array([1010.0, 742.0, 520.0, 351.0, 214.0])
    spring = SpringLoads(heights[::-1].tolist(), loads[::-1].tolist())
    curve = PchipInterpolator(heights, loads)
    for height in np.linspace(30.0, 44.0, 29):
        assert spring.load(height) == pytest.approx(float(curve(height)), rel=1e-12)
        assert spring.rate(height) == pytest.approx(-float(curve.derivative()(height)), rel=1e-9)
    assert not spring.is_constant_rate
    assert [round(rate, 3) for rate in spring.rates] == [34.25, 48.286, 63.429, 89.333]


@pytest.mark.source(
    "Shigley, Mechanical Engineering Design, example 10-1, from memory: 4.13 lbf/in, 6.46 lbf at "
    "1.56 in of deflection, solid at 0.500 in"
)
def test_the_handbook_s_spring_from_its_free_length_to_solid():
    rate = wire_rate(11.85e6 * PSI, 0.037 * INCH, 0.400 * INCH, 10.5)
    free, solid = 2.06 * INCH, 0.50 * INCH
    spring = SpringLoads([free, solid], [0.0, rate * (free - solid)])
    assert spring.load(solid) / LBF == pytest.approx(6.46, abs=0.02)
    assert spring.rate(1.0 * INCH) / (LBF / INCH) == pytest.approx(4.13, abs=6e-3)
    assert spring.load(free + INCH) == 0.0


@pytest.mark.source("US Army TM 5-3810-306-34: valve spring 101.2 to 115.5 lbf at 2 in")
@pytest.mark.parametrize(("at_two", "is_within"), [(101.2, True), (115.5, True), (101.0, False)])
def test_a_load_read_off_the_curve_meets_the_manual_s_limits(at_two: float, is_within: bool):
    """Measured a sixteenth above and below two inches, so that the load at two is interpolated."""
    step, slope = 0.0625, 180.0
    heights = [(2.0 + step) * INCH, (2.0 - step) * INCH]
    spring = SpringLoads(heights, [(at_two - slope * step) * LBF, (at_two + slope * step) * LBF])
    load = spring.load(2.0 * INCH) / LBF
    assert load == pytest.approx(at_two, rel=1e-9)
    assert (101.2 - 1e-6 <= load <= 115.5 + 1e-6) is is_within


def test_nothing_beyond_the_points_is_called_covered():
    spring = SpringLoads([0.040, 0.030], [300.0, 700.0])
    assert [spring.covers(height) for height in (0.0401, 0.040, 0.035, 0.030, 0.0299)] == [
        False, True, True, True, False,
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("heights", "loads", "fault"),
    [([0.04], [300.0], "two points"), ([0.04, 0.04], [300.0, 310.0], "given twice"),
     ([0.04, 0.03], [300.0, 290.0], "must rise")],
)  # fmt: skip
def test_points_that_are_no_spring_are_refused(
    heights: list[float], loads: list[float], fault: str
):
    with pytest.raises(ValueError, match=fault):
        SpringLoads(heights, loads)


@given(st.lists(st.floats(5.0, 400.0), min_size=2, max_size=6), st.floats(0.0, 1.0))
def test_a_load_lies_between_those_of_its_neighbours(rises: list[float], share: float):
    heights = [0.050 - 0.003 * place for place in range(len(rises))]
    loads = np.cumsum(rises).tolist()
    height = heights[-1] + share * (heights[0] - heights[-1])
    load = SpringLoads(heights, loads).load(height)
    above = max(index for index, other in enumerate(heights) if other >= height - 1e-12)
    below = min(above + 1, len(heights) - 1)
    assert loads[above] - 1e-6 <= load <= loads[below] + 1e-6


def test_valve_lift_is_that_of_the_cam_s_motion():
    motion = ValveMotion(SineSquaredLobe(280.0, 8.1e-3), 108.0, 1.5, 0.4e-3)
    assert valve_lift(8.1e-3, 1.5, 0.4e-3) == pytest.approx(motion.greatest_lift, rel=1e-12)
