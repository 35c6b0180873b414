"""Checking a session file's content: every fault in one go, each at its key."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np

from shopflow.calc.air import density
from shopflow.calc.reduction import reduce
from shopflow.errors import Fault, FaultsError
from shopflow.sessionfile.document import (
    PERCENT_OF_RANGE,
    VOLUME_FLOW,
    SessionDocument,
    indicated,
)
from shopflow.sessionfile.keys import FLOWS, KEYS, LENGTHS, READINGS, TABLES, TOP_LEVEL
from shopflow.sessionfile.readings import Scale, read_excluded, read_flows, read_lifts, unit_of
from shopflow.sessionfile.values import RefusedError, read, shown, suggestion

SEAT = ("stem_diameter", "seat_angle", "seat_width", "throat_diameter")
MOST_SUGGESTIONS = 20
Values = dict[str, Any]


def check(content: Mapping[str, Any]) -> SessionDocument:
    """The document a parsed session file describes.

    `content` is nested as the file is; numbers may be int, Decimal or float. Raises FaultsError
    with every fault found.
    """
    checker = _Checker(content)
    values = checker.run()
    if checker.faults:
        raise FaultsError(checker.faults)
    document = SessionDocument(**values)
    try:
        reduce(document.flow_test())
    except ValueError as error:
        raise FaultsError([Fault("readings.flow", str(error))]) from None
    return document


class _Checker:
    """Walks the content once and collects the faults."""

    def __init__(self, content: Mapping[str, Any]) -> None:
        self.content = content
        self.faults: list[Fault] = []

    def fault(self, key: str, message: str) -> None:
        self.faults.append(Fault(key, message))

    def run(self) -> Values:
        """The fields that could be read; complete where there is no fault."""
        self.unknown("", self.content, TOP_LEVEL)
        self.schema()
        tables = {"": self.content} | {name: self.table(name) for name in TABLES}
        for name in TABLES:
            known = [key.name for key in KEYS if key.table == name]
            self.unknown(name, tables[name] or {}, known)
        values: Values = {}
        for key in KEYS:
            table = tables[key.table]
            if table is None:
                continue
            try:
                values[key.field] = read(key, table)
            except RefusedError as refused:
                self.fault(key.path, str(refused))
        self.together(values)
        self.readings(values)
        return values

    def unknown(self, table: str, found: Mapping[str, Any], known: Iterable[str]) -> None:
        """Refuse keys the format does not have: a misspelling must not pass as a default."""
        known = tuple(known)
        for place, name in enumerate(name for name in found if name not in known):
            near = suggestion(name, known) if place < MOST_SUGGESTIONS else ""
            self.fault(f"{table}.{name}" if table else name, f"unknown key{near}")

    def schema(self) -> None:
        """The number of the format."""
        found = self.content.get("schema")
        if found is None:
            self.fault("schema", "missing; write schema = 1")
        elif isinstance(found, bool) or not isinstance(found, int) or found != 1:
            self.fault("schema", f"{shown(found)} is not a version this program reads; it reads 1")

    def table(self, name: str) -> Mapping[str, Any] | None:
        """A table of the file, empty where it is absent; None where it is no table."""
        found = self.content.get(name, {})
        if isinstance(found, Mapping):
            return found
        self.fault(name, f"must be a table, [{name}], not {shown(found)}")
        return None

    def together(self, values: Values) -> None:
        """What single values cannot tell: whether they go together."""
        test, barometer = values.get("test_pressure"), values.get("barometer")
        drawn = values.get("side") == "intake"
        if drawn and test and barometer and test.si >= barometer.si:
            self.fault(
                "bench.test_pressure",
                f"{test} cannot be drawn from air at {barometer}: it must be below the barometer",
            )
        if values.get("reading_kind") == PERCENT_OF_RANGE and values.get("range", 0) is None:
            self.fault("bench.range", f'missing; reading = "{PERCENT_OF_RANGE}" needs it')
        leakage = values.get("leakage")
        if leakage and leakage.unit == "%" and values.get("reading_kind") == VOLUME_FLOW:
            self.fault("bench.leakage", f'in percent only with reading = "{PERCENT_OF_RANGE}"')
        self.air(values)
        self.whole_seat(values)
        self.seat_sizes(values)

    def air(self, values: Values) -> None:
        """Air data that give no density."""
        names = ("barometer", "temperature", "humidity")
        data = [values[name] for name in names if name in values]
        if len(data) < len(names):
            return
        with np.errstate(all="ignore"):
            rho = float(density(*(np.float64(item.si) for item in data)))
        if not (math.isfinite(rho) and rho > 0.0):
            self.fault("air", f"no density can be worked out for {', '.join(map(str, data))}")

    def whole_seat(self, values: Values) -> None:
        """The seat's geometry: all of it or none."""
        given = [name for name in SEAT if values.get(name) is not None]
        for name in SEAT:
            # One that was refused has its own fault already.
            if given and values.get(name, "refused") is None:
                self.fault(f"valve.{name}", f"missing; it goes with {', '.join(given)}")

    def seat_sizes(self, values: Values) -> None:
        """Whether stem, throat and seat fit the head and one another."""
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
                self.fault(f"valve.{name}", f"{smaller} is not smaller than the head, {head}")
        if stem and throat and throat.si <= stem.si < (head.si if head else math.inf):
            self.fault("valve.throat_diameter", f"{throat} is not larger than the stem, {stem}")
        if head and width and angle and 2 * width.si * math.cos(angle.si) >= head.si:
            self.fault("valve.seat_width", f"{width} is too wide for a head of {head}")

    def readings(self, values: Values) -> None:
        """The two arrays, their units, and what was left out."""
        if "readings" not in self.content:
            self.fault("readings", "missing; the table [readings] holds the lifts and flows")
            return
        table = self.table("readings")
        if table is None:
            return
        self.unknown("readings", table, READINGS)
        scale = self.scale(table, values)
        lifts = read_lifts(table, scale, self.faults)
        flows = read_flows(table, lifts, scale, self.faults)
        rows = table.get("flow")
        if lifts and isinstance(rows, list | tuple) and 0 < len(rows) != len(lifts):
            self.fault("readings.flow", f"{len(rows)} rows for {len(lifts)} lifts")
        values |= {
            "lift_unit": scale.lift_unit,
            "flow_unit": scale.flow_unit,
            "lifts": tuple(lifts),
            "flows": tuple(flows),
            "excluded": read_excluded(self.content.get("excluded", []), lifts, flows, self.faults),
        }

    def scale(self, table: Mapping[str, Any], values: Values) -> Scale:
        """The units of the arrays and what the readings are held to."""
        lift_unit = unit_of(table, "lift_unit", LENGTHS, self.faults)
        flow_unit = unit_of(table, "flow_unit", (*FLOWS, "%"), self.faults)
        kind = values.get("reading_kind")
        if flow_unit and kind and (flow_unit == "%") != (kind == PERCENT_OF_RANGE):
            self.fault("readings.flow_unit", f"'{flow_unit}' does not go with reading = \"{kind}\"")
            flow_unit = None
        return Scale(lift_unit, flow_unit, values.get("range"), _leakage(values))


def _leakage(values: Values) -> float | None:
    """The leakage as indicated, m3/s, as far as it could be read."""
    leakage, full_scale = values.get("leakage"), values.get("range")
    if leakage is None or (leakage.unit == "%" and full_scale is None):
        return None
    if leakage.unit == "%":
        return indicated(float(leakage.number), "%", full_scale)
    return float(leakage.si)
