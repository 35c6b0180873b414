"""Ports through a cam: effective area over the time that the valves are open."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import isfinite

import numpy as np

from shopflow.calc.air import speed_of_sound
from shopflow.calc.array_types import Floats
from shopflow.calc.cam import ValveMotion
from shopflow.calc.lift_curve import LiftCurve
from shopflow.calc.machindex import area_mach_index, mean_piston_speed
from shopflow.calc.reduction import Reduction
from shopflow.texts import gettext

STEPS = 16_384
"""Steps of an integral: twice as many change none by a part in 1e7."""

BOTTOM_DEAD_CENTRE = -180.0
"""Before the overlap: where blow-down ends."""


@dataclass(frozen=True)
class Engine:
    """Engine's data that its ports are seen through, SI."""

    bore: float
    stroke: float
    speed: float
    """Of the crankshaft, revolutions per second."""


@dataclass(frozen=True)
class Port:
    """Effective area over lift, as tested: all valves of the port together."""

    curve: LiftCurve
    temperature: float
    """Of the air it was tested with, K."""

    @classmethod
    def of(cls, test: Reduction) -> Port:
        """The port as a test found it."""
        return cls(LiftCurve(test.lifts, test.effective_area), test.test.temperature)

    @property
    def last_lift(self) -> float:
        """The greatest lift tested, m."""
        return float(self.curve.x[-1])


@dataclass(frozen=True)
class OpenPort:
    """A port behind its valve; without a test of it only the valve's motion is known."""

    motion: ValveMotion
    port: Port | None

    def area(self, angles: Floats) -> Floats:
        """Effective area at crank angles, m2; above the last tested lift the area there."""
        if self.port is None:
            raise ValueError(gettext("a port without a test has no area"))
        return self.port.curve.clamped(self.motion.lift(angles))


@dataclass(frozen=True, slots=True)
class SideOfCycle:
    """One side through its cam, SI but for crank degrees; the keys of the JSON."""

    opens: float
    closes: float
    max_lift: float
    area_integral: float | None
    """Over the open period, m2 deg."""

    mean_effective_area: float | None
    """That over the open period, m2."""

    time_area: float | None
    """m2 s at the engine's speed."""

    share_beyond_test: float | None
    """Share of the open period, by angle, above the last tested lift."""


@dataclass(frozen=True, slots=True)
class Cycle:
    """An engine's ports through its cam; None for what cannot be had."""

    intake: SideOfCycle
    exhaust: SideOfCycle | None
    blowdown_area_integral: float | None
    """Of the exhaust from its opening to bottom dead centre, m2 deg."""

    overlap_area_integral: float | None
    """Of both ports in series while both are open, m2 deg."""

    mach_index: float | None


def cycle(
    engine: Engine,
    intake: OpenPort,
    exhaust: OpenPort | None = None,
    temperature: float | None = None,
    steps: int = STEPS,
) -> Cycle:
    r"""Effective area over the time that the valves are open.

    Parameters
    ----------
    engine : in SI
    intake, exhaust : each port behind its valve
    temperature : of the intake's air, K; None for that of the intake's test
    steps : of each integral

    Returns
    -------
    Cycle

    Raises
    ------
    ValueError where the figures leave what a number can hold

    Notes
    -----
    The overlap's is the area of both in series, 1/sqrt(1/Ai^2 + 1/Ae^2), as of two restrictions
    that the same flow passes one after the other without regaining pressure between them.

    Mach index: mean piston speed x piston area/(speed of sound x mean effective area of the intake
    over its open period). Source: JSME dictionary of mechanical engineering, entry 11:1002813.
    """
    with np.errstate(all="ignore"):
        of_intake = side_of_cycle(intake, engine.speed, steps)
        calculated = Cycle(
            intake=of_intake,
            exhaust=None if exhaust is None else side_of_cycle(exhaust, engine.speed, steps),
            blowdown_area_integral=_blowdown(exhaust, steps),
            overlap_area_integral=_overlap(intake, exhaust, steps),
            mach_index=_mach_index(engine, intake, of_intake, temperature),
        )
    if not all(isfinite(figure) for figure in _figures(calculated)):
        raise ValueError(gettext("these values are too large or too small to calculate with"))
    return calculated


def side_of_cycle(side: OpenPort, speed: float, steps: int = STEPS) -> SideOfCycle:
    """One side through its cam at a speed, revolutions per second."""
    motion, port = side.motion, side.port
    where = (motion.opens, motion.closes, motion.greatest_lift)
    if port is None:
        return SideOfCycle(*where, None, None, None, None)
    integral = integrated(side.area, motion.opens, motion.closes, steps)
    return SideOfCycle(
        *where,
        area_integral=integral,
        mean_effective_area=integral / motion.duration,
        time_area=integral / (360.0 * speed),
        share_beyond_test=motion.share_above(port.last_lift),
    )


def integrated(
    figure: Callable[[Floats], Floats], low: float, high: float, steps: int = STEPS
) -> float:
    """Integral of a figure over crank angle, by trapezoids; 0 where there is no range.

    >>> round(integrated(lambda angles: np.cos(np.radians(angles)), -90.0, 90.0), 5)
    114.59156
    """
    if high <= low:
        return 0.0
    return float(np.trapezoid(figure(np.linspace(low, high, steps + 1)), dx=(high - low) / steps))


def series_area(intake: Floats, exhaust: Floats) -> Floats:
    """Effective area of two restrictions one after the other; 0 where either is shut.

    >>> round(float(series_area(np.array(3.0), np.array(4.0))), 12)
    2.4
    """
    both = np.hypot(intake, exhaust)
    return np.divide(intake * exhaust, both, out=np.zeros_like(both), where=both > 0.0)


def _figures(calculated: Cycle) -> Iterator[float]:
    """Every figure that there is."""
    figures = [
        calculated.blowdown_area_integral,
        calculated.overlap_area_integral,
        calculated.mach_index,
    ]
    for side in filter(None, (calculated.intake, calculated.exhaust)):
        figures += [getattr(side, name) for name in side.__slots__]
    yield from (figure for figure in figures if figure is not None)


def _blowdown(exhaust: OpenPort | None, steps: int) -> float | None:
    if exhaust is None or exhaust.port is None:
        return None
    end = min(BOTTOM_DEAD_CENTRE, exhaust.motion.closes)
    return integrated(exhaust.area, exhaust.motion.opens, end, steps)


def _overlap(intake: OpenPort, exhaust: OpenPort | None, steps: int) -> float | None:
    if exhaust is None or exhaust.port is None or intake.port is None:
        return None
    low = max(intake.motion.opens, exhaust.motion.opens)
    high = min(intake.motion.closes, exhaust.motion.closes)

    def through_both(angles: Floats) -> Floats:
        return series_area(intake.area(angles), exhaust.area(angles))

    return integrated(through_both, low, high, steps)


def _mach_index(
    engine: Engine, intake: OpenPort, of_intake: SideOfCycle, temperature: float | None
) -> float | None:
    if intake.port is None or of_intake.mean_effective_area is None:
        return None
    air = intake.port.temperature if temperature is None else temperature
    return float(
        area_mach_index(
            # As numpy's number it overflows to infinity, which is refused, and raises nothing.
            np.float64(engine.bore),
            mean_piston_speed(engine.stroke, engine.speed),
            of_intake.mean_effective_area,
            speed_of_sound(air),
        )
    )
