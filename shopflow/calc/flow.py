"""From an indicated flow to the figures quoted of a port."""

from __future__ import annotations

import numpy as np

from shopflow.calc.array_types import Array


def corrected_flow(indicated: Array, leakage: Array, calibration_factor: Array) -> Array:
    """Volume flow through the head: calibration factor x (indicated − leakage).

    Parameters
    ----------
    indicated : flow as the bench indicates it, m3/s
    leakage : what it indicates with the valve shut, at the same pressure, m3/s
    calibration_factor : true over indicated flow

    Returns
    -------
    m3/s at room-air density

    Notes
    -----
    The factor is taken to hold for the leakage as for the flow.

    Examples
    --------
    >>> round(corrected_flow(0.1005, 0.0005, 1.02), 6)
    0.102
    """
    return calibration_factor * (indicated - leakage)


def at_reference_pressure(flow: Array, test_pressure: Array, reference_pressure: Array) -> Array:
    r"""Flow restated at another pressure difference.

    .. math:: q_{ref} = q \sqrt{\Delta p_{ref} / \Delta p}

    Parameters
    ----------
    flow : q at the test pressure, m3/s
    test_pressure : Δp, Pa
    reference_pressure : Δp_ref, Pa

    Returns
    -------
    m3/s

    Notes
    -----
    A convention: it is exact for incompressible flow with a constant coefficient. Isentropic flow
    from 10 to 28 inH2O grows 1.632-fold, not 1.673-fold.

    Examples
    --------
    From 10 to 28 inH2O a flow grows by sqrt(2.8):

    >>> round(float(at_reference_pressure(1.0, 10.0, 28.0)), 6)
    1.67332
    """
    return flow * np.sqrt(reference_pressure / test_pressure)


def mean_velocity(flow: Array, area: Array) -> Array:
    """Mean velocity over a cross-section, flow over area, as if incompressible.

    Parameters
    ----------
    flow : m3/s
    area : m2

    Returns
    -------
    m/s

    Examples
    --------
    200 cfm (0.0943895 m3/s) through 1200 mm2:

    >>> round(mean_velocity(0.0943895, 1.2e-3), 3)
    78.658
    """
    return flow / area


def kinetic_energy_flux(density: Array, flow: Array, velocity: Array) -> Array:
    r"""Kinetic energy a flow carries through a section each second.

    .. math:: P = \tfrac{1}{2} \rho q v^2

    Parameters
    ----------
    density : ρ, kg/m3
    flow : q, m3/s
    velocity : v, taken as the same all over the section, m/s

    Returns
    -------
    W

    Notes
    -----
    With v from Bernoulli it equals flow x pressure difference.

    Examples
    --------
    200 cfm through 1200 mm2 in air of 1.204118 kg/m3, by hand 351.6 W:

    >>> round(kinetic_energy_flux(1.204118, 0.0943895, 78.6579), 1)
    351.6
    """
    return 0.5 * density * flow * velocity**2
