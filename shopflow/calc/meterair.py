"""Air at a bench's meter where it is not as in the room."""

from __future__ import annotations

from enum import StrEnum

import numpy as np

from shopflow.calc.array_types import Array
from shopflow.texts import gettext_noop


def density_at_meter(
    room_density: Array,
    room_pressure: Array,
    room_temperature: Array,
    meter_pressure: Array,
    meter_temperature: Array,
) -> Array:
    r"""Density of the room's air as it passes the meter, taken as an ideal gas.

    .. math:: \rho_m = \rho \frac{p_m}{p} \frac{T}{T_m}

    Parameters
    ----------
    room_density : kg/m3
    room_pressure, meter_pressure : absolute, Pa
    room_temperature, meter_temperature : K

    Returns
    -------
    kg/m3

    Notes
    -----
    The air's moisture is taken to stay as it is.

    Examples
    --------
    From 20 to 35 °C at one pressure:

    >>> round(density_at_meter(1.204, 101325.0, 293.15, 101325.0, 308.15), 4)
    1.1454
    """
    return room_density * meter_pressure / room_pressure * room_temperature / meter_temperature


class MeterKind(StrEnum):
    """Quantity that a scale marked in flow responds to when the air at the meter is not the
    room's."""

    VOLUME = gettext_noop("volume")
    RESTRICTION = gettext_noop("restriction")


def meter_air_correction(kind: MeterKind, density_ratio: Array) -> Array:
    """Factor that turns an indicated flow into one at room density.

    Parameters
    ----------
    kind : a volume meter counts the volume that passes it; a restriction's scale is marked for
        room air and shows the root of a pressure difference
    density_ratio : ρm/ρ, density at the meter over that of the room

    Returns
    -------
    factor on the indicated flow: ρm/ρ for a volume meter, its root for a restriction

    Notes
    -----
    A volume q passing at ρm is q ρm/ρ in the room. A restriction passes C A sqrt(2 Δp ρm) of
    mass, where its scale supposes C A sqrt(2 Δp ρ).

    Examples
    --------
    A restriction's volume flow at fixed Δp varies with sqrt(T), from 20 to 35 °C 1.025265:

    >>> round(1.0 / float(meter_air_correction(MeterKind.RESTRICTION, 293.15 / 308.15)), 6)
    1.025265
    """
    return density_ratio if kind is MeterKind.VOLUME else np.sqrt(density_ratio)


def scale_correction(scale_density: Array, room_density: Array) -> Array:
    r"""Factor for a restriction's scale that is marked for other air than the room's.

    .. math:: q = q_s \sqrt{\rho_s \rho_m} / \rho

    Parameters
    ----------
    scale_density : ρs, of the air that the scale is marked for, kg/m3
    room_density : ρ, kg/m3

    Returns
    -------
    factor on a flow that was corrected as if the scale were marked for room air: sqrt(ρs/ρ)

    Notes
    -----
    The pressure difference shown stands for the mass flow q_s sqrt(ρs ρm), ρm at the meter.

    Examples
    --------
    A scale marked for 1.2 kg/m3, at an altitude where air has 0.9:

    >>> round(float(scale_correction(1.2, 0.9)), 4)
    1.1547
    """
    return np.sqrt(scale_density / room_density)
