"""Air against CoolProp, psychrolib and the standard atmosphere."""

from __future__ import annotations

import numpy as np
import psychrolib
import pytest
from CoolProp.HumidAirProp import HAPropsSI
from fluids.atmosphere import ATMOSPHERE_1976
from hypothesis import given
from hypothesis import strategies as st

from shopflow.calc.air import density, speed_of_sound

STATES = [
    pytest.param(20.0, 101325.0, 0.0, id="20 °C, dry"),
    pytest.param(20.0, 101325.0, 0.5, id="20 °C, 50 %"),
    pytest.param(25.0, 101325.0, 0.6, id="25 °C, 60 %"),
    pytest.param(23.0, 95000.0, 0.4, id="23 °C, 950 hPa, 40 %"),
    pytest.param(25.0, 99000.0, 0.0, id="25 °C, 990 hPa, dry"),
    pytest.param(15.0, 60000.0, 1.0, id="the formula's low corner"),
    pytest.param(27.0, 110000.0, 1.0, id="the formula's high corner"),
]
temperatures = st.floats(288.15, 300.15)
pressures = st.floats(60e3, 110e3)
humidities = st.floats(0.0, 1.0)


@pytest.mark.source("CoolProp humid air (Herrmann, Kretzschmar and Gatley 2009)")
@pytest.mark.parametrize(("celsius", "pressure", "humidity"), STATES)
def test_density_agrees_with_a_real_gas_model(
    celsius: float, pressure: float, humidity: float
) -> None:
    """CoolProp's humid air (Herrmann, Kretzschmar, Gatley 2009). Both models claim about 1e-4."""
    temperature = celsius + 273.15
    volume = HAPropsSI("Vha", "T", temperature, "P", pressure, "R", humidity)
    assert density(pressure, temperature, humidity) == pytest.approx(1.0 / volume, rel=1e-4)


@pytest.mark.source("psychrolib (ASHRAE Handbook, Fundamentals 2017, chapter 1)")
@pytest.mark.parametrize(("celsius", "pressure", "humidity"), STATES)
def test_density_agrees_with_the_handbook_s_ideal_gas(
    celsius: float, pressure: float, humidity: float
) -> None:
    """psychrolib (ASHRAE Handbook Fundamentals 2017, ch. 1), whose air is an ideal gas: 1e-3."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    ratio = psychrolib.GetHumRatioFromRelHum(celsius, humidity, pressure)
    expected = psychrolib.GetMoistAirDensity(celsius, ratio, pressure)
    assert density(pressure, celsius + 273.15, humidity) == pytest.approx(expected, rel=1e-3)


@pytest.mark.source("ISO 2533:1975, sea level")
def test_dry_air_at_sea_level_is_near_the_standard_atmosphere_s() -> None:
    """ISO 2533 sea level: 1.2250 kg/m3, an ideal gas, where CIPM-2007 has compressibility."""
    assert density(101325.0, 288.15) == pytest.approx(1.2250, rel=5e-4)


@pytest.mark.source("ISO 2533:1975, sea level and 1000 m; fluids, ATMOSPHERE_1976")
@pytest.mark.parametrize(
    ("altitude", "speed"), [(0.0, 340.294), (1000.0, 336.434)], ids=["sea level", "1000 m"]
)
def test_speed_of_sound_is_the_standard_atmosphere_s(altitude: float, speed: float) -> None:
    """The US atmosphere of 1976, which fluids has, is ISO 2533's up to 32 km."""
    atmosphere = ATMOSPHERE_1976(altitude)
    assert atmosphere.v_sonic == pytest.approx(speed, rel=1e-5)
    assert speed_of_sound(atmosphere.T) == pytest.approx(speed, rel=1e-5)


@given(pressures, temperatures, humidities)
def test_air_is_lighter_warm_humid_or_thin(
    pressure: float, temperature: float, humidity: float
) -> None:
    here = density(pressure, temperature, humidity)
    assert density(pressure, temperature + 1.0, humidity) < here
    assert density(pressure * 1.001, temperature, humidity) > here
    assert density(pressure, temperature, humidity + 0.01) < here


def test_arrays_give_what_their_members_give() -> None:
    pressure = np.linspace(60e3, 110e3, 7)[:, None]
    temperature = np.linspace(288.0, 300.0, 5)
    total = density(pressure, temperature, 0.4)
    assert total.shape == (7, 5)
    for row in range(7):
        for column in range(5):
            item = density(float(pressure[row, 0]), float(temperature[column]), 0.4)
            assert total[row, column] == pytest.approx(item, rel=1e-15)


@pytest.mark.source("CIPM-2007: Picard et al., Metrologia 45 (2008) 149, equation 1, by hand")
@pytest.mark.parametrize(
    ("celsius", "pressure", "humidity", "by_cipm"),
    [
        (20.0, 101325.0, 0.0, 1.204557),
        (20.0, 101325.0, 0.5, 1.199314),
        (25.0, 101325.0, 0.6, 1.175922),
        (23.0, 95000.0, 0.4, 1.112878),
        (25.0, 99000.0, 0.0, 1.157118),
    ],
)
def test_density_is_that_of_cipm_2007(
    celsius: float, pressure: float, humidity: float, by_cipm: float
) -> None:
    """Picard et al. (2008), equation 1, worked out apart from this program.

    The paper's short form rounds 1 − Mv/Ma to 0.3780, which is worth one part in a million.
    """
    assert density(pressure, celsius + 273.15, humidity) == pytest.approx(by_cipm, abs=1.1e-6)
