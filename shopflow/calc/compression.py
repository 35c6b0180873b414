"""Volumes over a piston and the compression ratio they make."""

from __future__ import annotations

import numpy as np

from shopflow.calc.array_types import Array


def cylinder_volume(diameter: Array, height: Array) -> Array:
    """Volume of a cylinder, π/4 d² h: swept by a piston, in a gasket's hole, above a deck.

    Parameters
    ----------
    diameter : bore, or the gasket's own hole, m
    height : stroke, compressed gasket thickness or deck clearance, m

    Returns
    -------
    m3

    Examples
    --------
    Bore and stroke of 86.4 mm, by hand 506.5603 cm3; a gasket of 87.5 by 1.0 mm 6.0132 cm3:

    >>> round(float(cylinder_volume(0.0864, 0.0864)) * 1e6, 4)
    506.5603
    >>> round(float(cylinder_volume(0.0875, 0.001)) * 1e6, 4)
    6.0132
    """
    return np.pi / 4.0 * diameter**2 * height


def clearance_volume(
    chamber: Array, gasket: Array, deck: Array = 0.0, piston: Array = 0.0
) -> Array:
    """Volume above the piston at top dead centre.

    Parameters
    ----------
    chamber : in the head, m3
    gasket : in the gasket's hole, m3
    deck : between deck and piston; negative where the piston stands proud, m3
    piston : of a dish; negative for a dome, m3

    Returns
    -------
    m3

    Examples
    --------
    50, 6.0132, 2.93148 and 5 cm3:

    >>> round(clearance_volume(50.0, 6.0132, 2.93148, 5.0), 5)
    63.94468
    """
    return chamber + gasket + deck + piston


def compression_ratio(swept: Array, clearance: Array) -> Array:
    """Geometric compression ratio, (Vd + Vc)/Vc.

    Parameters
    ----------
    swept : Vd, m3
    clearance : Vc, m3

    Returns
    -------
    dimensionless

    Notes
    -----
    From the volumes at both dead centres, whatever the valves do. Source: Encyclopaedia
    Britannica, "Gasoline engine", combustion chamber; Heywood (1988), section 2.2.

    Examples
    --------
    >>> round(compression_ratio(506.5603, 63.94469), 4)
    8.9219
    """
    return (swept + clearance) / clearance


def volume_removed(footprint: Array, depth: Array) -> Array:
    """Volume that a chamber loses where the head's face is cut by a depth.

    Parameters
    ----------
    footprint : the chamber's outline at the face, m2
    depth : cut away, m

    Returns
    -------
    m3

    Notes
    -----
    Right for a thin cut: the footprint changes with depth, so measure the chamber afterwards.

    Examples
    --------
    0.254 mm off 5000 mm2 take 1.27 cm3:

    >>> round(volume_removed(5000e-6, 0.254e-3) * 1e6, 3)
    1.27
    """
    return footprint * depth
