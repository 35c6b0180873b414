r"""Swirl or tumble of a port on a flow bench: what a meter below the bore shows of the air's spin.

A meter in a tube of bore B below the head either lets a vane wheel turn with the air, or stops the
air's rotation in a honeycomb and shows the torque that takes. Air that turns as a solid body at ω
and flows evenly has the angular momentum flux

.. math:: T = \dot m \omega B^2/8

which both kinds are held against, so that one coefficient belongs to both:

.. math:: N = \frac{\omega B}{V_0} = \frac{8 T}{\dot m V_0 B}

V0 is the velocity of the ideal flow at the test pressure. Source: Heywood, Internal Combustion
Engine Fundamentals (1988), section 8.3.2, from memory; the factor 8 derived afresh.

A meter shows less than there is. Its efficiency is what it shows over the true angular momentum
flux: 0.70 to 0.93 of impulse (torque) meters and 0.32 to 0.45 of vane meters, with no factor that
holds for all (Heim and Ghandhi, Proc. IMechE D 225 (2011) 1067, abstract).
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import inf, sqrt

import numpy as np

from shopflow.calc.across import STEP as PRESSURE_STEP
from shopflow.calc.across import ideal_flux, pressures_across
from shopflow.calc.array_types import Floats
from shopflow.calc.estimates import Estimates, Group, Input, Source
from shopflow.calc.gas import expansion_velocity
from shopflow.calc.lift_curve import LiftCurve
from shopflow.calc.monotone import MonotoneCubic
from shopflow.calc.reduction import Reduction

STEP = 1e-6
"""Of a reading or an area, by which a figure's change with it is taken."""

SAME_LIFT = 1e-9
"""m; lifts as near are one, typed in another unit."""

TORQUE_EFFICIENCIES = (0.70, 0.93)
"""Least and greatest efficiency of impulse meters tried by Heim and Ghandhi (2011), abstract."""

VANE_EFFICIENCIES = (0.32, 0.45)
"""Of vane meters, there."""

Figure = Callable[[Floats, Floats], Floats]
"""Takes coefficients at the meter's lifts and areas at the flow test's; gives figures."""


@dataclass(frozen=True)
class SwirlMeter:
    """A meter of the air's rotation, SI."""

    is_torque: bool
    """Torque of a honeycomb; otherwise the speed of a vane wheel."""

    bore: float
    """Of the tube it stands in, m."""

    efficiency: float | None = None
    """Angular momentum flux as it shows it over the true one; None where it is not known."""

    efficiency_uncertainty: float | None = None
    """Standard, of the efficiency, relative; None where it is not known."""

    division: float | None = None
    """One division of its scale, N m or rad/s; None where it is not known."""

    key: Hashable = None
    """The meter: tests with it share its efficiency's error; None where it has no name."""

    @property
    def efficiencies(self) -> tuple[float, float]:
        """Least and greatest efficiency published for its kind."""
        return TORQUE_EFFICIENCIES if self.is_torque else VANE_EFFICIENCIES


@dataclass(frozen=True, eq=False)
class SwirlTest:
    """Readings of a meter at lifts, beside the flow test that says what flows there."""

    flow: Reduction
    meter: SwirlMeter
    lifts: Floats
    """m; strictly increasing, within those of the flow test."""

    runs: tuple[tuple[float, ...], ...]
    """At each lift, N m or rad/s; negative where the air turns the other way."""

    pressure: float
    """Difference across the head while the meter was read, Pa."""

    @classmethod
    def of(
        cls,
        flow: Reduction,
        meter: SwirlMeter,
        runs: Mapping[float, Sequence[float]],
        pressure: float,
    ) -> SwirlTest:
        """The test from its runs by lift, in order.

        A lift within rounding of one of the flow test's is that one.
        """
        nearest = [float(flow.lifts[np.abs(flow.lifts - lift).argmin()]) for lift in runs]
        pairs = zip(nearest, runs, strict=True)
        lifts = [near if abs(near - lift) <= SAME_LIFT else lift for near, lift in pairs]
        return cls(flow, meter, np.array(lifts), tuple(map(tuple, runs.values())), pressure)

    @cached_property
    def readings(self) -> Floats:
        """Mean of the runs at each lift."""
        return np.array([sum(runs) / len(runs) for runs in self.runs])

    @cached_property
    def velocity(self) -> float:
        """Ideal velocity V0 at the pressure, m/s."""
        return self._velocity_at(self.pressure)

    @cached_property
    def areas(self) -> Floats:
        """Effective area at each lift, by the flow test, m2."""
        return self.area_at(self.lifts, self.flow.effective_area)

    @property
    def discharge_coefficients(self) -> Floats:
        """Effective area over the area of the valve heads."""
        return np.asarray(self.areas / self.flow.terms.head_area[0])

    @property
    def mass_flows(self) -> Floats:
        """At each lift and the pressure, kg/s."""
        return np.asarray(self.areas * self._flux)

    @property
    def momentum_fluxes(self) -> Floats:
        """Angular momentum flux as the meter shows it, N m."""
        if self.meter.is_torque:
            return self.readings
        return np.asarray(self.mass_flows * self.readings * self.meter.bore**2 / 8.0)

    @property
    def momentum_per_mass(self) -> Floats:
        """That over the mass flow, m2/s."""
        return np.asarray(self.momentum_fluxes / self.mass_flows)

    @cached_property
    def indicated(self) -> Floats:
        """Coefficient at each lift as the meter shows it."""
        return self._indicated(self.readings, self.flow.effective_area)

    @property
    def coefficients(self) -> Floats | None:
        """That over the meter's efficiency; None where it is not known."""
        efficiency = self.meter.efficiency
        return None if efficiency is None else self.indicated / efficiency

    @property
    def reverses_below(self) -> float | None:
        """The lift up to which the air turns against the sense it has at the greatest lift, where
        the coefficient crosses zero; None where it never does."""
        sense = np.sign(self.indicated[-1])
        against = np.flatnonzero(self.indicated * sense < 0.0)
        if not len(against):
            return None
        low = int(against[-1])
        first, last = self.indicated[low], self.indicated[low + 1]
        span = self.lifts[low + 1] - self.lifts[low]
        return float(self.lifts[low] + span * first / (first - last))

    @property
    def scatter(self) -> tuple[float, float]:
        """Standard deviation of one reading, pooled over the lifts, and its degrees of freedom."""
        freedom = sum(len(runs) - 1 for runs in self.runs)
        means = zip(self.runs, self.readings.tolist(), strict=True)
        squares = sum((run - mean) ** 2 for runs, mean in means for run in runs)
        return (sqrt(squares / freedom), float(freedom)) if freedom else (0.0, inf)

    @property
    def is_stated(self) -> bool:
        """True where the error of a single reading is known, and that of the area where it
        counts."""
        is_read = bool(self.meter.division) or self.scatter[0] > 0.0
        return is_read and (not self.meter.is_torque or self.flow.area_errors.is_stated)

    def area_at(self, lifts: Floats, areas: Floats) -> Floats:
        """Effective area at lifts by areas at the flow test's."""
        return LiftCurve(self.flow.lifts, areas).clamped(lifts)

    def curve(self, coefficients: Floats) -> MonotoneCubic:
        """Coefficient over the lifts tested."""
        return MonotoneCubic(self.lifts, coefficients)

    def estimates(self, figure: Figure, is_corrected: bool = True) -> Estimates:
        """Figures with the errors behind them, each error in the figures' own unit.

        Parameters
        ----------
        figure : in proportion to the coefficients
        is_corrected : by the efficiency; otherwise as indicated

        Notes
        -----
        Not relative, as the area's errors are: a coefficient may be nothing. Runs scatter alike
        at every lift; a division counts as division/sqrt(12). Bore and cam are taken as exact.
        Source: JCGM 100:2008, 5.1.3, note 2 (sensitivities by differences), F.2.2.1.
        """
        efficiency = (self.meter.efficiency or 1.0) if is_corrected else 1.0
        areas = self.flow.effective_area

        def of(readings: Floats, areas: Floats) -> Floats:
            return np.asarray(figure(self._indicated(readings, areas) / efficiency, areas))

        values = of(self.readings, areas)
        by_area = _by_step(lambda moved: of(self.readings, moved), areas, areas)
        scale = np.full(len(self.readings), np.abs(self.readings).max() or 1.0)
        by_reading = _by_step(lambda moved: of(moved, areas), self.readings, scale) / scale
        errors = self.flow.area_errors
        effects = dict(errors.estimates(values, by_area).effects)
        effects |= self._of_meter(by_reading, values if is_corrected else 0.0 * values)
        for source, effect in self._of_room(values).items():
            effects[source] = effects.get(source, 0.0 * values) + effect
        freedoms: dict[Group, float] = dict(errors.estimates(values, by_area).freedoms)
        freedoms[Input.RUNS, self] = self.scatter[1]
        effects |= self._of_lift(by_reading)
        return Estimates(values, effects, freedoms)

    def expanded(self, is_corrected: bool = True) -> Floats | None:
        """Expanded uncertainty of each coefficient for 95 %; None where it is not stated."""
        if not self.is_stated or (is_corrected and self.meter.efficiency_uncertainty is None):
            return None
        return self.estimates(lambda coefficients, _: coefficients, is_corrected).expanded

    def _of_meter(self, by_reading: Floats, values: Floats) -> dict[Source, Floats]:
        """Effects of scatter, of the scale's division, and of the efficiency."""
        one, _ = self.scatter
        effects: dict[Source, Floats] = {}
        for lift, runs in enumerate(self.runs):
            column = by_reading[:, lift]
            effects[Source(Input.RUNS, self, lift)] = one / sqrt(len(runs)) * column
            division = self.meter.division or 0.0
            effects[Source(Input.RESOLUTION, self, lift)] = division / sqrt(12.0) * column
        owner = self if self.meter.key is None else self.meter.key
        relative = self.meter.efficiency_uncertainty or 0.0
        effects[Source(Input.EFFICIENCY, owner)] = -relative * values
        return effects

    def _of_room(self, values: Floats) -> dict[Source, Floats]:
        """Effects of pressure and density through what the ideal flow carries: V0 alone of a vane
        wheel, V0 and the mass flux of a torque. The gauge is the flow test's."""
        stated, owners = self.flow.test.uncertainty, self.flow.area_errors.owners
        effects: dict[Source, Floats] = {}
        if stated.pressure is not None:
            up, down = (
                self._carried(self.pressure * (1 + sign * PRESSURE_STEP)) for sign in (1, -1)
            )
            exponent = (np.log(up) - np.log(down)) / (2.0 * PRESSURE_STEP)
            source = Source(Input.PRESSURE, owners[Input.PRESSURE])
            effects[source] = -exponent * stated.pressure * values
        if stated.density is not None and not self.meter.is_torque:
            source = Source(Input.DENSITY, owners[Input.DENSITY])
            effects[source] = 0.5 * stated.density * values
        return effects

    def _of_lift(self, by_reading: Floats) -> dict[Source, Floats]:
        """Effect of the zero of the lift while the meter was read."""
        stated = self.flow.test.uncertainty.lift
        if stated is None:
            return {}
        slopes = MonotoneCubic(self.lifts, self.readings).slope(self.lifts)
        return {Source(Input.LIFT, self): by_reading @ (stated * slopes)}

    def _indicated(self, readings: Floats, areas: Floats) -> Floats:
        bore = self.meter.bore
        if not self.meter.is_torque:
            return np.asarray(readings * bore / self.velocity)
        flows = self.area_at(self.lifts, areas) * self._flux
        return np.asarray(8.0 * readings / (flows * self.velocity * bore))

    @cached_property
    def _flux(self) -> float:
        """Ideal mass flux at the pressure, kg/(s m2)."""
        return float(ideal_flux(self.flow.test, self.flow.air_density, self.pressure))

    def _velocity_at(self, pressure: float) -> float:
        test = self.flow.test
        upstream, downstream = pressures_across(test, pressure)
        density = self.flow.air_density * upstream / test.barometer
        return float(expansion_velocity(upstream, density, downstream))

    def _carried(self, pressure: float) -> float:
        velocity = self._velocity_at(pressure)
        if not self.meter.is_torque:
            return velocity
        return velocity * float(ideal_flux(self.flow.test, self.flow.air_density, pressure))


def _by_step(of: Callable[[Floats], Floats], at: Floats, scale: Floats) -> Floats:
    """Change of figures with a change of each input by its scale, by central differences: a row for
    each figure, a column for each input."""
    columns = []
    for place, size in enumerate(scale.tolist()):
        moved = np.zeros(len(at))
        moved[place] = STEP * size
        columns.append((of(at + moved) - of(at - moved)) / (2.0 * STEP))
    return np.stack(columns, axis=-1)
