"""A flow test in SI: what was set, what was read, and what it states of its uncertainty."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import Literal

from shopflow.calc.areas import Valve
from shopflow.calc.array_types import Array
from shopflow.calc.flow import at_reference_pressure
from shopflow.calc.set_up import NOT_STATED, SetUp
from shopflow.calc.uncertainty import Uncertainties

Side = Literal["intake", "exhaust"]


@dataclass(frozen=True, slots=True)
class TypedUnits:
    """Units that a test was typed in; empty where there is none."""

    barometer: str
    test_pressure: str
    flow: str
    port_area: str = ""


@dataclass(frozen=True, slots=True)
class FittedCalibration:
    """A calibration by points that a test's flows are corrected by already."""

    errors: tuple[tuple[float, ...], ...]
    """Relative change of the flow at each lift by each independent standard error of the fit."""

    span: tuple[float, float]
    """Least and greatest flow, as corrected, of its points, m3/s."""

    key: Hashable
    """The curve: tests with it under one calibration share its errors."""

    words: str
    """Line or curve and its number of points, as "straight line through 5 points"."""

    doubts: str
    """Faults of the fit, in words; empty where nothing is."""


@dataclass(frozen=True, slots=True)
class FlowTest:
    """One bench session in SI: pressures in Pa, temperature in K, lengths in m, flows in m3/s."""

    side: Side
    barometer: float
    temperature: float
    humidity: float
    valve: Valve
    port_area: float | None
    test_pressure: float
    reference_pressure: float
    calibration_factor: float
    leakage: float
    """As indicated, at the leakage pressure."""

    uncertainty: Uncertainties
    lifts: tuple[float, ...]
    runs: tuple[tuple[float, ...], ...]
    """Indicated volume flow of each run at each lift; with a calibration by points the true one,
    as are the leakage, its uncertainty and the divisions."""

    calibration_key: tuple[str, str] | None = None
    """Bench and calibration, where both are named: what two sessions may have in common."""

    leakage_pressure: float | None = None
    """Pressure the leakage was measured at; None for the test pressure."""

    run_pressures: tuple[tuple[float, ...], ...] | None = None
    """Pressure across the head at each run; None where all were at the test pressure."""

    air_correction: float = 1.0
    """Factor that turns an indicated flow into one at room density, where the meter's air is not
    the room's."""

    meter_doubts: tuple[str, ...] = ()
    """Departures of the metering from its standard, in words."""

    gauge: str = ""
    """Name of the test-pressure gauge, where it is named: tests with one gauge share its error."""

    element_key: Hashable = None
    """The metering element, where its bench is named: tests with one element share its error."""

    day_key: Hashable = None
    """Bench and day, where both are named: tests with both share what the bench is off that day."""

    divisions: tuple[float, ...] | None = None
    """One division of the scale at each lift, as an indicated flow; None where it is unknown."""

    density_exponent: float = 0.5
    """Power of the room air's density that the effective area varies with: a half for a volume
    meter, none where the flow is read by a pressure difference that the same air makes."""

    fitted: FittedCalibration | None = None
    """The calibration, where it is one by points; its factor is 1 then."""

    fitted_standard: Array = 0.0
    """Relative standard uncertainty of the flow at each lift by that fit."""

    altitude: float | None = None
    """Of the shop above sea level, m, where it is known: it guards the barometer."""

    typed_units: TypedUnits | None = None
    """Units it was typed in, by which a slip is named."""

    set_up: SetUp = NOT_STATED
    """Set-up: all that stood on the bench beside the head."""

    @property
    def restated_runs(self) -> Sequence[Sequence[float]]:
        """The indicated runs as they would read at the test pressure."""
        if self.run_pressures is None:
            return self.runs
        return [
            [
                float(at_reference_pressure(*read, self.test_pressure))
                for read in zip(*row, strict=True)
            ]
            for row in zip(self.runs, self.run_pressures, strict=True)
        ]

    @property
    def leakage_scale(self) -> Array:
        """Factor that restates the leakage at the test pressure."""
        if self.leakage_pressure is None:
            return 1.0
        return at_reference_pressure(1.0, self.leakage_pressure, self.test_pressure)
