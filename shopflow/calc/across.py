"""The ideal flow across a head, in the direction of its side."""

from __future__ import annotations

from shopflow.calc.array_types import Array
from shopflow.calc.flowtest import FlowTest
from shopflow.calc.gas import critical_ratio, ideal_mass_flux

STEP = 1e-5
"""Relative change of a pressure by which its weight is found, by central differences."""


def pressures_across(test: FlowTest, pressure: Array) -> tuple[Array, Array]:
    """Pressures upstream (stagnation) and downstream (static) of the head, Pa.

    Parameters
    ----------
    test : for its side and barometer
    pressure : difference across the head, Pa
    """
    if test.side == "exhaust":
        return test.barometer + pressure, test.barometer
    return test.barometer, test.barometer - pressure


def ideal_flux(test: FlowTest, rho: Array, pressure: Array) -> Array:
    """Ideal mass flow per area across the head, in the direction of the test's side.

    Parameters
    ----------
    test : for its side and barometer
    rho : density of the room air, kg/m3
    pressure : difference across the head, Pa

    Returns
    -------
    kg/(s m2)
    """
    upstream, downstream = pressures_across(test, pressure)
    return ideal_mass_flux(upstream, rho * upstream / test.barometer, downstream)


def is_choked(test: FlowTest) -> Array:
    """True where the ideal flow at the test pressure is choked."""
    upstream, downstream = pressures_across(test, test.test_pressure)
    return downstream / upstream <= critical_ratio()


def flux_exponent(test: FlowTest, pressure: Array) -> Array:
    """Power of the pressure difference that the ideal flux varies with there.

    Parameters
    ----------
    test : for its side and barometer
    pressure : difference across the head, Pa

    Examples
    --------
    A half for small differences, less where the air expands, none once it is choked on the intake
    side:

    >>> from types import SimpleNamespace
    >>> room = SimpleNamespace(side="intake", barometer=101325.0)
    >>> [round(float(flux_exponent(room, dp)), 3) for dp in (1.0, 6974.489, 60e3)]
    [0.5, 0.46, 0.0]
    """
    up, down = (ideal_flux(test, 1.0, pressure * (1.0 + sign * STEP)) for sign in (1.0, -1.0))
    return (up - down) / (2.0 * STEP * ideal_flux(test, 1.0, pressure))
