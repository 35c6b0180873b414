"""Mean inlet Mach index: how near an engine's speed brings its intake valve to choking."""

from __future__ import annotations

from math import pi

from shopflow.calc.array_types import Array


def mean_piston_speed(stroke: Array, speed: Array) -> Array:
    """Mean piston speed, 2 x stroke x revolutions per second.

    Parameters
    ----------
    stroke : m
    speed : of the crankshaft, revolutions per second

    Returns
    -------
    m/s

    Examples
    --------
    86.4 mm at 6000 rpm:

    >>> round(mean_piston_speed(0.0864, 100.0), 2)
    17.28
    """
    return 2.0 * stroke * speed


def mach_index(
    bore: Array,
    valve_diameter: Array,
    valves: Array,
    piston_speed: Array,
    coefficient: Array,
    speed_of_sound: Array,
) -> Array:
    r"""Mean inlet Mach index.

    .. math:: Z = \frac{b^2}{n D^2} \frac{S}{C_i a}

    Parameters
    ----------
    bore : b, m
    valve_diameter : D, of one intake valve's head, m
    valves : n, intake valves of the cylinder
    piston_speed : mean S, m/s
    coefficient : Ci, flow coefficient on head area, its mean over the lifts the cam gives
    speed_of_sound : a, in the intake air, m/s

    Returns
    -------
    dimensionless

    Notes
    -----
    Filling falls steeply above 0.5: JSME dictionary of mechanical engineering, entry 11:1002813.

    Examples
    --------
    Bore and stroke 86.4, valve 45.2 mm, 6000 rpm, Ci 0.35, 20 °C; by hand 0.52558:

    >>> round(mach_index(0.0864, 0.0452, 1, 17.28, 0.35, 343.232), 5)
    0.52558
    """
    area = coefficient * valves * pi / 4.0 * valve_diameter**2
    return area_mach_index(bore, piston_speed, area, speed_of_sound)


def area_mach_index(bore: Array, piston_speed: Array, area: Array, speed_of_sound: Array) -> Array:
    r"""Mean inlet Mach index from the effective area that the cam gives.

    .. math:: Z = \frac{S}{a} \frac{\pi b^2/4}{A}

    Parameters
    ----------
    bore : b, m
    piston_speed : mean S, m/s
    area : A, mean effective area of the intake over the period it is open, m2
    speed_of_sound : a, in the intake air, m/s

    Returns
    -------
    dimensionless

    Notes
    -----
    Source: JSME dictionary of mechanical engineering, entry 11:1002813.

    Examples
    --------
    The same engine as of `mach_index`, whose valve passes 0.35 of its head's area:

    >>> round(area_mach_index(0.0864, 17.28, 0.35 * pi / 4 * 0.0452**2, 343.232), 5)
    0.52558
    """
    return piston_speed * pi / 4.0 * bore**2 / (area * speed_of_sound)


def speed_at_index(wanted: Array, speed: Array, index: Array) -> Array:
    """Speed at which an engine reaches a Mach index, since the index varies with the speed.

    Parameters
    ----------
    wanted : index
    speed : at which the index is known, in any unit
    index : at that speed

    Returns
    -------
    in the unit of `speed`

    Examples
    --------
    Z = 0.5 where 6000 rpm give 0.52558:

    >>> round(speed_at_index(0.5, 6000.0, 0.52558))
    5708
    """
    return speed * wanted / index


def index_text(index: float) -> str:
    """The index with the two digits it is worth: it is a mean of means.

    Parameters
    ----------
    index : dimensionless

    Returns
    -------
    text without a unit

    Examples
    --------
    >>> [index_text(value) for value in (0.0524, 0.499, 1.04)]
    ['0.052', '0.50', '1.0']
    """
    return f"{index:.{3 if index < 0.0995 else 2 if index < 0.995 else 1}f}"
