"""Valve lift over crank angle: closed forms, and SciPy's curve and root finder."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from shopflow.calc.cam import SineSquaredLobe, TabledLobe, ValveMotion
from tests.optional import present

ANGLES = np.array([-130.0, -110, -90, -60, -30, -10, 0, 15, 40, 70, 95, 115, 128])
LIFTS = 1e-3 * np.array([0.0, 0.12, 0.9, 3.8, 6.9, 7.9, 8.0, 7.8, 6.1, 2.9, 0.7, 0.1, 0.0])


def tabled(**changes: Any) -> ValveMotion:
    return ValveMotion(TabledLobe(ANGLES, LIFTS), 108.0, **changes)


def test_a_tabled_lobe_is_scipy_s_monotone_cubic() -> None:
    curve = PchipInterpolator(ANGLES, LIFTS)
    inside = np.linspace(-130.0, 128.0, 1001)
    answer = tabled(rocker_ratio=1.6, lash=0.2e-3).lift(inside + 108.0)
    np.testing.assert_allclose(answer, np.maximum(1.6 * curve(inside) - 0.2e-3, 0), atol=1e-15)


def test_a_valve_opens_and_closes_where_scipy_finds_the_roots() -> None:
    motion, curve = tabled(rocker_ratio=1.6, lash=0.31e-3), PchipInterpolator(ANGLES, LIFTS)

    def lift(angle: float) -> float:
        return float(1.6 * curve(angle) - 0.31e-3)

    assert motion.opens == pytest.approx(108.0 + brentq(lift, -130, 0, xtol=1e-13), abs=1e-11)
    assert motion.closes == pytest.approx(108.0 + brentq(lift, 0, 128, xtol=1e-13), abs=1e-11)


def test_without_lash_the_lobe_s_own_ends_are_the_valve_s() -> None:
    motion = tabled()
    assert (motion.opens, motion.closes, motion.duration) == (-22.0, 236.0, 258.0)
    dwelling = TabledLobe(np.array([-50.0, -40, 0, 40, 50, 60]), np.array([0.0, 0, 1, 0.5, 0, 0]))
    assert (ValveMotion(dwelling, 0.0).opens, ValveMotion(dwelling, 0.0).closes) == (-40.0, 50.0)


def test_the_stand_in_opens_by_its_law() -> None:
    """By hand: 1.5 x 8 sin2 = 0.3 mm where the sine is sqrt(0.025)."""
    motion = ValveMotion(SineSquaredLobe(280.0, 8e-3), -110.0, 1.5, 0.3e-3)
    late = 280.0 / math.pi * math.asin(math.sqrt(0.025))
    assert motion.opens == pytest.approx(-250.0 + late, abs=1e-11)
    assert motion.closes == pytest.approx(30.0 - late, abs=1e-11)
    assert motion.greatest_lift == pytest.approx(11.7e-3, rel=1e-14)


def test_half_the_stand_in_is_above_half_its_lift() -> None:
    motion = ValveMotion(SineSquaredLobe(280.0, 8e-3), 108.0)
    assert motion.share_above(4e-3) == pytest.approx(0.5, abs=1e-12)
    assert motion.share_above(8e-3) == 0.0
    assert motion.share_above(0.0) == 1.0
    assert motion.above(4e-3) == pytest.approx((38.0, 178.0), abs=1e-10)
    assert motion.above(8e-3) is None


def test_a_lobe_with_two_noses_counts_the_time_above_on_both() -> None:
    lobe = TabledLobe(np.array([-60.0, -30, 0, 30, 60]), np.array([0.0, 6e-3, 2e-3, 6e-3, 0.0]))
    motion = ValveMotion(lobe, 0.0)
    curve = PchipInterpolator(lobe.knots, np.array([0.0, 6e-3, 2e-3, 6e-3, 0.0]))
    dense = curve(np.linspace(-60, 60, 1_200_001)) > 4e-3
    assert motion.share_above(4e-3) == pytest.approx(dense.mean(), abs=2e-6)
    begins, ends = present(motion.above(4e-3))
    assert (begins, ends) == pytest.approx((-ends, ends))


def test_lash_that_takes_all_lift_is_refused() -> None:
    with pytest.raises(ValueError, match="no valve lift"):
        tabled(lash=8e-3)


@given(st.floats(0.0, 0.9), st.floats(0.5, 2.0), st.floats(-200.0, 200.0))
def test_more_lash_never_opens_sooner(share: float, ratio: float, centre: float) -> None:
    lobe = TabledLobe(ANGLES, LIFTS)
    tight = ValveMotion(lobe, centre, ratio)
    loose = ValveMotion(lobe, centre, ratio, share * ratio * 8e-3)
    assert tight.opens <= loose.opens < loose.closes <= tight.closes
    angles = np.linspace(tight.opens - 5, tight.closes + 5, 301)
    assert (loose.lift(angles) <= tight.lift(angles)).all()
    assert (loose.lift(angles) >= 0.0).all()
    ends = loose.lift(np.array([loose.opens, loose.closes]))
    assert ends == pytest.approx([0.0, 0.0], abs=1e-14)
