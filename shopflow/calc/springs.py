"""Valve springs, and what gas pressure does to a valve on its seat."""

from __future__ import annotations

import numpy as np

from shopflow.calc.kinds import Array


def pressure_force(pressure: Array, diameter: Array, stem_diameter: Array = 0.0) -> Array:
    """Force of a pressure difference on a round face, p π/4 (D² − d²).

    Parameters
    ----------
    pressure : of the port above the cylinder, Pa
    diameter : of the face the pressure works on, m; say which one, since head and seat differ
    stem_diameter : taken off the face where it is given, m

    Returns
    -------
    N; on an intake valve boost pushes it open, so the spring must hold this much more

    Examples
    --------
    20 psi on a 44 mm head is 209.67 N (47.14 lbf):

    >>> round(float(pressure_force(20 * 6894.757293168, 0.044)), 2)
    209.67
    """
    return pressure * np.pi / 4.0 * (diameter**2 - stem_diameter**2)


def load_at_lift(seat_load: Array, rate: Array, lift: Array) -> Array:
    """Load of a linear spring at a lift, N: seat load + rate x lift.

    Parameters
    ----------
    seat_load : at installed height, N
    rate : N/m
    lift : m

    Examples
    --------
    A spring of 90 lbf on the seat and 240 lbf at 0.550 in has 272.727 lbf/in (47.762 N/mm):

    >>> round(float(load_at_lift(400.339, 47761.9, 0.01397)) / 4.4482216, 1)
    240.0
    """
    return seat_load + rate * lift


def wire_rate(shear_modulus: Array, wire: Array, mean_coil: Array, active_coils: Array) -> Array:
    """Rate of a round-wire helical spring, G d⁴ / (8 D³ n), N/m.

    Parameters
    ----------
    shear_modulus : G of the wire, Pa
    wire : diameter d, m
    mean_coil : mean diameter D of the coil, m
    active_coils : n

    Notes
    -----
    Source: Shigley, Mechanical Engineering Design, chapter on springs (from memory).

    Examples
    --------
    >>> round(float(wire_rate(79.3e9, 0.004, 0.026, 5)) / 1e3, 4)
    28.8757
    """
    return shear_modulus * wire**4 / (8.0 * mean_coil**3 * active_coils)


def coil_bind_room(installed_height: Array, coil_bind_height: Array, lift: Array) -> Array:
    """What is left between the coils at full lift, m; negative where the spring would bind."""
    return installed_height - coil_bind_height - lift
