"""Piston travel and speed over crank angle: a slider and a crank, exactly."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

import numpy as np

from shopflow.calc.array_types import Floats
from shopflow.texts import gettext

STEPS = 36_000
"""Steps of a half turn in which the greatest speed is sought: 0.005 degrees each."""


@dataclass(frozen=True)
class SliderCrank:
    r"""A piston on its rod and crank, without offset of the pin.

    .. math:: s = r(1 - \cos\theta) + l - \sqrt{l^2 - r^2 \sin^2\theta}

    Parameters
    ----------
    stroke : twice the crank's radius r, m
    rod_length : l, centre to centre, m; more than r

    Notes
    -----
    Source: Heywood, Internal Combustion Engine Fundamentals (1988), section 2.2, from memory;
    derived afresh from the triangle of crank, rod and bore.
    """

    stroke: float
    rod_length: float

    def __post_init__(self) -> None:
        """Raise ValueError where the rod cannot pass over the crank."""
        if not (isfinite(self.rod_length) and self.rod_length > self.stroke / 2.0 > 0.0):
            raise ValueError(gettext("the rod is shorter than the crank's radius"))

    def travel(self, angles: Floats) -> Floats:
        """Way of the piston down from top dead centre, m, at crank degrees after it.

        >>> crank = SliderCrank(0.086, 0.143)
        >>> [round(float(crank.travel(np.array(angle))), 9) for angle in (0.0, 180.0)]
        [0.0, 0.086]
        """
        radius, turned = self.stroke / 2.0, np.radians(angles)
        rod = np.sqrt(self.rod_length**2 - (radius * np.sin(turned)) ** 2)
        return np.asarray(radius * (1.0 - np.cos(turned)) + self.rod_length - rod)

    def speed(self, angles: Floats, revolutions: float) -> Floats:
        """Speed of the piston, m/s, positive downwards, at revolutions per second.

        At right angles to the bore the rod does not matter: the crank pin's own speed.

        >>> round(float(SliderCrank(0.086, 0.143).speed(np.array(90.0), 100.0)), 3)
        27.018
        """
        radius, turned = self.stroke / 2.0, np.radians(angles)
        rod = np.sqrt(self.rod_length**2 - (radius * np.sin(turned)) ** 2)
        of_pin = 2.0 * np.pi * revolutions * radius
        return np.asarray(of_pin * np.sin(turned) * (1.0 + radius * np.cos(turned) / rod))

    def greatest_speed(self, revolutions: float) -> tuple[float, float]:
        """Greatest speed on the way down, m/s, and the crank degrees at which it comes."""
        angles = np.linspace(0.0, 180.0, STEPS + 1)
        speeds = self.speed(angles, revolutions)
        place = int(speeds.argmax())
        return float(speeds[place]), float(angles[place])
