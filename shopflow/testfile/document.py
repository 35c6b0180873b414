"""A bench session as it was typed, and the flow test it describes in SI."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any, Literal

from shopflow.calc.air import density
from shopflow.calc.areas import Seat, Valve
from shopflow.calc.calibration import CalibrationCurve, calibrated
from shopflow.calc.flowtest import FlowTest, Side, TypedUnits
from shopflow.calc.iso5167 import ElementUncertainty, element_uncertainty, outside_standard
from shopflow.calc.meterair import MeterKind
from shopflow.calc.set_up import Part, SetUp
from shopflow.calc.standard_flow import STANDARD_DENSITY
from shopflow.calc.uncertainty import Uncertainties
from shopflow.testfile.calibration import curve_of
from shopflow.testfile.meter import PRESSURE_DIFFERENCE, Meter, air_correction, meter_of
from shopflow.texts import gettext, lazy
from shopflow.units import UNITS, Quantity, to_si


@dataclass(frozen=True, slots=True)
class ExcludedRun:
    """A reading that was taken but left out: `run` is its place among the runs at its lift."""

    lift: Decimal
    run: int
    flow: Decimal
    reason: str
    pressure: Decimal | None = None
    """Across the head at this run, where the session has pressures of its runs."""


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
    altitude: Quantity | None = None

    head_diameter: Quantity
    valve_count: int = 1
    stem_diameter: Quantity | None = None
    seat_angle: Quantity | None = None
    seat_width: Quantity | None = None
    throat_diameter: Quantity | None = None
    port_area: Quantity | None = None

    bench_name: str = ""
    calibration_mark: str = ""
    gauge_mark: str = ""
    test_pressure: Quantity
    reference_pressure: Quantity
    calibration_factor: Decimal = Decimal("1.0")
    calibration_model: str = ""
    calibration_reading_unit: str = ""
    calibration_readings: tuple[Decimal, ...] = ()
    """Of a calibration by points; empty for one by a factor."""

    calibration_flow_unit: str = ""
    calibration_flows: tuple[Decimal, ...] = ()
    calibration_uncertainties: tuple[Decimal, ...] = ()
    """Expanded (k = 2), percent of each flow."""

    leakage: Quantity
    leakage_pressure: Quantity | None = None
    reading_kind: Literal["volume flow", "percent of range", "pressure difference"] = "volume flow"
    range: Quantity | None = None
    meter_kind: str = ""
    meter_temperature: Quantity | None = None
    meter_pressure: Quantity | None = None
    scale_density: Quantity | None = None
    element_kind: str = ""
    element_diameter: Quantity | None = None
    pipe_diameter: Quantity | None = None
    element_coefficient: Decimal | None = None
    element_area: Quantity | None = None

    set_up_sleeve: str = ""
    """Set-up part by part: a fixture, "none", or empty where it is not stated."""

    set_up_inlet: str = ""
    set_up_stub: str = ""
    set_up_manifold: str = ""
    set_up_carburetor: str = ""
    set_up_header: str = ""
    set_up_spark_plug: str = ""
    set_up_guide: str = ""

    u_calibration: Quantity | None = None
    u_repeatability: Quantity | None = None
    u_pressure: Quantity | None = None
    u_lift: Quantity | None = None
    u_resolution: Quantity | None = None
    u_leakage: Quantity | None = None
    u_density: Quantity | None = None
    u_day: Quantity | None = None
    u_head_diameter: Quantity | None = None
    u_stem_diameter: Quantity | None = None
    u_seat_angle: Quantity | None = None
    u_seat_width: Quantity | None = None
    u_throat_diameter: Quantity | None = None
    u_port_area: Quantity | None = None
    """An uncertainty that is None is unknown."""

    lift_unit: str
    flow_unit: str
    lifts: tuple[Decimal, ...]
    flows: tuple[tuple[Decimal, ...], ...]
    excluded: tuple[ExcludedRun, ...] = ()
    pressure_unit: str = ""
    pressures: tuple[tuple[Decimal, ...], ...] = ()
    """Pressure across the head at each run, or none where all were at the test pressure."""

    @property
    def set_up(self) -> SetUp:
        """Set-up: all that stood on the bench beside the head."""
        rows = ((part, getattr(self, f"set_up_{part.value}").strip()) for part in Part)
        return SetUp(tuple((part, text) for part, text in rows if text))

    @property
    def meter(self) -> Meter:
        """The bench's scale."""
        return meter_of(self._field)

    @property
    def calibration_curve(self) -> CalibrationCurve | None:
        """The calibration, where it is one by points."""
        return curve_of(self._field)

    def indicated_flow(self, typed: Decimal) -> float:
        """A typed reading as an indicated volume flow, m3/s."""
        return self.meter.indicated(float(typed), self.flow_unit)

    def pressure_si(self, typed: Decimal) -> float:
        """A typed pressure of a run in Pa."""
        return to_si(float(typed), self.pressure_unit)

    def lift_si(self, typed: Decimal) -> float:
        """A typed lift in m."""
        return length(typed, self.lift_unit)

    def leakage_flow(self, across: float | None = None) -> float:
        """The leakage as an indicated volume flow, m3/s, as measured or at a pressure in Pa."""
        measured = self.meter.indicated(float(self.leakage.number), self.leakage.unit)
        if across is None:
            return measured
        return leakage_at(measured, (self.leakage_pressure or self.test_pressure).si, across)

    def flow_test(self) -> FlowTest:
        """The test in SI, ready to be reduced."""
        meter = self.meter
        runs = tuple(
            tuple(meter.indicated(float(run), self.flow_unit) for run in runs)
            for runs in self.flows
        )
        test = FlowTest(
            side=self.side,
            barometer=self.barometer.si,
            temperature=self.temperature.si,
            humidity=self.humidity.si,
            valve=Valve(self.head_diameter.si, self.valve_count, self._seat()),
            port_area=self.port_area.si if self.port_area else None,
            test_pressure=self.test_pressure.si,
            reference_pressure=self.reference_pressure.si,
            calibration_factor=float(self.calibration_factor),
            leakage=meter.indicated(float(self.leakage.number), self.leakage.unit),
            uncertainty=self._uncertainties(meter),
            lifts=tuple(self.lift_si(lift) for lift in self.lifts),
            runs=runs,
            calibration_key=(self.bench_name, self.calibration_mark)
            if self.bench_name and self.calibration_mark
            else None,
            leakage_pressure=self.leakage_pressure.si if self.leakage_pressure else None,
            run_pressures=tuple(
                tuple(self.pressure_si(pressure) for pressure in pressures)
                for pressures in self.pressures
            )
            or None,
            air_correction=air_correction(self._field),
            meter_doubts=self._meter_doubts(meter, min(map(min, runs))),
            gauge=self.gauge_mark,
            element_key=self._element_key(),
            day_key=(self.bench_name, f"{self.measured_at.date()}")
            if self.bench_name and self.measured_at
            else None,
            divisions=self._divisions(meter),
            density_exponent=0.0 if self._reads_mass() else 0.5,
            altitude=_si(self.altitude),
            typed_units=TypedUnits(
                self.barometer.unit,
                self.test_pressure.unit,
                self.flow_unit,
                self.port_area.unit if self.port_area else "",
            ),
            set_up=self.set_up,
        )
        curve = self.calibration_curve
        return test if curve is None else calibrated(test, curve)

    def _uncertainties(self, meter: Meter) -> Uncertainties:
        element = self._element_uncertainty(meter)
        return Uncertainties(
            calibration=_si(self.u_calibration),
            repeatability=_si(self.u_repeatability),
            pressure=_si(self.u_pressure),
            lift=_si(self.u_lift),
            element=element.coefficient,
            element_diameters=element.diameters,
            element_expansion=element.expansion,
            reading_exponent=0.5 if self.reading_kind == PRESSURE_DIFFERENCE else 1.0,
            leakage=meter.indicated(float(self.u_leakage.number), self.u_leakage.unit)
            if self.u_leakage
            else None,
            density=_si(self.u_density),
            day=_si(self.u_day),
            head_diameter=_si(self.u_head_diameter),
            stem_diameter=_si(self.u_stem_diameter),
            seat_angle=_si(self.u_seat_angle),
            seat_width=_si(self.u_seat_width),
            throat_diameter=_si(self.u_throat_diameter),
            port_area=_si(self.u_port_area),
        )

    def _element_uncertainty(self, meter: Meter) -> ElementUncertainty:
        """Uncertainty of the element by ISO 5167, over the pressure differences that were read."""
        if meter.metering is None:
            return ElementUncertainty(0.0, 0.0, 0.0)
        drops = [to_si(float(run), self.flow_unit) for runs in self.flows for run in runs]
        return element_uncertainty(
            meter.metering.element, min(drops), max(drops), meter.metering.air
        )

    def _divisions(self, meter: Meter) -> tuple[float, ...] | None:
        """One division at each lift as an indicated flow, m3/s; None where it is unknown."""
        if self.u_resolution is None:
            return None
        division = float(self.u_resolution.number)
        if self.reading_kind != PRESSURE_DIFFERENCE:
            return (meter.indicated(division, self.u_resolution.unit),) * len(self.lifts)
        half = to_si(division, self.u_resolution.unit) / 2.0
        means = [to_si(float(sum(runs)) / len(runs), self.flow_unit) for runs in self.flows]
        return tuple(
            meter.indicated(mean + half, "Pa") - meter.indicated(max(mean - half, 0.0), "Pa")
            for mean in means
        )

    def _element_key(self) -> tuple[Any, ...] | None:
        """The metering element of a bench that is named."""
        if not (self.bench_name and self.element_kind):
            return None
        names = ("element_diameter", "pipe_diameter", "element_coefficient", "element_area")
        sizes = (getattr(self, name) for name in names)
        numbers = (size.si if isinstance(size, Quantity) else size for size in sizes)
        return self.bench_name, self.element_kind, *numbers

    def _reads_mass(self) -> bool:
        """True where the effective area does not depend on the air's density: the pressure
        difference read, across an element or by a marked scale, is of the same air."""
        marked = self.meter_kind == MeterKind.RESTRICTION and self.scale_density is not None
        return marked or self.reading_kind == PRESSURE_DIFFERENCE

    def _meter_doubts(self, meter: Meter, smallest: float) -> tuple[str, ...]:
        """Doubts about the metering; a standard's limits at the smallest flow, m3/s."""
        if self.meter_kind == MeterKind.RESTRICTION and self.scale_density is None:
            return (self._scale_unknown(),)
        if meter.metering is None:
            return ()
        passed = smallest * meter.metering.room_density
        return tuple(outside_standard(meter.metering.element, passed, meter.metering.air))

    def _scale_unknown(self) -> str:
        """Effect that an unknown density of the scale's air may have in this room, in words."""
        room = float(density(self.barometer.si, self.temperature.si, self.humidity.si))
        off = room / STANDARD_DENSITY - 1.0
        if abs(off) <= SCALE_TOLERANCE:
            return str(SCALE_UNKNOWN)
        flow = abs(math.sqrt(STANDARD_DENSITY / room) - 1.0)
        numbers = {
            "unknown": SCALE_UNKNOWN,
            "room": room,
            "off": abs(off),
            "standard": STANDARD_DENSITY,
            "flow": flow,
        }
        if off < 0.0:
            return gettext(
                "{unknown}. This room's air, {room:.3f} kg/m3, is {off:.1%} lighter than standard "
                "air ({standard} kg/m3): if the scale is marked for that, every flow is "
                "{flow:.1%} too low",
                **numbers,
            )
        return gettext(
            "{unknown}. This room's air, {room:.3f} kg/m3, is {off:.1%} heavier than standard air "
            "({standard} kg/m3): if the scale is marked for that, every flow is {flow:.1%} too "
            "high",
            **numbers,
        )

    def _field(self, name: str) -> Any:
        return getattr(self, name)

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


SCALE_TOLERANCE = 0.01
"""Of the density, how far the room's air may lie from standard air before it is told."""

SCALE_UNKNOWN = lazy(
    "the density that the restriction's scale is marked for is not stated, so that it is taken as "
    "marked for this room's air; enter scale_density as the bench's calibration states it"
)


def _si(quantity: Quantity | None) -> float | None:
    return None if quantity is None else quantity.si


def leakage_at(leakage: float, measured_at: float, across: float) -> float:
    """A leakage restated at another pressure: it varies with the root of it, as a flow does."""
    return leakage * math.sqrt(across / measured_at)


def length(typed: Decimal, unit: str) -> float:
    """A typed length in m, rounded once: 12.7 mm and 0.5 in are the same lift."""
    return float(typed * Decimal(repr(UNITS[unit].scale)))
