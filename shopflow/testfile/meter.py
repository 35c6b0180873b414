"""From a reading of the bench's scale to the volume flow it indicates."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from shopflow.calc.air import density
from shopflow.calc.meterair import (
    MeterKind,
    density_at_meter,
    meter_air_correction,
    scale_correction,
)
from shopflow.calc.metering import (
    Element,
    ElementKind,
    MeteredAir,
    OwnElement,
    StandardElement,
    mass_flow,
)
from shopflow.texts import gettext
from shopflow.units import UNITS, Quantity, to_si

VOLUME_FLOW = "volume flow"
PERCENT_OF_RANGE = "percent of range"
PRESSURE_DIFFERENCE = "pressure difference"
READING_KINDS = (VOLUME_FLOW, PERCENT_OF_RANGE, PRESSURE_DIFFERENCE)
OWN_ELEMENT = ("element_coefficient", "element_area")
STANDARD_ELEMENT = ("element_diameter", "pipe_diameter")
"""Fields that say all of an element: one with a coefficient of the shop's own, or a standard's."""


@dataclass(frozen=True, slots=True)
class MeteringElement:
    """Element across which a pressure difference is read, and the air it meets."""

    element: Element
    air: MeteredAir
    room_density: float


@dataclass(frozen=True, slots=True)
class Meter:
    """A bench's scale, as far as it is known: its range, or its metering element."""

    full_scale: Quantity | None = None
    """Flow or pressure at 100 %."""

    metering: MeteringElement | None = None

    def reads(self, unit: str) -> bool:
        """True where a reading in this unit can be turned into a flow."""
        if unit == "%":
            return self.full_scale is not None
        return UNITS[unit].dimension != "pressure" or self.metering is not None

    def indicated(self, number: float, unit: str) -> float:
        """A reading as an indicated volume flow at room density, m3/s.

        Raises ValueError where the unit wants a range or an element that is not known.
        """
        if not self.reads(unit):
            raise ValueError(
                gettext("nothing says what flow a reading in {unit} stands for", unit=unit)
            )
        if unit == "%" and self.full_scale is not None:
            return number / 100.0 * self.full_scale.si
        si = to_si(number, unit)
        if UNITS[unit].dimension == "pressure" and self.metering is not None:
            passed = mass_flow(self.metering.element, si, self.metering.air)
            return float(passed) / self.metering.room_density
        return si


def meter_of(field: Callable[[str], Any]) -> Meter:
    """The scale that a session's fields describe, its element only where all of it is known.

    `field` gives the value of a field of SessionDocument, None where there is none.
    """
    return Meter(field("range"), _metering(field))


def air_correction(field: Callable[[str], Any]) -> float:
    """Factor that turns an indicated flow into one at room density; 1 where the meter's air is as
    in the room, or where an element's flow was calculated with its own air."""
    kind, marked_for = field("meter_kind"), field("scale_density")
    if not kind:
        return 1.0
    ratio = _air_at_meter(field, 1.0).density
    correction = float(meter_air_correction(MeterKind(kind), ratio))
    if marked_for is None:
        return correction
    room = density(*(field(name).si for name in ("barometer", "temperature", "humidity")))
    return correction * float(scale_correction(marked_for.si, room))


def _metering(field: Callable[[str], Any]) -> MeteringElement | None:
    air = [field(name) for name in ("barometer", "temperature", "humidity", "meter_pressure")]
    element = _element(field)
    if element is None or None in air:
        return None
    room = float(density(*(quantity.si for quantity in air[:3])))
    return MeteringElement(element, _air_at_meter(field, room), room)


def _air_at_meter(field: Callable[[str], Any], room_density: float) -> MeteredAir:
    barometer, temperature = field("barometer").si, field("temperature").si
    pressure = (field("meter_pressure") or field("barometer")).si
    warmth = (field("meter_temperature") or field("temperature")).si
    meter_density = density_at_meter(room_density, barometer, temperature, pressure, warmth)
    return MeteredAir(pressure, warmth, meter_density)


def _element(field: Callable[[str], Any]) -> Element | None:
    kind = field("element_kind")
    names = OWN_ELEMENT if kind == ElementKind.OWN else STANDARD_ELEMENT
    sizes = [field(name) for name in names]
    if not kind or None in sizes:
        return None
    if kind == ElementKind.OWN:
        coefficient, area = sizes
        return OwnElement(float(coefficient), area.si)
    bore, pipe = sizes
    return StandardElement(ElementKind(kind), bore.si, pipe.si)
