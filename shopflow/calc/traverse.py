r"""A section traversed with a pitot probe: velocity by place, its integral and its energy.

Places lie on arms from the middle of the section to its wall, at shares of the way there. An arm
stands for the sector about it. With ρ the share of the way and s = ρ² the area inside it, both as
shares of the whole, any figure f integrates as

.. math:: \frac{1}{A} \int f \, dA = \sum_k w_k \int_0^1 f_k(s) \, ds

w the shares of the sectors. Along an arm f is the monotone cubic through the readings; between the
last and the wall the velocity is the power law of the distance from the wall through the last two,
as ISO 3966:2020 takes the peripheral zone (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi

import numpy as np

from shopflow.calc.air import GAMMA, GAS_CONSTANT_DRY_AIR, speed_of_sound
from shopflow.calc.array_types import Floats
from shopflow.calc.lift_curve import LiftCurve
from shopflow.calc.monotone import MonotoneCubic
from shopflow.calc.reduction import Reduction
from shopflow.texts import gettext

RINGS = {
    3: (0.358, 0.730, 0.936),
    4: (0.310, 0.632, 0.766, 0.958),
    5: (0.278, 0.566, 0.694, 0.846, 0.962),
}
"""Shares of the way from the middle to the wall at which to read, by their number: the
log-linear rule of ISO 3966 for a round section, as public copies have it to three digits."""

ARMS = (4, 6, 8)
"""Numbers of arms on offer."""

STEPS = 2_000
"""Steps of an arm's integral."""

CORNER_STEPS = 1_440
"""Steps of a full turn in which the sectors' areas are summed."""

HIGHEST_MACH = 0.25
"""Up to which ISO 3966 applies: its scope."""


@dataclass(frozen=True)
class TraversedSection:
    """A section's outline with the arms it is traversed on."""

    is_rectangle: bool
    """False for a round or oval one."""

    width: float
    """m, along the first arm's direction."""

    height: float
    arms: int
    rings: int

    @property
    def area(self) -> float:
        """m2."""
        whole = self.width * self.height
        return whole if self.is_rectangle else pi / 4.0 * whole

    @property
    def angles(self) -> Floats:
        """Direction of each arm, rad, the first to the right, counterclockwise."""
        return np.arange(self.arms) * 2.0 * pi / self.arms

    @property
    def degrees(self) -> tuple[float, ...]:
        """Direction of each arm, degrees."""
        return tuple(360.0 * arm / self.arms for arm in range(self.arms))

    @property
    def shares(self) -> tuple[float, ...]:
        """Shares of the way to the wall, from the middle outwards."""
        return RINGS[self.rings]

    def wall(self, angles: Floats) -> Floats:
        """Distance of the wall from the middle in directions, m."""
        across, up = np.abs(np.cos(angles)), np.abs(np.sin(angles))
        half, rise = self.width / 2.0, self.height / 2.0
        if not self.is_rectangle:
            return np.asarray(1.0 / np.hypot(across / half, up / rise))
        with np.errstate(divide="ignore"):
            return np.minimum(half / across, rise / up)

    @property
    def weights(self) -> Floats:
        """Share of the area of the sector about each arm."""
        steps = CORNER_STEPS // self.arms
        offsets = (np.arange(steps) + 0.5) / steps - 0.5
        turns = self.angles[:, np.newaxis] + offsets * 2.0 * pi / self.arms
        sectors = (self.wall(turns) ** 2).sum(axis=1)
        return np.asarray(sectors / sectors.sum())

    def places(self) -> Floats:
        """Places of the readings, m across and up from the middle: by ring, by arm."""
        lengths = np.outer(self.shares, self.wall(self.angles))
        return np.stack((lengths * np.cos(self.angles), lengths * np.sin(self.angles)), axis=-1)


@dataclass(frozen=True)
class ProbedAir:
    """Air that the probe reads in."""

    stagnation_pressure: float | None
    """Pa; None where the static pressure is known."""

    static_pressure: float | None
    temperature: float
    """Stagnation, K."""

    room_density: float
    """kg/m3; volume flows are at it."""

    coefficient: float = 1.0
    """Of the probe: velocity over that of its pressure difference."""


@dataclass(frozen=True)
class Traverse:
    """A section traversed: velocity by place, and what it comes to."""

    middle: float
    """Velocity in the middle, m/s."""

    velocities: Floats
    """By ring and arm, m/s."""

    mean_velocity: float
    """Over the section, m/s."""

    energy_factor: float
    """α: kinetic energy over that of the mean velocity."""

    momentum_factor: float
    """β: momentum over that of the mean velocity."""

    flow: float
    """At the density of the room, m3/s."""

    highest_mach: float


def probe_velocity(difference: Floats, air: ProbedAir) -> tuple[Floats, Floats]:
    r"""Velocity, and density over that of the room, of a pitot probe's pressure difference.

    .. math:: v = K \sqrt{\frac{2 \Delta p}{\rho}} (1 - \varepsilon)

    with :math:`1-\varepsilon` what air expands by between its stagnation and its static state.

    Parameters
    ----------
    difference : total less static pressure, Pa, 0 or more
    air : with one of the two pressures

    Raises
    ------
    ValueError where a difference is as large as the stagnation pressure

    Notes
    -----
    Source: ISO 3966:2020 (scope seen, formula from memory); isentropic, so that for small
    differences v is the square root of 2 Δp/ρ.

    Examples
    --------
    100 Pa in air of 20 °C and 101325 Pa: by hand sqrt(200/1.20412) = 12.888 m/s.

    >>> air = ProbedAir(None, 101325.0, 293.15, 1.20412)
    >>> round(float(probe_velocity(np.array(100.0), air)[0]), 1)
    12.9
    """
    if air.static_pressure is not None:
        static = np.full_like(difference, air.static_pressure)
        total = static + difference
    elif air.stagnation_pressure is not None:
        total = np.full_like(difference, air.stagnation_pressure)
        static = total - difference
    else:
        raise ValueError(gettext("neither the stagnation nor the static pressure is known"))
    if not (static > 0.0).all():
        raise ValueError(gettext("a pressure difference is above the pressure of the air"))
    heat = GAMMA / (GAMMA - 1.0)
    cooled = (static / total) ** (1.0 / heat)
    speed = np.sqrt(2.0 * heat * GAS_CONSTANT_DRY_AIR * air.temperature * (1.0 - cooled))
    density = static / (GAS_CONSTANT_DRY_AIR * air.temperature * cooled)
    return np.asarray(air.coefficient * speed), np.asarray(density / air.room_density)


def flow_at(test: Reduction, lift: float) -> float:
    """Flow of a bench at a lift, at its test pressure and the density of the room, m3/s."""
    return float(LiftCurve(test.lifts, test.flow_as_tested).at(np.array([lift]))[0])


def traverse(
    section: TraversedSection,
    middle: float,
    differences: Sequence[Sequence[float]] | Floats,
    air: ProbedAir,
) -> Traverse:
    r"""Sum up a traverse.

    .. math:: V = \frac{1}{A} \int v \, dA, \quad \alpha = \frac{\int v^3 \, dA}{V^3 A}, \quad
              \beta = \frac{\int v^2 \, dA}{V^2 A}

    Parameters
    ----------
    section : its outline and arms
    middle : pressure difference in the middle, Pa
    differences : by ring and arm, Pa
    air : that the probe reads in

    Notes
    -----
    The probe is taken to point into the flow: swirl and a flow that turns back are not seen.
    """
    velocities, densities = probe_velocity(np.asarray(differences, dtype=float), air)
    inner, inner_density = probe_velocity(np.array([middle]), air)
    arms = range(section.arms)
    curves = [_Arm.of(section.shares, inner[0], velocities[:, arm]) for arm in arms]
    loads = [
        _Arm.of(section.shares, inner[0] * inner_density[0], velocities[:, arm] * densities[:, arm])
        for arm in arms
    ]
    weights = section.weights
    mean, square, cube = (
        float(weights @ [curve.mean(power) for curve in curves]) for power in (1, 2, 3)
    )
    load = float(weights @ [curve.mean(1) for curve in loads])
    greatest = max(float(velocities.max()), float(inner[0]))
    return Traverse(
        middle=float(inner[0]),
        velocities=velocities,
        mean_velocity=mean,
        energy_factor=cube / mean**3 if mean else float("nan"),
        momentum_factor=square / mean**2 if mean else float("nan"),
        flow=load * section.area,
        highest_mach=greatest / float(speed_of_sound(air.temperature)),
    )


@dataclass(frozen=True)
class _Arm:
    """Values along an arm, over the share of the area inside."""

    curve: MonotoneCubic
    last: float
    """Value of the last reading."""

    wall: float
    """Its distance from the wall, as a share of the way."""

    power: float
    """Of the distance from the wall, by which values fall to it."""

    @classmethod
    def of(cls, shares: Sequence[float], middle: float, values: Floats) -> _Arm:
        """The arm through readings from the middle outwards."""
        inside = np.array([0.0, *shares]) ** 2
        every = np.array([middle, *values.tolist()])
        return cls(
            MonotoneCubic(inside, every),
            float(every[-1]),
            1.0 - shares[-1],
            _power(1.0 - np.array(shares[-2:]), every[-2:]),
        )

    def mean(self, power: int) -> float:
        """Mean of the values raised to a power, over the whole area of the sector."""
        inside = (1.0 - self.wall) ** 2
        along = np.linspace(0.0, inside, STEPS + 1)
        body = float(np.trapezoid(self.curve.at(along) ** power, along))
        falls = power * self.power
        zone = self.wall / (falls + 1.0) - self.wall**2 / (falls + 2.0)
        return body + 2.0 * self.last**power * zone


def _power(distances: Floats, values: Floats) -> float:
    """Power of the wall's distance through the last two readings, between 0 and 1."""
    before, last = values.tolist()
    if before <= 0.0 or last <= 0.0:
        return 1.0
    return float(np.clip(np.log(last / before) / np.log(distances[1] / distances[0]), 0.0, 1.0))
