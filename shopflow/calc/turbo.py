"""Gas through a turbocharged engine: volumes against each other, power in the exhaust."""

from __future__ import annotations

from shopflow.calc.array_types import Array


def exhaust_to_intake_volume(
    fuel_to_air: Array,
    exhaust_temperature: Array,
    intake_temperature: Array,
    intake_pressure: Array,
    exhaust_pressure: Array,
) -> Array:
    r"""Volume of exhaust gas per volume of intake air, each at its own state.

    .. math:: \frac{V_e}{V_i} = (1 + F/A) \frac{T_e}{T_i} \frac{p_i}{p_e}

    Parameters
    ----------
    fuel_to_air : F/A by mass
    exhaust_temperature, intake_temperature : Te and Ti, K
    intake_pressure, exhaust_pressure : absolute, pi and pe, Pa

    Returns
    -------
    dimensionless

    Notes
    -----
    Steady flow, no leaks, both ideal gases of like molar mass: keep the temperatures beside the
    figure. "About five" is common practice, without a source, at the hot end.

    Examples
    --------
    20 psi (gauge) in and 18 out at 14.696 psia, 300 and 1200 K, F/A 0.08; by hand 4.584:

    >>> round(exhaust_to_intake_volume(0.08, 1200.0, 300.0, 34.696, 32.696), 3)
    4.584
    """
    heated = exhaust_temperature / intake_temperature
    return (1.0 + fuel_to_air) * heated * intake_pressure / exhaust_pressure


def turbine_power(
    mass_flow: Array,
    inlet_temperature: Array,
    pressure_ratio: Array,
    efficiency: Array = 1.0,
    specific_heat: Array = 1148.0,
    gamma: Array = 1.333,
) -> Array:
    r"""Power a turbine takes from exhaust gas.

    .. math:: \dot W = \dot m c_p T_{03} \eta \left(1 - (p_4/p_{03})^{(\gamma-1)/\gamma}\right)

    Parameters
    ----------
    mass_flow : of exhaust gas, kg/s
    inlet_temperature : stagnation T03, K
    pressure_ratio : p4/p03, outlet static over inlet stagnation, 0 to 1
    efficiency : η, total to static; 1 is what an ideal turbine would take
    specific_heat : cp of exhaust gas, J/(kg K)
    gamma : its ratio of specific heats

    Returns
    -------
    W

    Notes
    -----
    Steady flow: pulses give more. cp and γ are taken as constant. Source: NASA Glenn
    Research Center, "Power turbine" (work of a turbine); Heywood (1988), section 6.8.

    Examples
    --------
    0.2 kg/s at 1200 K from 32.696 to 14.696 psia, by hand 49.89 kW:

    >>> round(turbine_power(0.2, 1200.0, 14.696 / 32.696) / 1e3, 2)
    49.89
    """
    expansion = 1.0 - pressure_ratio ** ((gamma - 1.0) / gamma)
    return mass_flow * specific_heat * inlet_temperature * efficiency * expansion
