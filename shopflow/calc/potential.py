"""Air and power that an intake could give its engine: intervals, never a single number."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shopflow.calc.air import GAS_CONSTANT_DRY_AIR
from shopflow.calc.array_types import Floats
from shopflow.calc.compression import cylinder_volume
from shopflow.calc.cycle import Engine
from shopflow.calc.demand import Trials, filling_speeds
from shopflow.calc.monte_carlo import Interval, Range, generator, interval

STROKES_A_REVOLUTION = 0.5
"""Intake strokes of one cylinder of a four-stroke engine."""


@dataclass(frozen=True)
class Charge:
    """Ranges behind the potential of an engine."""

    filling: Range
    """Volumetric efficiency, of the air before the valve."""

    pressure: Range
    """Absolute, before the intake valve, Pa."""

    air_fuel: Range | None = None
    """Air over fuel by mass; None where the fuel is not known, as the next."""

    consumption: Range | None = None
    """Fuel over work at the crankshaft, kg/J."""


@dataclass(frozen=True)
class Potential:
    """Air and power at the speed entered, or where filling falls if that is lower."""

    speed: Interval
    """Revolutions per second."""

    air: Interval
    """Of all cylinders, kg/s."""

    power: Interval | None
    """At the crankshaft, W."""


def potential(trials: Trials, engine: Engine, cylinders: int, charge: Charge) -> Potential:
    r"""Air and power of a four-stroke engine by its intake.

    .. math:: \dot m = \eta_v \frac{p}{R T} n V \frac{N}{2}, \quad
              P = \frac{\dot m}{(A/F)\, b}

    Parameters
    ----------
    trials : of the intake through its cam
    engine : bore, stroke and speed
    cylinders : n, all of the engine
    charge : the shop's ranges

    Notes
    -----
    N is in each trial the speed entered or, where that is lower, the one at which the Mach index
    reaches its limit. Sources: Heywood (1988), sections 2.10 and 2.13, from memory; propagation
    by JCGM 101:2008. The ranges are drawn as independent, every value as likely.
    """
    random = generator("potential", trials.mean_area[:8].tolist(), engine, cylinders, charge)
    speed = np.minimum(engine.speed, filling_speeds(trials, engine))
    air = _air(trials, engine, cylinders, charge, speed, random)
    power = None
    if charge.air_fuel is not None and charge.consumption is not None:
        fuel = air / charge.air_fuel.draw(random)
        power = interval(fuel / charge.consumption.draw(random))
    return Potential(interval(speed), interval(air), power)


def _air(
    trials: Trials,
    engine: Engine,
    cylinders: int,
    charge: Charge,
    speed: Floats,
    random: np.random.Generator,
) -> Floats:
    density = charge.pressure.draw(random) / (GAS_CONSTANT_DRY_AIR * trials.temperature)
    volume = cylinders * cylinder_volume(engine.bore, engine.stroke)
    filling = charge.filling.draw(random)
    return np.asarray(filling * density * volume * STROKES_A_REVOLUTION * speed)
