"""Ports through the cam: closed forms, SciPy's quadrature, and what goes with what."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from shopflow.calc.cam import SineSquaredLobe, TabledLobe, ValveMotion
from shopflow.calc.cycle import STEPS, Cycle, Engine, OpenPort, Port, cycle, side_of_cycle
from shopflow.calc.lift_curve import LiftCurve
from tests.optional import present
from tests.unit.calc.test_cam import ANGLES, LIFTS

ENGINE = Engine(0.0864, 0.0864, 6500.0 / 60.0)
TESTED = 1e-3 * np.array([1.0, 2.5, 4, 6, 8, 10])
AREAS = 1e-6 * np.array([62.0, 158, 245, 340, 402, 431])


def port(lifts: np.ndarray = TESTED, areas: np.ndarray = AREAS) -> Port:
    return Port(LiftCurve(lifts, areas), 293.15)


def straight(last: float = 0.012) -> Port:
    """Area in proportion to lift: 0.05 m2 a metre."""
    lifts = np.array([1e-3, last])
    return port(lifts, 0.05 * lifts)


def stand_in(duration: float = 280.0, lift: float = 9e-3, centre: float = 108.0) -> ValveMotion:
    return ValveMotion(SineSquaredLobe(duration, lift), centre)


def whole_cycle(steps: int = STEPS, **changes: Any) -> Cycle:
    """A measured intake and a stand-in exhaust whose valve goes beyond its test."""
    intake = ValveMotion(TabledLobe(ANGLES, LIFTS), 108.0, 1.5, 0.25e-3)
    exhaust = ValveMotion(SineSquaredLobe(290.0, 7.5e-3), -114.0, 1.5, 0.3e-3)
    ports = OpenPort(intake, port()), OpenPort(exhaust, port(areas=0.8 * AREAS))
    return cycle(replace(ENGINE, **changes), *ports, steps=steps)


def test_area_in_proportion_to_lift_gives_half_the_greatest_in_the_mean() -> None:
    """The mean of sin2 is a half."""
    answer = side_of_cycle(OpenPort(stand_in(), straight()), 100.0)
    assert answer.mean_effective_area == pytest.approx(0.5 * 0.05 * 9e-3, rel=1e-9)
    assert answer.area_integral == pytest.approx(280.0 * 0.5 * 0.05 * 9e-3, rel=1e-9)
    assert answer.time_area == pytest.approx(280.0 / 36_000.0 * 0.5 * 0.05 * 9e-3, rel=1e-9)
    assert (answer.opens, answer.closes, answer.share_beyond_test) == (-32.0, 248.0, 0.0)


def test_constant_area_gives_itself() -> None:
    """But for the nanometre of lift in which it comes to be."""
    lifts = np.array([1e-9, 1e-3, 12e-3])
    answer = side_of_cycle(OpenPort(stand_in(), port(lifts, np.full(3, 3e-4))), 100.0)
    assert answer.mean_effective_area == pytest.approx(3e-4, rel=3e-4)
    content = side_of_cycle(OpenPort(stand_in(), port(lifts[:1], np.full(1, 3e-4))), 100.0)
    assert content.mean_effective_area == pytest.approx(3e-4, rel=3e-4)
    assert content.share_beyond_test == pytest.approx(1.0, abs=3e-4)


def test_lash_of_the_stand_in_has_a_closed_form_too() -> None:
    """The integral of L sin2(x) - c between its roots x0 and pi - x0."""
    greatest, lash = 9e-3, 0.9e-3
    start = math.asin(math.sqrt(lash / greatest))
    width = math.pi - 2.0 * start
    area = greatest * (width / 2.0 + math.sin(2.0 * start) / 2.0) - lash * width
    motion = ValveMotion(SineSquaredLobe(280.0, greatest), 0.0, lash=lash)
    answer = side_of_cycle(OpenPort(motion, straight()), 100.0)
    assert answer.mean_effective_area == pytest.approx(0.05 * area / width, rel=1e-8)


def figures(cycle_of: Cycle) -> dict[str, float]:
    sides = {"intake": cycle_of.intake, "exhaust": cycle_of.exhaust}
    return {
        f"{side}.{name}": getattr(of_side, name)
        for side, of_side in sides.items()
        if of_side is not None
        for name in of_side.__slots__
    } | {
        name: getattr(cycle_of, name)
        for name in ("blowdown_area_integral", "overlap_area_integral", "mach_index")
    }


def test_twice_the_steps_change_nothing() -> None:
    once, twice = figures(whole_cycle()), figures(whole_cycle(2 * STEPS))
    for name, figure in once.items():
        assert figure == pytest.approx(twice[name], rel=1e-7), name


def quadrature() -> dict[str, float]:
    """The same engine by SciPy alone: curves, roots and integrals."""
    lobe = PchipInterpolator(ANGLES, LIFTS)
    area = PchipInterpolator(np.r_[0.0, TESTED], np.r_[0.0, AREAS])

    def intake_lift(angle: float) -> float:
        return 1.5 * float(lobe(angle - 108.0)) - 0.25e-3

    def exhaust_lift(angle: float) -> float:
        return 1.5 * 7.5e-3 * math.cos(math.pi * (angle + 114.0) / 290.0) ** 2 - 0.3e-3

    def through(lift: float, scale: float) -> float:
        return scale * float(area(min(max(lift, 0.0), TESTED[-1])))

    def series(angle: float) -> float:
        item, other = through(intake_lift(angle), 1.0), through(exhaust_lift(angle), 0.8)
        return 0.0 if min(item, other) <= 0.0 else 1.0 / math.sqrt(1 / item**2 + 1 / other**2)

    opens, closes = (brentq(intake_lift, 108.0, end, xtol=1e-13) for end in (-22.0, 236.0))
    first, last = (brentq(exhaust_lift, -114.0, end, xtol=1e-13) for end in (-259.0, 31.0))
    top = 1.5 * 7.5e-3 - 0.3e-3
    beyond = [
        brentq(lambda angle: exhaust_lift(angle) - TESTED[-1], -114.0, end) for end in (first, last)
    ]
    assert top > TESTED[-1]

    def integral(figure: Any, low: float, high: float) -> float:
        return float(quad(figure, low, high, limit=2000, epsabs=0.0, epsrel=1e-8)[0])

    intake = integral(lambda angle: through(intake_lift(angle), 1.0), opens, closes)
    exhaust = integral(lambda angle: through(exhaust_lift(angle), 0.8), first, last)
    speed = 2.0 * 0.0864 * 6500.0 / 60.0
    sound = math.sqrt(1.4 * 287.05 * 293.15)
    return {
        "intake.opens": opens,
        "intake.closes": closes,
        "intake.area_integral": intake,
        "intake.mean_effective_area": intake / (closes - opens),
        "intake.time_area": intake / 360.0 * 60.0 / 6500.0,
        "exhaust.area_integral": exhaust,
        "exhaust.share_beyond_test": (beyond[1] - beyond[0]) / (last - first),
        "blowdown_area_integral": integral(
            lambda angle: through(exhaust_lift(angle), 0.8), first, -180.0
        ),
        "overlap_area_integral": integral(series, opens, last),
        "mach_index": speed * math.pi / 4 * 0.0864**2 / (sound * intake / (closes - opens)),
    }


@pytest.mark.source("SciPy: PchipInterpolator, brentq and quad; area and Mach index by hand")
def test_every_figure_is_scipy_s() -> None:
    answer = figures(whole_cycle())
    for name, figure in quadrature().items():
        assert answer[name] == pytest.approx(figure, rel=2e-7), name


@pytest.mark.source(
    "JSME dictionary of mechanical engineering, entry 11:1002813, by hand: piston speed x piston "
    "area/(speed of sound x mean area)"
)
def test_the_mach_index_of_a_mean_area() -> None:
    """17.28 m/s x 5862.9 mm2/(343.232 m/s x 561.61 mm2), 0.35 of a 45.2 mm valve: 0.52558."""
    mean = 0.35 * math.pi / 4 * 0.0452**2
    intake = OpenPort(stand_in(lift=2 * mean / 0.05), straight(0.03))
    answer = cycle(Engine(0.0864, 0.0864, 100.0), intake)
    assert answer.mach_index == pytest.approx(0.52558, abs=5e-6)


def test_warmer_air_lowers_the_mach_index_by_the_root() -> None:
    intake = OpenPort(stand_in(), port())
    cold, warm = (cycle(ENGINE, intake, temperature=kelvin) for kelvin in (None, 4 * 293.15))
    assert warm.mach_index == pytest.approx(present(cold.mach_index) / 2.0, rel=1e-12)


def test_what_cannot_be_had_is_none() -> None:
    alone = cycle(ENGINE, OpenPort(stand_in(), None))
    assert alone.exhaust is None
    assert [alone.intake.area_integral, alone.mach_index] == [None, None]
    half = cycle(ENGINE, OpenPort(stand_in(), port()), OpenPort(stand_in(centre=-110.0), None))
    assert half.exhaust is not None
    assert half.exhaust.opens == -250.0
    assert half.exhaust.area_integral is None
    assert half.blowdown_area_integral is None
    assert half.overlap_area_integral is None


def test_valves_that_are_never_open_together_have_no_overlap() -> None:
    intake, exhaust = (OpenPort(stand_in(200.0, centre=at), port()) for at in (110.0, -110.0))
    assert cycle(ENGINE, intake, exhaust).overlap_area_integral == 0.0


def test_an_exhaust_that_opens_after_bottom_dead_centre_has_no_blow_down() -> None:
    intake, exhaust = (OpenPort(stand_in(130.0, centre=at), port()) for at in (110.0, -110.0))
    assert cycle(ENGINE, intake, exhaust).blowdown_area_integral == 0.0


lifts_of_cams = st.floats(1e-3, 16e-3)


@given(st.floats(0.2, 5.0), lifts_of_cams, st.floats(150.0, 340.0))
@settings(max_examples=50)
def test_areas_go_with_the_port_s(scale: float, lift: float, duration: float) -> None:
    motion = stand_in(duration, lift)
    item, other = (
        side_of_cycle(OpenPort(motion, port(areas=k * AREAS)), 100.0) for k in (1, scale)
    )
    assert item.area_integral is not None
    assert item.mean_effective_area is not None
    assert other.area_integral == pytest.approx(scale * item.area_integral, rel=1e-12)
    assert other.share_beyond_test == item.share_beyond_test
    assert 0.0 < item.mean_effective_area < AREAS.max()


@given(lifts_of_cams, st.floats(1.0, 3.0), st.floats(500.0, 12_000.0))
@settings(max_examples=50)
def test_twice_the_speed_is_half_the_time_and_twice_the_index(
    lift: float, factor: float, rpm: float
) -> None:
    intake = OpenPort(stand_in(lift=lift), port())
    slow, fast = (cycle(replace(ENGINE, speed=n / 60), intake) for n in (rpm, factor * rpm))
    assert slow.intake.time_area is not None
    assert slow.mach_index is not None
    assert fast.intake.time_area == pytest.approx(slow.intake.time_area / factor, rel=1e-12)
    assert fast.mach_index == pytest.approx(slow.mach_index * factor, rel=1e-12)
    assert fast.intake.area_integral == slow.intake.area_integral


@given(lifts_of_cams, lifts_of_cams)
@settings(max_examples=50)
def test_more_lift_never_means_less_area(one: float, other: float) -> None:
    low, high = sorted((one, other))
    less, more = (side_of_cycle(OpenPort(stand_in(lift=lift), port()), 1.0) for lift in (low, high))
    assert less.area_integral is not None
    assert more.area_integral is not None
    assert less.area_integral <= more.area_integral * (1 + 1e-12)


@given(st.floats(80.0, 140.0), st.floats(80.0, 140.0))
@settings(max_examples=50)
def test_the_overlap_is_less_than_either_port_alone(inlet: float, outlet: float) -> None:
    sides = [OpenPort(stand_in(centre=at), port()) for at in (inlet, -outlet)]
    answer = cycle(ENGINE, sides[0], sides[1])
    assert answer.overlap_area_integral is not None
    low, high = sides[0].motion.opens, sides[1].motion.closes
    angles = np.linspace(low, high, 2001) if high > low else np.array([0.0, 0.0])
    least = min(np.trapezoid(side.area(angles), angles) for side in sides)
    assert 0.0 <= answer.overlap_area_integral <= least + 1e-12
