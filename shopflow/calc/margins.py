"""The errors behind each result of a flow test, and its expanded uncertainty for 95 %.

Every result varies with the effective area's errors, but for the air's density, which acts on a
flow otherwise, and the lift, which acts on the areas that coefficients are on, as the sizes of
valve and seat do. Velocity and energy go with the port's area. A size whose uncertainty is not
stated is taken as exact.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from shopflow.calc.area_errors import AreaErrors
from shopflow.calc.areas import Seat, least_valve_area
from shopflow.calc.array_types import Floats
from shopflow.calc.brought import figures
from shopflow.calc.estimates import Input
from shopflow.calc.reduction import Reduction

SMALL_STEP = 1e-7
"""m of lift over which the least area's steepness is taken."""

SMALL_SHARE = 1e-6
"""Of a size, over which the least area's change with it is taken."""

VOLUME_METER = 0.5
"""Power of the density that an effective area read by a volume meter varies with, and an effective
area's own flow with the inverse of."""


def expanded(errors: AreaErrors, values: Floats | None) -> Floats | None:
    """Expanded uncertainties of results with these errors; None where none is stated.

    Parameters
    ----------
    errors : relative, over the test's lifts
    values : the results, in any unit

    Returns
    -------
    for 95 %, in that unit

    Notes
    -----
    Source: JCGM 100:2008, 5.1.2 and G.4.1.
    """
    if values is None or not errors.is_stated:
        return None
    return np.asarray(values * errors.estimates(values).expanded)


def flow_errors(reduction: Reduction) -> AreaErrors:
    """The errors behind a test's flows at room-air density.

    For one effective area the flow varies with one over the root of the density.
    """
    stated = reduction.test.uncertainty.density
    exponent = reduction.test.density_exponent - VOLUME_METER
    density = stated if exponent else 0.0
    effect = None if density is None else density * exponent * np.ones(len(reduction.lifts))
    return _changed(reduction.area_errors, {Input.DENSITY: effect})


def area_errors(reduction: Reduction) -> AreaErrors:
    """The errors behind a test's effective areas."""
    return reduction.area_errors


def curtain_errors(reduction: Reduction) -> AreaErrors:
    """The errors behind coefficients on the curtain area, which varies with the lift."""
    return _on(_by_diameter(reduction, 1.0), reduction, 1.0 / reduction.lifts)


def head_errors(reduction: Reduction) -> AreaErrors:
    """The errors behind coefficients on the valve head's area."""
    return _by_diameter(reduction, 2.0)


def least_errors(reduction: Reduction) -> AreaErrors:
    """The errors behind coefficients on the least area, which is as steep as its geometry."""
    seat = reduction.test.valve.seat
    return (
        reduction.area_errors
        if seat is None
        else _on(_by_seat(reduction, seat), reduction, _steepness(reduction, seat))
    )


def velocity_errors(reduction: Reduction) -> AreaErrors:
    """The errors behind a velocity: a flow over the port's area."""
    return _by_port(reduction, 1.0)


def energy_errors(reduction: Reduction) -> AreaErrors:
    """The errors behind an energy: half the density times the flow cubed over the area squared."""
    flows = flow_errors(reduction)
    tripled = {name: 3.0 * effect for name, effect in flows.relative.items()}
    tripled |= _port_share(reduction, 2.0)
    density = reduction.test.uncertainty.density
    if density is not None:
        nothing = np.zeros(len(reduction.lifts))
        tripled[Input.DENSITY] = tripled.get(Input.DENSITY, nothing) + density
    return replace(flows, relative=tripled)


def mean_effective_area(reduction: Reduction) -> tuple[float, float | None]:
    """Mean effective area over a test's own lifts, and its expanded uncertainty; m2.

    The uncertainty is None where it is not stated.
    """
    span = (float(reduction.lifts[0]), float(reduction.lifts[-1]))
    mean = figures(reduction, reduction.area_errors, reduction.lifts, [span])
    value = float(mean.values[-1])
    return value, value * float(mean.expanded[-1]) if reduction.area_errors.is_stated else None


def _on(errors: AreaErrors, reduction: Reduction, steepness: Floats) -> AreaErrors:
    """The errors of coefficients on an area whose relative steepness over lift this is."""
    stated = reduction.test.uncertainty.lift
    if stated is None:
        return errors
    return _changed(errors, {Input.LIFT: errors.relative[Input.LIFT] - stated * steepness})


def _by_diameter(reduction: Reduction, power: float) -> AreaErrors:
    """The errors of coefficients on an area that varies with this power of the valve's diameter."""
    stated, diameter = reduction.test.uncertainty.head_diameter, reduction.test.valve.head_diameter
    share = _share(stated, np.full(len(reduction.lifts), -power / diameter))
    return _changed(reduction.area_errors, {Input.HEAD_DIAMETER: share})


def _by_port(reduction: Reduction, power: float) -> AreaErrors:
    """The errors of what varies with a flow, and with the port's area to minus this power."""
    return _changed(flow_errors(reduction), _port_share(reduction, power))


def _port_share(reduction: Reduction, power: float) -> dict[Input, Floats]:
    """Effect of the port's area on a figure that varies with minus this power of it."""
    stated, area = reduction.test.uncertainty.port_area, reduction.test.port_area
    if stated is None or area is None:
        return {}
    return {Input.PORT_AREA: np.full(len(reduction.lifts), -power * stated / area)}


def _by_seat(reduction: Reduction, seat: Seat) -> AreaErrors:
    """The errors of coefficients on the least area, by each size that it is calculated from."""
    stated, diameter = reduction.test.uncertainty, reduction.test.valve.head_diameter

    def least(**moved: float) -> Floats:
        head = moved.pop("head_diameter", diameter)
        return np.asarray(least_valve_area(head, replace(seat, **moved), reduction.lifts))

    def share(name: str, size: float, standard: float | None) -> Floats | None:
        step = SMALL_SHARE * size
        change = np.log(least(**{name: size + step}) / least(**{name: size - step}))
        return _share(standard, -change / (2.0 * step))

    effects = {
        Input.HEAD_DIAMETER: share("head_diameter", diameter, stated.head_diameter),
        Input.STEM_DIAMETER: share("stem_diameter", seat.stem_diameter, stated.stem_diameter),
        Input.SEAT_ANGLE: share("angle", seat.angle, stated.seat_angle),
        Input.SEAT_WIDTH: share("width", seat.width, stated.seat_width),
        Input.THROAT_DIAMETER: share(
            "throat_diameter", seat.throat_diameter, stated.throat_diameter
        ),
    }
    return _changed(reduction.area_errors, effects)


def _share(stated: float | None, steepness: Floats) -> Floats | None:
    """An uncertainty times what it does; a size's that is not stated is taken as exact."""
    return None if stated is None else stated * steepness


def _steepness(reduction: Reduction, seat: Seat) -> Floats:
    """Relative slope of the least area over lift, per m."""
    diameter = reduction.test.valve.head_diameter
    above, below = (
        least_valve_area(diameter, seat, reduction.lifts + step)
        for step in (SMALL_STEP, -SMALL_STEP)
    )
    return np.asarray(np.log(above / below) / (2.0 * SMALL_STEP))


def mean_flow_expanded(reduction: Reduction) -> float | None:
    """Expanded uncertainty of the mean flow, m3/s, with each lift's weight in the trapezoids; None
    where it is not stated."""
    flows = flow_errors(reduction)
    if not flows.is_stated:
        return None
    weights = np.ones(len(reduction.lifts))
    if len(reduction.lifts) > 1:
        half = np.diff(reduction.lifts) / 2.0
        weights = np.append(half, 0.0) + np.insert(half, 0, 0.0)
    shares = weights * reduction.flow
    mean = np.array([reduction.mean_flow])
    return float(flows.estimates(mean, (shares / shares.sum())[np.newaxis]).expanded[0] * mean[0])


def _changed(errors: AreaErrors, effects: Mapping[Input, Floats | None]) -> AreaErrors:
    """The same errors but for these inputs' effects; None where one is unknown."""
    relative = {**errors.relative, **effects}
    stated = {name: effect for name, effect in relative.items() if effect is not None}
    return replace(errors, relative=stated)
