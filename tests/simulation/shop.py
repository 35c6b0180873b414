"""A shop whose every error is known: it draws them, reads its bench and writes session files.

The physics here is its own: nothing is taken from the program under test.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from tests.simulation.points import Points
from tests.simulation.points import shown as curved

CFM = 0.3048**3 / 60
INCH_OF_WATER = 249.08891
TEN_LIFTS = tuple(float(lift) for lift in range(1, 11))
"""mm."""


@dataclass(frozen=True)
class Uncertain:
    """Standard uncertainties, stated in the file and drawn from alike."""

    scatter: float = 0.004
    division: float = 0.5
    """cfm."""

    calibration: float = 0.006
    pressure: float = 0.003
    lift: float = 0.02
    """mm."""

    leakage: float = 0.2
    """cfm."""

    density: float = 0.003


@dataclass(frozen=True)
class Bench:
    """Conditions of a test."""

    hectopascal: float = 1013.0
    celsius: float = 20.0
    test_pressure: float = 28.0
    """inH2O."""

    lifts: tuple[float, ...] = TEN_LIFTS
    runs: int = 2
    name: str = "north"
    gauge: str = "G1"
    is_restriction: bool = False
    side: str = "intake"
    uncertain: Uncertain = Uncertain()
    is_curved: bool = False
    """True where it does not read in proportion, and is calibrated by points."""

    points: Points | None = None
    """Of a curved bench, as drawn on its calibration day."""

    by_factor: bool = False
    """True where a curved bench's session states one factor all the same."""

    def but(self, **changes: Any) -> Bench:
        return replace(self, **changes)


@dataclass(frozen=True)
class Errors:
    """Errors, in standard uncertainties, drawn once for all that share them."""

    calibration: float
    pressure: float
    lift: float
    leakage: float
    density: float


def area(lift: float) -> float:
    """The true effective area of the unchanged head, m2, at a lift in mm."""
    return 6.4e-4 * math.tanh(lift / 6.0) * (1.0 - 0.004 * lift)


def moist_density(pressure: float, kelvin: float, humidity: float) -> float:
    """CIPM-2007 (Picard et al. 2008), the compressibility written out."""
    celsius = kelvin - 273.15
    saturation = math.exp(
        1.2378847e-5 * kelvin**2 - 1.9121316e-2 * kelvin + 33.93711047 - 6343.1645 / kelvin
    )
    vapour = humidity * (1.00062 + 3.14e-8 * pressure + 5.6e-7 * celsius**2)
    vapour *= saturation / pressure
    pt = pressure / kelvin
    z = 1.0 - pt * (
        1.58123e-6 - 2.9331e-8 * celsius + 1.1043e-10 * celsius**2
        + (5.707e-6 - 2.051e-8 * celsius) * vapour
        + (1.9898e-4 - 2.376e-6 * celsius) * vapour**2
    ) + pt**2 * (1.83e-11 - 0.765e-8 * vapour**2)  # fmt: skip
    return pressure * 28.96546e-3 / (z * 8.314472 * kelvin) * (1.0 - 0.3780 * vapour)


def flux(side: str, barometer: float, density: float, difference: float) -> float:
    """Isentropic mass flux, kg/(s m2), from the energy equation of an ideal gas, unchoked."""
    up = barometer + difference if side == "exhaust" else barometer
    density_up = density * up / barometer
    ratio = (up - difference) / up
    enthalpy = 3.5 * up / density_up * (1.0 - ratio ** (0.4 / 1.4))
    return density_up * math.pow(ratio, 1.0 / 1.4) * math.sqrt(2.0 * enthalpy)


def drawn(bench: Bench, rng: np.random.Generator, shared: Errors | None, like: Bench) -> Errors:
    """Errors of one test; what another test shares with it is that one's."""
    u = bench.uncertain
    calibration, pressure, lift, leakage, density = rng.standard_normal(5)
    same_bench = shared is not None and bench.name == like.name
    same_gauge = shared is not None and bench.gauge == like.gauge
    return Errors(
        shared.calibration if shared and same_bench else calibration * u.calibration,
        shared.pressure if shared and same_gauge else pressure * u.pressure,
        lift * u.lift,
        leakage * u.leakage,
        density * u.density,
    )


def session_file(bench: Bench, errors: Errors, rng: np.random.Generator, gain: float = 0.0) -> str:
    """The session file of a test of the head, or of the head after a true gain."""
    barometer, kelvin = bench.hectopascal * 100.0, bench.celsius + 273.15
    nominal = moist_density(barometer, kelvin, 0.40)
    true = nominal * (1.0 + errors.density)
    difference = bench.test_pressure * INCH_OF_WATER * (1.0 + errors.pressure)
    through = flux(bench.side, barometer, true, difference)
    leak = 0.6 + errors.leakage
    scale_density = 1.204
    rows = []
    for lift in bench.lifts:
        mass = through * area(lift + errors.lift) * (1.0 + gain)
        scale = math.sqrt(scale_density * true) if bench.is_restriction else true
        shown = mass / scale / CFM / (1.0 + errors.calibration) + leak
        if bench.points is not None:
            shown = curved(mass / scale / CFM + leak)
        rows.append([read(shown, bench.uncertain, rng) for _ in range(bench.runs)])
    return TEMPLATE.format(
        b=bench,
        u=bench.uncertain,
        expanded=200.0 * bench.uncertain.calibration,
        pressure=100.0 * bench.uncertain.pressure,
        density=100.0 * bench.uncertain.density,
        meter=f'meter = "restriction"\nscale_density = "{scale_density} kg/m3"'
        if bench.is_restriction
        else "",
        points=_points(bench),
        lifts=list(bench.lifts),
        rows=rows,
    )


def _points(bench: Bench) -> str:
    if bench.points is None:
        return ""
    return bench.points.factor if bench.by_factor else bench.points.keys


def read(shown: float, uncertain: Uncertain, rng: np.random.Generator) -> float:
    """One reading, scattered and rounded to the scale."""
    scattered = shown * (1.0 + uncertain.scatter * rng.standard_normal())
    return round(round(scattered / uncertain.division) * uncertain.division, 6)


TEMPLATE = """schema = 1
side = "{b.side}"
[air]
barometer = "{b.hectopascal} hPa"
temperature = "{b.celsius} degC"
humidity = "40 %"
[valve]
head_diameter = "44.5 mm"
[bench]
name = "{b.name}"
calibration_id = "{b.name}-1"
gauge_id = "{b.gauge}"
test_pressure = "{b.test_pressure} inH2O"
leakage = "0.6 cfm"
{meter}
{points}
[uncertainty]
calibration = "{expanded:.6f} %"
pressure = "{pressure:.6f} %"
lift = "{u.lift} mm"
resolution = "{u.division} cfm"
leakage = "{u.leakage} cfm"
density = "{density:.6f} %"
[readings]
lift_unit = "mm"
flow_unit = "cfm"
lift = {lifts}
flow = {rows}
"""
