"""A turbocharger's balance: what its compressor takes, its turbine must give."""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.calc.turbo import turbine_power

AIR_HEAT, AIR_GAMMA = 1005.0, 1.4
GAS_HEAT, GAS_GAMMA = 1148.0, 1.333
"""Specific heat, J/(kg K), and ratio of specific heats of air and of exhaust gas, taken as
constant."""


@dataclass(frozen=True)
class Turbocharger:
    """Efficiencies of a turbocharger at the point it runs at, 0 to 1."""

    compressor: float
    """Isentropic, total to total."""

    turbine: float
    """Isentropic, total to static."""

    mechanical: float


@dataclass(frozen=True)
class Balance:
    """Compressor and turbine in balance, all of the exhaust through the turbine."""

    outlet_temperature: float
    """After the compressor, K."""

    power: float
    """Taken by the compressor, W."""

    turbine_power: float | None
    """Given by the turbine: the compressor's and what the bearings take; None out of reach."""

    inlet_pressure: float | None
    """Before the turbine, absolute, Pa; None where no pressure gives the power."""


def compressor_outlet_temperature(
    inlet_temperature: float, pressure_ratio: float, efficiency: float
) -> float:
    r"""Temperature after a compressor.

    .. math:: T_2 = T_1 (1 + (r^{(\gamma-1)/\gamma} - 1)/\eta)

    Parameters
    ----------
    inlet_temperature : T1, K
    pressure_ratio : r, outlet over inlet, 1 or more
    efficiency : η, isentropic

    Returns
    -------
    K

    Notes
    -----
    Source: NASA Glenn Research Center, "Compressor thermodynamics"; Heywood (1988), section 6.8,
    from memory.

    Examples
    --------
    Air at 300 K to twice its pressure at 70 %, by hand 2^(2/7) = 1.219014, 393.86 K:

    >>> round(compressor_outlet_temperature(300.0, 2.0, 0.7), 2)
    393.86
    """
    rise: float = pressure_ratio ** ((AIR_GAMMA - 1.0) / AIR_GAMMA) - 1.0
    return inlet_temperature * (1.0 + rise / efficiency)


def compressor_power(
    mass_flow: float, inlet_temperature: float, pressure_ratio: float, efficiency: float
) -> float:
    r"""Power a compressor takes.

    .. math:: \dot W = \dot m c_p T_1 (r^{(\gamma-1)/\gamma} - 1)/\eta

    Parameters
    ----------
    mass_flow : of air, kg/s
    inlet_temperature, pressure_ratio, efficiency : see `compressor_outlet_temperature`

    Returns
    -------
    W

    Examples
    --------
    0.2 kg/s of the same, by hand 0.2 × 1005 × 93.863 = 18.866 kW:

    >>> round(compressor_power(0.2, 300.0, 2.0, 0.7) / 1e3, 3)
    18.866
    """
    outlet = compressor_outlet_temperature(inlet_temperature, pressure_ratio, efficiency)
    return mass_flow * AIR_HEAT * (outlet - inlet_temperature)


def balance(
    unit: Turbocharger,
    air_flow: float,
    inlet_temperature: float,
    pressure_ratio: float,
    fuel_to_air: float,
    turbine_temperature: float,
    outlet_pressure: float,
) -> Balance:
    r"""Pressure before the turbine at which it drives the compressor.

    .. math:: p_3 = p_4 \left(1 - \frac{\dot W_c}{\eta_m \dot m_e c_{p,e} T_3 \eta_t}
              \right)^{-\gamma_e/(\gamma_e-1)}

    Parameters
    ----------
    unit : its efficiencies
    air_flow : through the compressor, kg/s
    inlet_temperature : before it, K
    pressure_ratio : over it, 1 or more
    fuel_to_air : by mass; the exhaust is air and fuel
    turbine_temperature : T3, before the turbine, K
    outlet_pressure : p4, after it, absolute, Pa

    Returns
    -------
    Balance

    Notes
    -----
    Steady flow of ideal gases, all exhaust through the turbine, no heat lost: pulses and a
    wastegate change it, and whether a turbine of that size passes the gas is not asked. Source:
    Heywood (1988), section 6.8, from memory; NASA Glenn Research Center, "Compressor
    thermodynamics" and "Power turbine".

    Examples
    --------
    Nothing to compress asks no back pressure:

    >>> balance(Turbocharger(0.7, 0.7, 0.95), 0.2, 300.0, 1.0, 0.08, 1200.0, 1e5).inlet_pressure
    100000.0
    """
    taken = compressor_power(air_flow, inlet_temperature, pressure_ratio, unit.compressor)
    outlet = compressor_outlet_temperature(inlet_temperature, pressure_ratio, unit.compressor)
    gas_flow = air_flow * (1.0 + fuel_to_air)
    most = unit.mechanical * turbine_power(gas_flow, turbine_temperature, 0.0, unit.turbine)
    share = taken / most
    if share >= 1.0:
        return Balance(outlet, taken, None, None)
    pressure = outlet_pressure * (1.0 - share) ** (-GAS_GAMMA / (GAS_GAMMA - 1.0))
    given = turbine_power(gas_flow, turbine_temperature, outlet_pressure / pressure, unit.turbine)
    return Balance(outlet, taken, float(given), float(pressure))
