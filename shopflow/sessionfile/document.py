"""A bench session as it was typed, and the flow test it describes in SI."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Literal

from shopflow.calc.areas import Seat, Valve
from shopflow.calc.reduction import FlowTest, Side
from shopflow.calc.uncertainty import Uncertainties
from shopflow.units import UNITS, Quantity, to_si

PERCENT_OF_RANGE = "percent of range"
VOLUME_FLOW = "volume flow"


@dataclass(frozen=True, slots=True)
class ExcludedRun:
    """A reading that was taken but left out: `run` is its place among the runs at its lift."""

    lift: Decimal
    run: int
    flow: Decimal
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionDocument:
    """Every key of the session file; quantities as typed beside their SI values."""

    title: str = ""
    stage: str = ""
    engine_type: str = ""
    head: str = ""
    cylinder: str = ""
    operator: str = ""
    notes: str = ""
    measured_at: datetime | None = None
    side: Side

    barometer: Quantity
    temperature: Quantity
    humidity: Quantity

    head_diameter: Quantity
    valve_count: int = 1
    stem_diameter: Quantity | None = None
    seat_angle: Quantity | None = None
    seat_width: Quantity | None = None
    throat_diameter: Quantity | None = None
    port_area: Quantity | None = None

    bench_name: str = ""
    calibration_mark: str = ""
    test_pressure: Quantity
    reference_pressure: Quantity
    calibration_factor: Decimal = Decimal("1.0")
    leakage: Quantity
    reading_kind: Literal["volume flow", "percent of range"] = "volume flow"
    range: Quantity | None = None

    u_calibration: Quantity
    u_repeatability: Quantity
    u_pressure: Quantity
    u_lift: Quantity

    lift_unit: str
    flow_unit: str
    lifts: tuple[Decimal, ...]
    flows: tuple[tuple[Decimal, ...], ...]
    excluded: tuple[ExcludedRun, ...] = ()

    def indicated_flow(self, typed: Decimal) -> float:
        """A typed reading as an indicated volume flow, m3/s."""
        return indicated(float(typed), self.flow_unit, self.range)

    def lift_si(self, typed: Decimal) -> float:
        """A typed lift in m."""
        return length(typed, self.lift_unit)

    def leakage_flow(self) -> float:
        """The leakage as an indicated volume flow, m3/s."""
        if self.leakage.unit == "%":
            return indicated(float(self.leakage.number), "%", self.range)
        return self.leakage.si

    def flow_test(self) -> FlowTest:
        """The test in SI, ready to be reduced."""
        return FlowTest(
            side=self.side,
            barometer=self.barometer.si,
            temperature=self.temperature.si,
            humidity=self.humidity.si,
            valve=Valve(self.head_diameter.si, self.valve_count, self._seat()),
            port_area=self.port_area.si if self.port_area else None,
            test_pressure=self.test_pressure.si,
            reference_pressure=self.reference_pressure.si,
            calibration_factor=float(self.calibration_factor),
            leakage=self.leakage_flow(),
            uncertainty=Uncertainties(
                calibration=self.u_calibration.si,
                repeatability=self.u_repeatability.si,
                pressure=self.u_pressure.si,
                lift=self.u_lift.si,
            ),
            lifts=tuple(self.lift_si(lift) for lift in self.lifts),
            runs=tuple(tuple(self.indicated_flow(run) for run in runs) for runs in self.flows),
            calibration_key=(self.bench_name, self.calibration_mark)
            if self.bench_name and self.calibration_mark
            else None,
        )

    def _seat(self) -> Seat | None:
        if not (self.stem_diameter and self.seat_angle):
            return None
        if not (self.seat_width and self.throat_diameter):
            return None
        return Seat(
            stem_diameter=self.stem_diameter.si,
            angle=self.seat_angle.si,
            width=self.seat_width.si,
            throat_diameter=self.throat_diameter.si,
        )


def indicated(number: float, unit: str, full_scale: Quantity | None) -> float:
    """A reading in a unit of flow, or in percent of a range, as m3/s."""
    if unit == "%":
        return number / 100.0 * (full_scale.si if full_scale else 0.0)
    return to_si(number, unit)


def length(typed: Decimal, unit: str) -> float:
    """A typed length in m, rounded once: 12.7 mm and 0.5 in are the same lift."""
    return float(typed * Decimal(repr(UNITS[unit].scale)))
