"""Expanded uncertainty of every figure of a flow test, for 95 % from its degrees of freedom."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from shopflow.calc.area_errors import AreaErrors
from shopflow.calc.areas import Seat, least_valve_area
from shopflow.calc.array_types import Array, Floats
from shopflow.calc.brought import figures
from shopflow.calc.estimates import Input
from shopflow.calc.reduction import Reduction

SMALL_STEP = 1e-7
"""m of lift over which the least area's steepness is taken."""

SMALL_SHARE = 1e-6
"""Of a size, over which the least area's change with it is taken."""

VOLUME_METER = 0.5
"""Power of the density that an effective area read by a volume meter goes with, and an effective
area's own flow with the inverse of."""


@dataclass(frozen=True)
class Margins:
    """Expanded uncertainties of a test's figures over its lifts, each in the figure's unit.

    A size of valve, seat or port whose uncertainty is not stated is taken as exact.
    """

    flow_as_tested: Floats
    flow_isentropic: Floats
    flow: Floats
    effective_area: Floats
    cd_curtain: Floats
    cd_head: Floats
    cd_least_area: Floats | None
    velocity: Floats | None
    kinetic_energy_flux: Floats | None
    mean_flow: float
    mean_effective_area: float


def margins(found: Reduction) -> Margins | None:
    """What each figure of a test may be off by; None where nothing is known of its readings.

    Notes
    -----
    Every figure goes with the effective area's errors, but for the density of the air, which acts
    on a flow otherwise, and the lift, which acts on the areas that coefficients are on, as the
    sizes of valve and seat do. Energy goes with the third power of the flow, and with the port's
    area to the power of -2.
    Source: JCGM 100:2008, 5.1.2 and G.4.1.
    """
    areas, flows = found.area_errors, flow_errors(found)
    if not areas.is_stated:
        return None
    seat = found.test.valve.seat
    curtain = _on(_by_diameter(areas, found, 1.0), found, 1.0 / found.lifts)
    least = (
        None if seat is None else _on(_by_seat(areas, found, seat), found, _steepness(found, seat))
    )
    in_port = _by_port(flows, found)
    return Margins(
        flow_as_tested=_expanded(flows, found.flow_as_tested),
        flow_isentropic=_expanded(flows, found.flow_isentropic),
        flow=_expanded(flows, found.flow),
        effective_area=_expanded(areas, found.effective_area),
        cd_curtain=_expanded(curtain, found.cd_curtain),
        cd_head=_expanded(_by_diameter(areas, found, 2.0), found.cd_head),
        cd_least_area=None if least is None else _expanded(least, found.cd_least_area),
        velocity=None if found.velocity is None else _expanded(in_port, found.velocity),
        kinetic_energy_flux=None
        if found.kinetic_energy_flux is None
        else _expanded(_of_energy(found, in_port), found.kinetic_energy_flux),
        mean_flow=_of_mean_flow(found, flows),
        mean_effective_area=mean_effective_area(found)[1],
    )


def flow_errors(found: Reduction) -> AreaErrors:
    """The errors behind a test's flows at room-air density.

    For one effective area the flow goes with one over the root of the density.
    """
    stated = found.test.uncertainty.density
    exponent = found.test.density_exponent - VOLUME_METER
    known = stated if exponent else 0.0
    effect = None if known is None else known * exponent * np.ones(len(found.lifts))
    return _changed(found.area_errors, {Input.DENSITY: effect})


def mean_effective_area(found: Reduction) -> tuple[float, float]:
    """Mean effective area over a test's own lifts, and its expanded uncertainty; m2."""
    span = (float(found.lifts[0]), float(found.lifts[-1]))
    mean = figures(found, found.area_errors, found.lifts, [span])
    return float(mean.values[-1]), float(mean.values[-1] * mean.expanded[-1])


def _expanded(errors: AreaErrors, values: Floats | None) -> Floats:
    assert values is not None
    return np.asarray(values * errors.estimates(values).expanded)


def _on(errors: AreaErrors, found: Reduction, steepness: Floats) -> AreaErrors:
    """The errors of coefficients on an area whose relative steepness over lift this is."""
    stated = found.test.uncertainty.lift
    if stated is None:
        return errors
    return _changed(errors, {Input.LIFT: errors.relative[Input.LIFT] - stated * steepness})


def _by_diameter(errors: AreaErrors, found: Reduction, power: float) -> AreaErrors:
    """The errors of coefficients on an area that goes with this power of the valve's diameter."""
    stated, diameter = found.test.uncertainty.head_diameter, found.test.valve.head_diameter
    return _sized(errors, found, {Input.HEAD_DIAMETER: _share(stated, -power / diameter)})


def _by_port(errors: AreaErrors, found: Reduction) -> AreaErrors:
    """The errors of velocities: a flow over the port's area."""
    area = found.test.port_area
    if area is None:
        return errors
    share = _share(found.test.uncertainty.port_area, -1.0 / area)
    return _sized(errors, found, {Input.PORT_AREA: share})


def _by_seat(errors: AreaErrors, found: Reduction, seat: Seat) -> AreaErrors:
    """The errors of coefficients on the least area, by each size that it is worked out from."""
    stated, diameter = found.test.uncertainty, found.test.valve.head_diameter

    def share(name: str, standard: float | None) -> Floats | None:
        size = diameter if name == "head_diameter" else getattr(seat, name)
        step = SMALL_SHARE * size
        above, below = (
            least_valve_area(size + move, seat, found.lifts)
            if name == "head_diameter"
            else least_valve_area(diameter, replace(seat, **{name: size + move}), found.lifts)
            for move in (step, -step)
        )
        return _share(standard, -np.log(above / below) / (2.0 * step))

    return _sized(
        errors,
        found,
        {
            Input.HEAD_DIAMETER: share("head_diameter", stated.head_diameter),
            Input.STEM_DIAMETER: share("stem_diameter", stated.stem_diameter),
            Input.SEAT_ANGLE: share("angle", stated.seat_angle),
            Input.SEAT_WIDTH: share("width", stated.seat_width),
            Input.THROAT_DIAMETER: share("throat_diameter", stated.throat_diameter),
        },
    )


def _share(stated: float | None, steepness: Array) -> Array | None:
    return None if stated is None else stated * steepness


def _sized(
    errors: AreaErrors, found: Reduction, effects: Mapping[Input, Array | None]
) -> AreaErrors:
    """The same errors with those of sizes; one not stated is taken as exact."""
    nothing = np.zeros(len(found.lifts))
    known = {name: nothing + effect for name, effect in effects.items() if effect is not None}
    return _changed(errors, known)


def _steepness(found: Reduction, seat: Seat) -> Floats:
    """Relative slope of the least area over lift, per m."""
    diameter = found.test.valve.head_diameter
    above, below = (
        least_valve_area(diameter, seat, found.lifts + step) for step in (SMALL_STEP, -SMALL_STEP)
    )
    return np.asarray(np.log(above / below) / (2.0 * SMALL_STEP))


def _of_energy(found: Reduction, flows: AreaErrors) -> AreaErrors:
    """Half the density times the third power of the flow over the area squared."""
    tripled = {name: 3.0 * effect for name, effect in flows.relative.items()}
    if Input.PORT_AREA in tripled:
        tripled[Input.PORT_AREA] = 2.0 * flows.relative[Input.PORT_AREA]
    density = found.test.uncertainty.density
    if density is not None:
        nothing = np.zeros(len(found.lifts))
        tripled[Input.DENSITY] = tripled.get(Input.DENSITY, nothing) + density
    return replace(flows, relative=tripled)


def _of_mean_flow(found: Reduction, flows: AreaErrors) -> float:
    """Of the mean flow, with each lift's weight in the trapezoids."""
    weights = np.ones(len(found.lifts))
    if len(found.lifts) > 1:
        half = np.diff(found.lifts) / 2.0
        weights = np.append(half, 0.0) + np.insert(half, 0, 0.0)
    shares = weights * found.flow
    mean = np.array([found.mean_flow])
    return float(flows.estimates(mean, (shares / shares.sum())[np.newaxis]).expanded[0] * mean[0])


def _changed(errors: AreaErrors, effects: Mapping[Input, Floats | None]) -> AreaErrors:
    """The same errors but for these inputs' effects; None where one is unknown."""
    relative = {**errors.relative, **effects}
    known = {name: effect for name, effect in relative.items() if effect is not None}
    return replace(errors, relative=known)
