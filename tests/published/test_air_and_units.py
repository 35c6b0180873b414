"""Moist air, the standard atmosphere and units against tables and real-gas libraries."""

from __future__ import annotations

import psychrolib
import pytest
from CoolProp.CoolProp import PropsSI
from CoolProp.HumidAirProp import HAPropsSI
from fluids.atmosphere import ATMOSPHERE_1976

from shopflow.calc.air import density, speed_of_sound
from shopflow.units import from_si, to_si

ROOM = 101325.0


@pytest.mark.source("ISO 2533:1975, 1000 m: 281.651 K, 89876.3 Pa, 1.111659 kg/m3; fluids agrees")
def test_dry_air_at_1000_m_is_the_standard_atmosphere_s() -> None:
    """8.5 °C is below the formula's range; the standard's ideal gas is 0.05 % lighter."""
    atmosphere = ATMOSPHERE_1976(1000.0)
    printed = (281.651, 89876.3, 1.111659)
    assert (atmosphere.T, atmosphere.P, atmosphere.rho) == pytest.approx(printed, rel=1e-6)
    assert density(89876.3, 281.651) == pytest.approx(1.111659, rel=8e-4)


@pytest.mark.source("CoolProp, compressibility factor of dry air")
@pytest.mark.parametrize("celsius", [15.0, 20.0, 27.0])
@pytest.mark.parametrize("pressure", [60e3, 101325.0, 110e3])
def test_dry_air_is_as_compressible_as_the_real_gas(celsius: float, pressure: float) -> None:
    """Z = p M/(ρ R T) with the molar mass and the R that CIPM-2007 takes."""
    temperature = celsius + 273.15
    z = pressure * 28.96546e-3 / (density(pressure, temperature) * 8.314472 * temperature)
    by_library = PropsSI("Z", "T", temperature, "P", pressure, "Air")
    assert z == pytest.approx(by_library, abs=2.5e-5)


def vapour_fraction(celsius: float, humidity: float) -> float:
    """The vapour's mole fraction that the density's loss amounts to, less real-gas effects."""
    humid, dry = (density(ROOM, celsius + 273.15, h) for h in (humidity, 0.0))
    return float((1.0 - humid / dry) / 0.3780)


@pytest.mark.source("CoolProp, saturation pressure of water (IAPWS-95) in humid air")
@pytest.mark.parametrize("celsius", [15.0, 20.0, 27.0])
def test_saturated_air_holds_the_vapour_of_the_steam_tables(celsius: float) -> None:
    """Vapour makes Z fall too, by a two-hundredth of its share at 20 °C: 1.5 %."""
    by_library = HAPropsSI("psi_w", "T", celsius + 273.15, "P", ROOM, "R", 1.0)
    assert vapour_fraction(celsius, 1.0) == pytest.approx(by_library, rel=0.015)


@pytest.mark.source("psychrolib (ASHRAE Handbook): vapour pressure of half-saturated air")
@pytest.mark.parametrize("celsius", [15.0, 20.0, 27.0])
def test_humidity_takes_the_weight_that_the_handbook_s_vapour_pressure_gives(
    celsius: float,
) -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    pressure = psychrolib.GetVapPresFromRelHum(celsius, 0.5) * 1.0046
    assert vapour_fraction(celsius, 0.5) == pytest.approx(pressure / ROOM, rel=0.02)


@pytest.mark.source("CIPM-2007: k = 2 of the equation is 2.2e-5 (value from memory), by hand")
def test_the_density_is_linear_in_humidity_but_for_the_compressibility() -> None:
    half, total = (1.204557 - float(density(ROOM, 293.15, h)) for h in (0.5, 1.0))
    assert half == pytest.approx(1.204557 - 1.199314, abs=1e-6)
    assert total == pytest.approx(2.0 * half, rel=3e-3)


@pytest.mark.source("CoolProp, speed of sound in real air")
@pytest.mark.parametrize("temperature", [273.15, 288.15, 293.15, 303.15])
def test_speed_of_sound_is_the_real_gas_s(temperature: float) -> None:
    by_library = PropsSI("A", "T", temperature, "P", ROOM, "Air")
    assert speed_of_sound(temperature) == pytest.approx(by_library, rel=6e-4)


@pytest.mark.source("Ideal gas, sqrt(γ R T) by hand: 331.317 m/s at 0 °C and 343.232 at 20 °C")
def test_speed_of_sound_by_hand() -> None:
    assert speed_of_sound(273.15) == pytest.approx(331.317, abs=6e-4)
    assert speed_of_sound(293.15) == pytest.approx(343.232, abs=6e-4)


@pytest.mark.source("NIST SP 811, appendix B.8: three inches of water")
def test_the_inch_of_water_is_the_conventional_one() -> None:
    """249.0889 conventional, 249.082 at 39.2 °F, 248.84 at 60 °F, all printed there."""
    inch = to_si(1.0, "inH2O")
    assert inch == pytest.approx(249.0889, abs=5.1e-5)
    assert abs(inch - 249.082) > 6e-3
    assert inch / 248.84 == pytest.approx(1.001, abs=1e-4)


@pytest.mark.source("NIST SP 811, appendix B.8, by hand: 28 inH2O = 6974.489 Pa")
def test_28_inches_of_water_and_a_cubic_foot_a_minute() -> None:
    assert to_si(28.0, "inH2O") == pytest.approx(6974.489, abs=5.1e-4)
    assert to_si(1.0, "cfm") == pytest.approx(4.719474e-4, abs=5.1e-11)
    assert from_si(6974.489, "psi") == pytest.approx(1.01156, abs=1e-5)


@pytest.mark.source("CoolProp, density of liquid water at 4 °C")
def test_a_millimetre_of_water_is_a_metre_per_thousand_of_real_water() -> None:
    column = PropsSI("D", "T", 277.13, "P", ROOM, "Water") * 9.80665e-3
    assert to_si(1.0, "mmH2O") == pytest.approx(column, rel=5e-5)
    assert to_si(1.0, "inH2O") == pytest.approx(25.4 * column, rel=5e-5)


@pytest.mark.source("NIST SP 811: 3386.389 Pa, mercury of 13595.1 kg/m3, standard gravity")
def test_an_inch_of_mercury_is_its_column() -> None:
    assert to_si(1.0, "inHg") == pytest.approx(13595.1 * 9.80665 * 0.0254, rel=2e-7)
    assert to_si(1.0, "inHg") == pytest.approx(3386.389, abs=5.1e-4)
