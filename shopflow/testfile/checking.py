"""Checking a session file's content: every fault in one go, each at its key."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from shopflow.calc.air import density
from shopflow.calc.reduction import Reduction, reduce
from shopflow.errors import FieldError, ValidationError
from shopflow.testfile.calibration import calibration_faults
from shopflow.testfile.document import SessionDocument
from shopflow.testfile.keys import FLOWS, KEYS, LENGTHS, PRESSURES, READINGS, TABLES, TOP_LEVEL
from shopflow.testfile.meter import (
    PERCENT_OF_RANGE,
    PRESSURE_DIFFERENCE,
    VOLUME_FLOW,
    Meter,
    meter_of,
)
from shopflow.testfile.metering import meter_faults
from shopflow.testfile.readings import (
    Scale,
    read_excluded,
    read_flows,
    read_lifts,
    read_pressures,
)
from shopflow.testfile.walking import Values, Walker
from shopflow.texts import gettext
from shopflow.units import Quantity

SEAT = ("stem_diameter", "seat_angle", "seat_width", "throat_diameter")
SIZES = ("head_diameter", *SEAT, "port_area")
"""Fields whose uncertainty may be stated."""


def check(content: Mapping[str, Any]) -> SessionDocument:
    """The document a parsed session file describes.

    `content` is nested as the file is; numbers may be int, Decimal or float. Raises ValidationError
    with every fault found.
    """
    return reduced(content)[0]


def reduced(content: Mapping[str, Any]) -> tuple[SessionDocument, Reduction]:
    """The document, as `check` gives it, and its figures. Raises ValidationError."""
    document = described(content)
    try:
        return document, reduce(document.flow_test())
    except ValueError as error:
        raise ValidationError([FieldError("readings.flow", str(error))]) from None


def described(content: Mapping[str, Any]) -> SessionDocument:
    """The document, as `check` gives it, but for whether results can be calculated from it.

    Raises ValidationError.
    """
    checker = _Checker(content)
    values = checker.run()
    if checker.faults:
        raise ValidationError(checker.faults)
    return SessionDocument(**values)


class _Checker(Walker):
    """Walks the content once and collects the faults."""

    def run(self) -> Values:
        """The fields that could be read; complete where there is no fault."""
        self.unknown("", self.content, TOP_LEVEL)
        self.schema()
        tables = {"": self.content} | {name: self.table(name) for name in TABLES}
        values: Values = {}
        for name, table in tables.items():
            keys = [key for key in KEYS if key.table == name]
            if name:
                self.unknown(name, table or {}, [key.name for key in keys])
            if table is not None:
                values |= self.values(keys, table)
        self.together(values)
        self.readings(values)
        return values

    def together(self, values: Values) -> None:
        """Check values against one another."""
        self.below_the_barometer(values)
        kind = values.get("reading_kind")
        if kind == PERCENT_OF_RANGE and values.get("range", 0) is None:
            self.fault(
                "bench.range",
                gettext(
                    'missing; reading = "{percent_of_range}" needs it',
                    percent_of_range=PERCENT_OF_RANGE,
                ),
            )
        self.leakage("bench.leakage", values.get("leakage"), kind)
        doubt = values.get("u_leakage")
        if doubt and doubt.unit in PRESSURES:
            self.fault("uncertainty.leakage", gettext("{doubt}: state it as a flow", doubt=doubt))
        else:
            self.leakage("uncertainty.leakage", doubt, kind)
        self.division(values.get("u_resolution"), kind)
        self.air(values)
        self.faults += meter_faults(values)
        self.faults += calibration_faults(values)
        self.uncertain_sizes(values)
        self.whole_seat(values)
        self.seat_sizes(values)

    def leakage(self, key: str, typed: Quantity | None, kind: str | None) -> None:
        """A leakage, or its uncertainty, that the bench cannot show."""
        if typed and typed.unit == "%" and kind in (VOLUME_FLOW, PRESSURE_DIFFERENCE):
            self.fault(
                key,
                gettext(
                    'in percent only with reading = "{percent_of_range}"',
                    percent_of_range=PERCENT_OF_RANGE,
                ),
            )
        if typed and typed.unit in PRESSURES and kind in (VOLUME_FLOW, PERCENT_OF_RANGE):
            self.fault(
                key,
                gettext(
                    'as a pressure only with reading = "{pressure_difference}"',
                    pressure_difference=PRESSURE_DIFFERENCE,
                ),
            )

    def division(self, typed: Quantity | None, kind: str | None) -> None:
        """One division of the scale, in what the scale shows."""
        if typed and kind and _kind_of(typed.unit) != kind:
            self.fault(
                "uncertainty.resolution",
                gettext(
                    '{typed} is no division of a scale that reads "{kind}"', typed=typed, kind=kind
                ),
            )

    def below_the_barometer(self, values: Values) -> None:
        """Air cannot be drawn by more than there is."""
        barometer = values.get("barometer")
        if values.get("side") != "intake" or not barometer:
            return
        for name in ("test_pressure", "leakage_pressure"):
            pressure = values.get(name)
            if pressure and pressure.si >= barometer.si:
                self.fault(
                    f"bench.{name}",
                    gettext(
                        "{pressure} cannot be drawn from air at {barometer}: it must be below the "
                        "barometer",
                        pressure=pressure,
                        barometer=barometer,
                    ),
                )

    def air(self, values: Values) -> None:
        """Air data that give no density."""
        names = ("barometer", "temperature", "humidity")
        data = [values[name] for name in names if name in values]
        if len(data) < len(names):
            return
        with np.errstate(all="ignore"):
            rho = float(density(*(np.float64(item.si) for item in data)))
        if not (math.isfinite(rho) and rho > 0.0):
            self.fault(
                "air",
                gettext("no density can be calculated for {map}", map=", ".join(map(str, data))),
            )

    def whole_seat(self, values: Values) -> None:
        """The seat's geometry: all of it or none."""
        stated = [name for name in SEAT if values.get(name) is not None]
        for name in SEAT:
            # One that was refused has its own fault already.
            if stated and values.get(name, "refused") is None:
                self.fault(
                    f"valve.{name}",
                    gettext("missing; {stated} needs it", stated=", ".join(stated)),
                )

    def seat_sizes(self, values: Values) -> None:
        """Check that stem, throat and seat fit the head and one another."""
        head, stem, throat, width, angle = (
            values.get(name)
            for name in (
                "head_diameter",
                "stem_diameter",
                "throat_diameter",
                "seat_width",
                "seat_angle",
            )
        )
        for name, smaller in (("stem_diameter", stem), ("throat_diameter", throat)):
            if head and smaller and smaller.si >= head.si:
                self.fault(
                    f"valve.{name}",
                    gettext(
                        "{smaller} is not smaller than the head, {head}", smaller=smaller, head=head
                    ),
                )
        if stem and throat and throat.si <= stem.si < (head.si if head else math.inf):
            self.fault(
                "valve.throat_diameter",
                gettext("{throat} is not larger than the stem, {stem}", throat=throat, stem=stem),
            )
        if head and width and angle and 2 * width.si * math.cos(angle.si) >= head.si:
            self.fault(
                "valve.seat_width",
                gettext("{width} is too wide for a head of {head}", width=width, head=head),
            )

    def uncertain_sizes(self, values: Values) -> None:
        """The uncertainty of a size that is not there, or is not as large."""
        for name in SIZES:
            doubt, size = values.get(f"u_{name}"), values.get(name, "refused")
            if doubt and size is None:
                where = "port.area" if name == "port_area" else f"valve.{name}"
                self.fault(
                    f"uncertainty.{name}",
                    gettext("{doubt}: only with {where}", doubt=doubt, where=where),
                )
            elif doubt and size != "refused" and doubt.si >= size.si:
                self.fault(
                    f"uncertainty.{name}",
                    gettext("{doubt} is not smaller than the size, {size}", doubt=doubt, size=size),
                )

    def readings(self, values: Values) -> None:
        """The two arrays, their units, and what was left out."""
        if "readings" not in self.content:
            self.fault(
                "readings", gettext("missing; the table [readings] holds the lifts and flows")
            )
            return
        table = self.table("readings")
        if table is None:
            return
        self.unknown("readings", table, READINGS)
        scale = self.scale(table, values)
        lifts = read_lifts(table, scale, self.faults)
        pressures = read_pressures(table, lifts, scale, self.faults)
        flows = read_flows(table, lifts, pressures, scale, self.faults)
        rows = table.get("flow")
        if lifts and isinstance(rows, list | tuple) and 0 < len(rows) != len(lifts):
            self.fault(
                "readings.flow",
                gettext("{count} rows for {count2} lifts", count=len(rows), count2=len(lifts)),
            )
        self.shape(table)
        left_out = self.content.get("excluded", [])
        values |= {
            "lift_unit": scale.lift_unit,
            "flow_unit": scale.flow_unit,
            "pressure_unit": scale.pressure_unit or "",
            "lifts": tuple(lifts),
            "flows": tuple(flows),
            "pressures": tuple(pressures),
            "excluded": read_excluded(left_out, lifts, flows, "pressure" in table, self.faults),
        }

    def shape(self, table: Mapping[str, Any]) -> None:
        """Pressures stand beside the runs they belong to."""
        flows, pressures = table.get("flow"), table.get("pressure")
        if not isinstance(flows, list | tuple) or not isinstance(pressures, list | tuple):
            return
        if pressures and len(pressures) != len(flows):
            self.fault(
                "readings.pressure",
                gettext(
                    "{count} rows for {count2} of flow", count=len(pressures), count2=len(flows)
                ),
            )
            return
        for row, (runs, beside) in enumerate(zip(flows, pressures, strict=False), start=1):
            both = isinstance(runs, list | tuple) and isinstance(beside, list | tuple)
            if both and beside and len(runs) != len(beside):
                message = gettext(
                    "row {row}: {beside} pressures for {runs} runs",
                    row=row,
                    beside=len(beside),
                    runs=len(runs),
                )
                self.fault(f"readings.pressure[{row}]", message)

    def scale(self, table: Mapping[str, Any], values: Values) -> Scale:
        """The units of the arrays and what the readings are held to."""
        lift_unit = self.unit("lift_unit", table, LENGTHS, "readings")
        flow_unit = self.unit("flow_unit", table, (*FLOWS, "%", *PRESSURES), "readings")
        kind = values.get("reading_kind")
        if flow_unit and kind and kind != _kind_of(flow_unit):
            self.fault(
                "readings.flow_unit",
                gettext(
                    "'{flow_unit}' does not go with reading = \"{kind}\"",
                    flow_unit=flow_unit,
                    kind=kind,
                ),
            )
            flow_unit = None
        meter = self.known_meter(values)
        leakage, test = values.get("leakage"), values.get("test_pressure")
        at = values.get("leakage_pressure") or test
        barometer = values.get("barometer")
        is_drawn_in = barometer and values.get("side") == "intake"
        return Scale(
            lift_unit,
            flow_unit,
            meter,
            meter.indicated(float(leakage.number), leakage.unit)
            if leakage and meter.reads(leakage.unit)
            else None,
            at.si if at else None,
            test.si if test else None,
            barometer.si if barometer and is_drawn_in else math.inf,
            self.pressure_unit(table),
        )

    def pressure_unit(self, table: Mapping[str, Any]) -> str | None:
        """The unit of the runs' pressures, where there are any."""
        if "pressure" not in table and "pressure_unit" not in table:
            return None
        if "pressure" not in table:
            self.fault("readings.pressure", gettext("missing; pressure_unit needs it"))
        return self.unit("pressure_unit", table, PRESSURES, "readings")

    def known_meter(self, values: Values) -> Meter:
        """The bench's scale, as far as what was typed of it can be worked with."""
        needed = ("air", "bench.element", "bench.pipe", "bench.meter")
        if any(fault.key.startswith(needed) for fault in self.faults):
            return Meter(values.get("range"))
        return meter_of(values.get)


def _kind_of(unit: str) -> str:
    """Kind of bench whose readings are typed in this unit."""
    if unit == "%":
        return PERCENT_OF_RANGE
    return PRESSURE_DIFFERENCE if unit in PRESSURES else VOLUME_FLOW
