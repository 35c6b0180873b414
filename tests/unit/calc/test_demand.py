"""The engine's demand and potential: closed forms, GTC's first order, and laws."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from GTC import sqrt, tb, uncertainty, ureal, value
from scipy.integrate import quad

from shopflow.calc.cam import SineSquaredLobe, ValveMotion
from shopflow.calc.cam_gain import cam_mean
from shopflow.calc.cycle import Engine, OpenPort, Port
from shopflow.calc.demand import CHOKED, Demand, Trials, demand, draw_trials
from shopflow.calc.gas import ideal_mass_flux
from shopflow.calc.monte_carlo import Range
from shopflow.calc.piston import SliderCrank
from shopflow.calc.potential import Charge, Potential, potential
from tests.optional import present
from tests.unit.calc.test_area_gain import AFTER, OTHER_AIR, a_test

ENGINE = Engine(0.0864, 0.0864, 6000.0 / 60.0)
CRANK = SliderCrank(0.0864, 0.1435)
MOTION = ValveMotion(SineSquaredLobe(280.0, 10.5e-3), 108.0, lash=0.2e-3)
TEST = a_test(AFTER, **OTHER_AIR)
WARM, LIMIT = Range(288.15, 308.15), Range(0.5, 0.6)
CHARGE = Charge(Range(0.85, 1.0), Range(99e3, 102e3), Range(12.2, 13.5), Range(7.8e-8, 9.7e-8))


def trials(temperature: Range = WARM, limit: Range = LIMIT) -> Trials:
    return draw_trials(TEST, MOTION, temperature, limit)


def at(engine: Engine = ENGINE) -> Demand:
    return demand(trials(), engine, CRANK)


def charged(engine: Engine = ENGINE, charge: Charge = CHARGE) -> Potential:
    return potential(trials(), engine, 4, charge)


def test_the_figures_are_the_same_twice() -> None:
    first, again = at(), at()
    assert (first.index, first.filling_speed) == (again.index, again.filling_speed)
    assert charged() == charged()


def rectangle(low: float, high: float) -> Any:
    return ureal((low + high) / 2.0, tb.uniform((high - low) / 2.0))


@pytest.mark.source("GTC: Z = S pi b^2/4 / (A a), first order")
def test_the_index_has_the_first_order_s_uncertainty() -> None:
    mean = cam_mean(TEST, MOTION)
    area = ureal(mean.area, present(mean.expanded_uncertainty) / 1.96)
    sound = sqrt(1.4 * 287.05 * rectangle(WARM.low, WARM.high))
    index = 2.0 * 0.0864 * 100.0 * math.pi / 4.0 * 0.0864**2 / (area * sound)
    answer = at().index
    assert answer.median == pytest.approx(value(index), rel=2e-3)
    assert answer.high - answer.low == pytest.approx(2 * 1.96 * uncertainty(index), rel=0.03)


@pytest.mark.source("GTC: m = eta p/(R T) V N/2 with N = N Zlim/Z, P = m/(AFR b), first order")
def test_power_has_the_first_order_s_uncertainty() -> None:
    """At a speed that filling limits; rectangles weigh less in the tails than first order says."""
    mean = cam_mean(TEST, MOTION)
    area = ureal(mean.area, present(mean.expanded_uncertainty) / 1.96)
    warm = rectangle(WARM.low, WARM.high)
    volume = math.pi / 4.0 * 0.0864**3
    speed = rectangle(LIMIT.low, LIMIT.high) * area * sqrt(1.4 * 287.05 * warm) / (2 * volume)
    density = rectangle(99e3, 102e3) / (287.05 * warm)
    air = rectangle(0.85, 1.0) * density * 4 * volume * speed / 2
    power = air / rectangle(12.2, 13.5) / rectangle(7.8e-8, 9.7e-8)
    answer = charged(replace(ENGINE, speed=500.0))
    for interval, expected in ((answer.air, air), (present(answer.power), power)):
        assert interval.median == pytest.approx(value(expected), rel=0.01)
        width = 2 * 1.96 * uncertainty(expected)
        assert interval.high - interval.low == pytest.approx(width, rel=0.06)


@pytest.mark.source("isentropic choked flow as calc.flow, NASA Glenn: Mass flow choking")
def test_the_choked_demand_is_that_of_a_choked_nozzle() -> None:
    pressure, temperature = 101325.0, 293.15
    density = pressure / (287.05 * temperature)
    flux = float(ideal_mass_flux(pressure, density, 0.3 * pressure))
    assert flux / (density * math.sqrt(1.4 * 287.05 * temperature)) == pytest.approx(
        CHOKED, rel=1e-9
    )
    assert pytest.approx(0.5787, abs=5e-5) == CHOKED


@pytest.mark.source("SciPy: quad of the area over the stroke; the demand by hand at its median")
def test_time_area_and_demand_by_hand() -> None:
    fixed = draw_trials(TEST, MOTION, Range(293.15, 293.15), Range(0.5, 0.5))
    answer = demand(fixed, ENGINE, CRANK)
    total, _ = quad(area_at, 0.0, 180.0, limit=200)
    assert answer.time_area.median == pytest.approx(total / (360.0 * 100.0), rel=2e-3)
    sound = math.sqrt(1.4 * 287.05 * 293.15)
    shown = present(answer.curve)
    place = int(np.flatnonzero(shown.angles == 76.0)[0])
    rate = math.pi / 4.0 * 0.0864**2 * float(CRANK.speed(np.array(76.0), 100.0))
    assert shown.median[place] == pytest.approx(rate / (sound * area_at(76.0)), rel=2e-3)


@pytest.mark.source("SciPy: quad of piston speed over the stroke against quad of the area")
@pytest.mark.parametrize("rod", [0.12, 0.1435, 0.5])
def test_the_mean_demand_is_the_stroke_s_own_weighted_by_area(rod: float) -> None:
    """Whatever the rod: the mean of M, each angle by its area, from the piston's own speed."""
    fixed = draw_trials(TEST, MOTION, Range(293.15, 293.15), Range(0.5, 0.5))
    answer = demand(fixed, ENGINE, SliderCrank(0.0864, rod))
    sound, crank = math.sqrt(1.4 * 287.05 * 293.15), SliderCrank(0.0864, rod)

    def rate(angle: float) -> float:
        return math.pi / 4.0 * 0.0864**2 * float(crank.speed(np.array(angle), 100.0))

    asked, _ = quad(rate, 0.0, 180.0)
    total, _ = quad(area_at, 0.0, 180.0, limit=200)
    assert answer.mean_demand.median == pytest.approx(asked / (sound * total), rel=2e-3)


@pytest.mark.source("isentropic choked flow: NASA Glenn, Mass flow choking; the volume by hand")
def test_the_least_time_area_fills_the_cylinder_when_choked() -> None:
    """Choked flow through it for its time passes the swept volume at the density before it."""
    fixed = draw_trials(TEST, MOTION, Range(293.15, 293.15), Range(0.5, 0.5))
    least = demand(fixed, ENGINE).least_time_area
    density = 101325.0 / (287.05 * 293.15)
    flux = float(ideal_mass_flux(101325.0, density, 0.3 * 101325.0))
    assert flux * least.median == pytest.approx(density * math.pi / 4 * 0.0864**3, rel=1e-9)
    assert least.low == pytest.approx(least.high, rel=1e-12)


def area_at(angle: float) -> float:
    return float(OpenPort(MOTION, Port.of(TEST)).area(np.array([angle]))[0])


def test_twice_the_speed_asks_twice_and_leaves_half_the_time() -> None:
    once, twice = at(), at(replace(ENGINE, speed=200.0))
    assert twice.index.median == pytest.approx(2.0 * once.index.median, rel=1e-12)
    assert twice.time_area.low == pytest.approx(once.time_area.low / 2.0, rel=1e-12)
    assert twice.filling_speed.high == pytest.approx(once.filling_speed.high, rel=1e-12)
    assert present(twice.greatest).median == pytest.approx(2 * present(once.greatest).median)


def test_below_the_speed_where_filling_falls_the_engine_limits() -> None:
    slow = charged(replace(ENGINE, speed=20.0))
    assert (slow.speed.low, slow.speed.high) == (20.0, 20.0)
    assert slow.air.low < slow.air.high


def test_a_choked_share_grows_with_speed() -> None:
    shares = [present(at(replace(ENGINE, speed=speed)).choked_share) for speed in (50, 150, 300)]
    assert shares[0].high == 0.0
    assert shares[0].median <= shares[1].median < shares[2].median <= 1.0


def test_without_a_rod_nothing_is_known_by_angle() -> None:
    answer = demand(trials(), ENGINE)
    assert (answer.curve, answer.greatest, answer.greatest_piston_speed) == (None, None, None)


def test_without_a_fuel_there_is_air_and_no_power() -> None:
    assert charged(charge=replace(CHARGE, air_fuel=None)).power is None


def test_an_interval_is_never_a_single_number() -> None:
    answer = charged()
    for figure in (answer.speed, answer.air, present(answer.power)):
        assert figure.low < figure.median < figure.high
