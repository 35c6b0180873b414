"""Leak of a closed volume of gas, from how its pressure changes with time."""

from __future__ import annotations

from shopflow.calc.atmosphere import SEA_LEVEL_PRESSURE
from shopflow.texts import gettext


def leak_flow(volume: float, drop: float, duration: float) -> float:
    r"""The mean leak as a flow of air at 101.325 kPa and the temperature of the test, m3/s.

    .. math:: q = \frac{V\,\Delta p}{p_n\,t}

    Parameters
    ----------
    volume : of the gas shut in, m3, above 0
    drop : change of pressure or vacuum over the time, Pa, 0 or more
    duration : s, above 0

    Raises
    ------
    ValueError where the volume or the time is not above 0, or the drop is below 0

    Notes
    -----
    Ideal gas at one temperature in a volume that does not change: a head that cools while it is
    tested loses pressure without a leak. Water in the volume is no part of it.
    Source: the ideal gas law, as 40 CFR 1065.644 (vacuum-decay leak rate) and EN 13184:2001
    (pressure change method) apply it.

    Examples
    --------
    1 mbar L/s is 59.2 cm3/min:

    >>> round(leak_flow(0.001, 100.0, 1.0) * 6e7, 1)
    59.2
    """
    if min(volume, duration) <= 0 or drop < 0:
        raise ValueError(gettext("volume and time must be above 0, and the drop 0 or more"))
    return volume * drop / (SEA_LEVEL_PRESSURE * duration)
