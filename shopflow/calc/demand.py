"""The engine's demand on its intake: Mach number by angle, index and time-area, as intervals."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from shopflow.calc.air import GAMMA, speed_of_sound
from shopflow.calc.array_types import Floats
from shopflow.calc.brought import figures_of
from shopflow.calc.cam import ValveMotion
from shopflow.calc.cam_gain import lifts_over_cam
from shopflow.calc.compression import cylinder_volume
from shopflow.calc.cycle import Engine
from shopflow.calc.lift_curve import LiftCurve
from shopflow.calc.machindex import area_mach_index, mean_piston_speed, speed_at_index
from shopflow.calc.monte_carlo import (
    Interval,
    Range,
    draw_estimates,
    generator,
    interval,
    intervals,
)
from shopflow.calc.piston import SliderCrank
from shopflow.calc.reduction import Reduction

BOTTOM_DEAD_CENTRE = 180.0
"""Crank degrees after top dead centre of the overlap, where the intake stroke ends."""

STEP = 4.0
"""Crank degrees between the points of the demand."""

STROKE_STEPS = 900
"""Steps of the intake stroke that its area is integrated over."""

LEAST_OPEN = 0.05
"""Share of the greatest lift below which no demand is drawn: the valve is all but shut."""

CHOKED = float((2.0 / (GAMMA + 1.0)) ** ((GAMMA + 1.0) / (2.0 * (GAMMA - 1.0))))
"""Demand that no opening can follow: the flow of a choked ideal nozzle over its area, the density
and the speed of sound before it; 0.5787 in air. Source: NASA Glenn Research Center, "Mass flow
choking"."""


@dataclass(frozen=True)
class Trials:
    """Trials of what the demand is made of, a value each."""

    mean_area: Floats
    """Of the intake over the cam's open period, m2."""

    stroke_area: Floats
    """Over the intake stroke, m2 deg: from top to bottom dead centre."""

    areas: Floats
    """At `angles`, a row a trial, m2."""

    temperature: Floats
    index_limit: Floats

    angles: Floats
    """Crank degrees after top dead centre at which the demand is known."""

    is_stated: bool
    """True where the test states how well its readings are known."""


@dataclass(frozen=True)
class DemandCurve:
    """Mach demand against crank angle: ends for 95 % at each angle, and the median."""

    angles: Floats
    low: Floats
    median: Floats
    high: Floats


@dataclass(frozen=True)
class Demand:
    """The engine's demand on its intake at one speed."""

    index: Interval
    filling_speed: Interval
    """At which the index reaches the limit, revolutions per second."""

    time_area: Interval
    """m2 s of the intake stroke."""

    least_time_area: Interval
    """m2 s that the stroke asks at the least: with every opening choked."""

    mean_demand: Interval
    """Mach demand in the mean over the stroke's time-area."""

    curve: DemandCurve | None = None
    """None without a rod length, as the next three."""

    greatest: Interval | None = None
    choked_share: Interval | None = None
    """Share of the intake stroke, by angle, at a demand that no opening can follow."""

    greatest_piston_speed: tuple[float, float] | None = None
    """m/s, and the crank degrees after top dead centre at which it comes."""


def draw_trials(
    test: Reduction, motion: ValveMotion, temperature: Range, index_limit: Range
) -> Trials:
    """Draw trials of an intake through its cam (JCGM 101:2008).

    Parameters
    ----------
    test : of the intake
    motion : of its valve
    temperature : of the air in the port, K
    index_limit : Mach index above which filling falls

    Returns
    -------
    Trials; opening and closing angles, ratio and lash are taken as known
    """
    angles = _angles(motion)
    lifts, open_lifts = motion.lift(angles), lifts_over_cam(motion)
    stroke = np.linspace(0.0, BOTTOM_DEAD_CENTRE, STROKE_STEPS + 1)
    stroke_lifts = motion.lift(stroke)

    def figure(curve: LiftCurve) -> Floats:
        mean = np.trapezoid(curve.clamped(open_lifts), axis=-1) / (len(open_lifts) - 1)
        over = np.trapezoid(curve.clamped(stroke_lifts), stroke, axis=-1)
        return np.concatenate((np.stack((mean, over), -1), curve.clamped(lifts)), -1)

    errors = test.area_errors
    estimates = figures_of(test, errors, figure)
    seed = (estimates.values.tolist(), estimates.standard.tolist(), temperature, index_limit)
    random = generator(*seed)
    drawn = draw_estimates(estimates, random)
    return Trials(
        mean_area=drawn[:, 0],
        stroke_area=drawn[:, 1],
        areas=drawn[:, 2:],
        temperature=temperature.draw(random),
        index_limit=index_limit.draw(random),
        angles=angles,
        is_stated=errors.is_stated,
    )


def indices(trials: Trials, engine: Engine) -> Floats:
    """Mean inlet Mach index of each trial: see `area_mach_index`."""
    piston = mean_piston_speed(engine.stroke, engine.speed)
    sound = speed_of_sound(trials.temperature)
    return np.asarray(area_mach_index(engine.bore, piston, trials.mean_area, sound))


def filling_speeds(trials: Trials, engine: Engine) -> Floats:
    """Speed of each trial at which its index reaches its limit, revolutions per second."""
    return np.asarray(speed_at_index(trials.index_limit, engine.speed, indices(trials, engine)))


def demand(trials: Trials, engine: Engine, crank: SliderCrank | None = None) -> Demand:
    r"""The demand on an intake at an engine's speed.

    .. math:: M(\theta) = \frac{\pi b^2/4 \cdot v(\theta)}{a_0 A(\theta)}, \quad
              \bar M = \frac{V}{a_0 \int A \, dt}

    Parameters
    ----------
    trials : of the intake through its cam
    engine : bore, stroke and speed
    crank : with its rod; None where the rod length is not known

    Notes
    -----
    The demand by angle is the Mach number that the air would need through the effective area if
    the cylinder filled at the piston's pace, at the density before the valve. It leaves out
    waves, heat and what the cylinder's own pressure does: a measure of the opening, not a
    simulation.

    The mean of the demand, each angle by its share of the time-area, is the volume V swept over
    the speed of sound and the time-area, whatever the rod: the piston's area and speed integrate
    to V. Where it reaches the choked demand the time-area is the least that the stroke asks.

    The limit of the index holds for the mean area over the open period alone, so that the
    time-area of the stroke is not judged by it.
    """
    time_area = trials.stroke_area / (360.0 * engine.speed)
    swept = cylinder_volume(engine.bore, engine.stroke) / speed_of_sound(trials.temperature)
    whole = Demand(
        index=interval(indices(trials, engine)),
        filling_speed=interval(filling_speeds(trials, engine)),
        time_area=interval(time_area),
        least_time_area=interval(swept / CHOKED),
        mean_demand=interval(swept / time_area),
    )
    return whole if crank is None else _by_angle(whole, trials, engine, crank)


def _by_angle(whole: Demand, trials: Trials, engine: Engine, crank: SliderCrank) -> Demand:
    speed = crank.speed(trials.angles, engine.speed)
    rate = np.pi / 4.0 * engine.bore**2 * speed
    sound = speed_of_sound(trials.temperature)[:, np.newaxis]
    numbers = rate / (sound * trials.areas)
    low, median, high = intervals(numbers)
    share = (numbers > CHOKED).sum(axis=1) * STEP / BOTTOM_DEAD_CENTRE
    return replace(
        whole,
        curve=DemandCurve(trials.angles, low, median, high),
        greatest=interval(numbers.max(axis=1)),
        choked_share=interval(share),
        greatest_piston_speed=crank.greatest_speed(engine.speed),
    )


def _angles(motion: ValveMotion) -> Floats:
    """Angles of the intake stroke at which the valve is well open."""
    stroke = np.arange(0.0, BOTTOM_DEAD_CENTRE + STEP / 2.0, STEP)
    return stroke[motion.lift(stroke) > LEAST_OPEN * motion.greatest_lift]
