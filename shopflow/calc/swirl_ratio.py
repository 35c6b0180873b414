r"""Swirl or tumble ratio: rotation of the charge over the crankshaft's, integrated over a cam.

With K = N A, the coefficient times the effective area, at each crank angle α in radians:

1. Constant pressure drop, over the open period. The charge that the valve lets in at one ideal
   velocity V0 fills the swept volume, and keeps the angular momentum it brings:

   .. math:: R = \frac{\pi}{4} B S \int K d\alpha \Big/ \left(\int A d\alpha\right)^2

2. Piston speed, from top to bottom dead center. At each angle the air flows as fast as the piston
   draws it, and each share counts by the mass and the velocity it comes with:

   .. math:: R = \frac{1}{\pi} \int_0^\pi \frac{N B S}{4 A} \left(\frac{c}{c_m}\right)^2 d\alpha

B is the meter's bore, S the engine's stroke, c the piston's speed and c_m its mean. The engine's
bore drops out: angular momentum is the same in any tube.

Source of 1: the ratio for a constant pressure drop as engine textbooks have it (Heywood 1988,
section 8.3.2; Stone and Ladommatos, SAE 920642 (1992) review the ways), from memory, derived
afresh; of 2: Thien, Österreichische Ingenieur-Zeitschrift 8 (1965) 291, from memory, derived
afresh.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

import numpy as np

from shopflow.calc.array_types import Floats
from shopflow.calc.cam import ValveMotion
from shopflow.calc.estimates import Estimates
from shopflow.calc.lift_curve import LiftCurve
from shopflow.calc.piston import SliderCrank
from shopflow.calc.swirl import SwirlTest

STEPS = 2_000
"""Steps of an integral over the open period; the figure is within a part in 1e5 of finer ones."""

BOTTOM = 180.0
"""Bottom dead center, crank degrees after the top."""


@dataclass(frozen=True)
class SwirlEngine:
    """Engine that a port's rotation is integrated for, SI."""

    motion: ValveMotion
    stroke: float
    rod_length: float | None = None


@dataclass(frozen=True)
class Ratio:
    """A ratio with its uncertainty."""

    value: float
    expanded: float | None
    """For 95 %; None where it is not stated."""


@dataclass(frozen=True)
class SwirlRatios:
    """Ratios of a port through a cam; corrected where the meter's efficiency is known."""

    is_corrected: bool
    over_cam: Ratio
    """By constant pressure drop over the open period."""

    by_piston: Ratio | None
    """By piston speed from top to bottom dead center; None without a rod's length, or where the
    valve is shut in between."""

    share_beyond: float
    """Share of the open period above the last lift the meter was read at."""


def swirl_ratios(test: SwirlTest, engine: SwirlEngine) -> SwirlRatios:
    """Ratios of a port through a cam."""
    is_corrected = test.meter.efficiency is not None
    estimates = ratio_estimates(test, engine, is_corrected)
    is_stated = test.is_stated and test.flow.area_errors.is_stated
    if is_corrected:
        is_stated = is_stated and test.meter.efficiency_uncertainty is not None
    pairs = zip(estimates.values.tolist(), estimates.expanded.tolist(), strict=True)
    ratios = [Ratio(value, margin if is_stated else None) for value, margin in pairs]
    return SwirlRatios(
        is_corrected,
        over_cam=ratios[0],
        by_piston=ratios[1] if len(ratios) > 1 else None,
        share_beyond=engine.motion.share_above(float(test.lifts[-1])),
    )


def ratio_estimates(test: SwirlTest, engine: SwirlEngine, is_corrected: bool) -> Estimates:
    """The ratio over the cam, and by piston speed where there is one."""
    over_cam = _OverCam(
        test, engine.motion, np.linspace(engine.motion.opens, engine.motion.closes, STEPS + 1)
    )
    piston = _piston(test, engine)

    def figure(coefficients: Floats, areas: Floats) -> Floats:
        ratios = [over_cam.ratio(coefficients, areas, engine.stroke)]
        if piston is not None:
            ratios.append(piston.ratio(coefficients, areas))
        return np.array(ratios)

    return test.estimates(figure, is_corrected)


@dataclass(frozen=True)
class _OverCam:
    """Coefficient times area, and area, at crank angles."""

    test: SwirlTest
    motion: ValveMotion
    angles: Floats

    def products(self, coefficients: Floats, areas: Floats) -> tuple[Floats, Floats]:
        """K and A; above the last lift read the coefficient there, none of it where it is shut."""
        test, lifts = self.test, self.motion.lift(self.angles)
        over = LiftCurve(test.flow.lifts, areas).clamped(lifts)
        last = float(test.lifts[-1])
        inside = LiftCurve(test.lifts, coefficients * test.area_at(test.lifts, areas))
        return np.where(lifts > last, coefficients[-1] * over, inside.clamped(lifts)), over

    def ratio(self, coefficients: Floats, areas: Floats, stroke: float) -> float:
        products, over = self.products(coefficients, areas)
        angles = np.radians(self.angles)
        flowed = np.trapezoid(over, angles)
        turned = np.trapezoid(products, angles)
        return float(pi / 4.0 * self.test.meter.bore * stroke * turned / flowed**2)


@dataclass(frozen=True)
class _ByPiston:
    """The same weighted by the piston's speed, and with its stroke."""

    over: _OverCam
    weights: Floats
    """Square of the speed over its mean, at the angles."""

    stroke: float

    def ratio(self, coefficients: Floats, areas: Floats) -> float:
        products, over = self.over.products(coefficients, areas)
        at_speed = self.weights * products / over**2
        integral = np.trapezoid(at_speed, np.radians(self.over.angles))
        return float(integral * self.over.test.meter.bore * self.stroke / (4.0 * pi))


def _piston(test: SwirlTest, engine: SwirlEngine) -> _ByPiston | None:
    if engine.rod_length is None or engine.motion.opens >= 0.0 or engine.motion.closes <= BOTTOM:
        return None
    angles = np.linspace(0.0, BOTTOM, STEPS + 1)
    if not (engine.motion.lift(angles) > 0.0).all():
        return None
    crank = SliderCrank(engine.stroke, engine.rod_length)
    weights = (crank.speed(angles, 1.0) / (2.0 * engine.stroke)) ** 2
    return _ByPiston(_OverCam(test, engine.motion, angles), weights, engine.stroke)
