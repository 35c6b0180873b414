"""Valve springs, and what gas pressure does to a valve on its seat."""

from __future__ import annotations

import numpy as np

from shopflow.calc.array_types import Array


def pressure_force(pressure: Array, diameter: Array, stem_diameter: Array = 0.0) -> Array:
    """Force of a pressure difference on a round face, p π/4 (D² − d²).

    Parameters
    ----------
    pressure : of the port above the cylinder, Pa
    diameter : D, of the face the pressure works on, m; say which one it is (the head's, or the
        mean of the seat's), since the force varies with its square
    stem_diameter : d, taken off the face where it is given, m

    Returns
    -------
    N; boost in an intake port pushes the valve open, so the spring must hold this much more, as
    does back pressure in an exhaust port

    Notes
    -----
    Static, with both faces in still gas.

    Examples
    --------
    20 psi on a 44 mm head is 209.67 N (47.14 lbf), by hand; less a 7 mm stem 204.37 N:

    >>> round(float(pressure_force(20 * 6894.757293168, 0.044)), 2)
    209.67
    >>> round(float(pressure_force(20 * 6894.757293168, 0.044, 0.007)), 2)
    204.37
    """
    return pressure * np.pi / 4.0 * (diameter**2 - stem_diameter**2)


def seat_load_factor(angle: Array, reference: Array = np.pi / 4.0) -> Array:
    """Axial load that presses as hard on a seat as on one of another angle, cos α / cos α0.

    Parameters
    ----------
    angle : α of the seat, from the plane of the valve head, rad
    reference : α0 of the seat that the load is known for, rad; 45 degrees unless told

    Returns
    -------
    ratio; above 1 for a seat shallower than the reference

    Notes
    -----
    Without friction the force normal to a conical seat is the axial load over cos α. Friction
    lowers the difference (with a coefficient of 0.2 to about 6.4 % between 39 and 45 degrees).

    Examples
    --------
    39 against 45 degrees, cos 39 / cos 45 by hand: 9.9 lbf more for each 100, where common
    practice (no source) adds about 10 lbf:

    >>> round(float(seat_load_factor(np.radians(39.0))), 3)
    1.099
    """
    return np.cos(angle) / np.cos(reference)


def spring_rate(seat_load: Array, open_load: Array, lift: Array) -> Array:
    """Rate of a linear spring from two loads, (open − seat)/lift.

    Parameters
    ----------
    seat_load : with the valve shut, N
    open_load : with the valve at `lift`, N
    lift : m

    Returns
    -------
    N/m

    Examples
    --------
    400 N shut and 900 N at 11 mm, by hand 45.4545 N/mm:

    >>> round(spring_rate(400.0, 900.0, 0.011) / 1e3, 4)
    45.4545
    """
    return (open_load - seat_load) / lift


def load_at_lift(seat_load: Array, rate: Array, lift: Array) -> Array:
    """Load of a linear spring at a lift, seat load + rate x lift.

    Parameters
    ----------
    seat_load : at installed height, N
    rate : N/m
    lift : m

    Returns
    -------
    N

    Examples
    --------
    A spring of 90 lbf on the seat and 240 lbf at 0.550 in has 272.727 lbf/in (47.762 N/mm):

    >>> round(float(load_at_lift(400.339, 47761.9, 0.01397)) / 4.4482216, 1)
    240.0
    """
    return seat_load + rate * lift


def wire_rate(shear_modulus: Array, wire: Array, mean_coil: Array, active_coils: Array) -> Array:
    """Rate of a round-wire helical spring, G d⁴ / (8 D³ N).

    Parameters
    ----------
    shear_modulus : G of the wire, Pa
    wire : diameter d, m
    mean_coil : mean diameter D of the coil, m
    active_coils : N

    Returns
    -------
    N/m

    Notes
    -----
    Coils alike and none of them closed. Source: Shigley, Mechanical Engineering Design, chapter
    on springs.

    Examples
    --------
    >>> round(float(wire_rate(79.3e9, 0.004, 0.026, 5)) / 1e3, 4)
    28.8757
    """
    return shear_modulus * wire**4 / (8.0 * mean_coil**3 * active_coils)


def coil_bind_room(installed_height: Array, coil_bind_height: Array, lift: Array) -> Array:
    """Distance to coil bind at full lift; negative where the spring would bind.

    Parameters
    ----------
    installed_height : of the spring with the valve shut, m
    coil_bind_height : of the spring with its coils touching, m
    lift : full lift of the valve, m

    Returns
    -------
    m

    Examples
    --------
    >>> round(coil_bind_room(0.0419, 0.0279, 0.0127) * 1e3, 3)
    1.3
    """
    return installed_height - coil_bind_height - lift


def retainer_room(clearance: Array, lift: Array) -> Array:
    """Distance between retainer and guide at full lift; negative where they would strike.

    Parameters
    ----------
    clearance : between retainer and guide, or its seal, with the valve shut, m
    lift : full lift of the valve, m

    Returns
    -------
    m

    Examples
    --------
    >>> round(retainer_room(0.0142, 0.0127) * 1e3, 3)
    1.5
    """
    return clearance - lift


def valve_lift(lobe_lift: Array, rocker_ratio: Array = 1.0, lash: Array = 0.0) -> Array:
    """Lift of a valve, lobe lift x rocker ratio - lash.

    Parameters
    ----------
    lobe_lift : greatest lift of the lobe, m
    rocker_ratio : of the valve's travel to the lobe's; 1 without a rocker
    lash : at the valve, m

    Returns
    -------
    m

    Notes
    -----
    Of a rigid valve train; the geometric lift of `cam.ValveMotion` at the nose of its lobe.

    Examples
    --------
    A lobe of 0.320 in with rockers of 1.5 and 0.016 in of lash, by hand 0.464 in:

    >>> round(valve_lift(0.320, 1.5, 0.016), 4)
    0.464
    """
    return rocker_ratio * lobe_lift - lash
