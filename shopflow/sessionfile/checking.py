"""Checking a session file's content: every fault in one go, each at its key."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterable, Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any

from shopflow import units
from shopflow.errors import Fault, FaultsError
from shopflow.sessionfile.document import (
    PERCENT_OF_RANGE,
    VOLUME_FLOW,
    ExcludedRun,
    SessionDocument,
    indicated,
)
from shopflow.sessionfile.keys import (
    EXCLUDED,
    FLOWS,
    KEYS,
    LENGTHS,
    READINGS,
    TABLES,
    TOP_LEVEL,
    UNITS,
    Key,
)

SEAT = ("stem_diameter", "seat_angle", "seat_width", "throat_diameter")
Values = dict[str, Any]


class _RefusedError(ValueError):
    """One value that cannot be."""


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
        # What cannot be reduced is refused here, where the key can still be named.
        from shopflow.calc.reduction import reduce

        reduce(document.flow_test())
    except ValueError as error:
        key = "air" if "air" in str(error) else "readings.flow"
        raise FaultsError([Fault(key, str(error))]) from None
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
        tables = {name: self.table(name) for name in TABLES}
        tables[""] = self.content
        for name in TABLES:
            self.unknown(name, tables[name], [key.name for key in KEYS if key.table == name])
        values: Values = {}
        for key in KEYS:
            try:
                values[key.field] = _read(key, tables[key.table])
            except _RefusedError as refused:
                self.fault(key.path, str(refused))
        self.together(values)
        self.readings(values)
        return values

    def unknown(self, table: str, found: Mapping[str, Any], known: Iterable[str]) -> None:
        """Refuse keys the format does not have: a misspelling must not pass as a default."""
        known = list(known)
        for name in found:
            if name not in known:
                near = difflib.get_close_matches(name, known, n=1)
                hint = f"; did you mean '{near[0]}'?" if near else ""
                self.fault(f"{table}.{name}" if table else name, f"unknown key{hint}")

    def schema(self) -> None:
        """The number of the format."""
        found = self.content.get("schema")
        if found is None:
            self.fault("schema", "missing; write schema = 1")
        elif isinstance(found, bool) or found != 1 or not isinstance(found, int):
            self.fault("schema", f"{found!r} is not a version this program reads; it reads 1")

    def table(self, name: str) -> Mapping[str, Any]:
        """A table of the file; empty where it is absent or no table."""
        found = self.content.get(name, {})
        if not isinstance(found, Mapping):
            self.fault(name, f"must be a table, [{name}]")
            return {}
        return found

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
            self.fault("bench.range", 'missing; reading = "percent of range" needs it')
        leakage = values.get("leakage")
        if leakage and leakage.unit == "%" and values.get("reading_kind") == VOLUME_FLOW:
            self.fault("bench.leakage", 'in percent only with reading = "percent of range"')
        self.seat(values)

    def seat(self, values: Values) -> None:
        """The seat's geometry: whole or absent, and able to be."""
        given = [name for name in SEAT if values.get(name) is not None]
        if given and len(given) < len(SEAT):
            for name in SEAT:
                # One that was refused has its own fault already.
                if name in values and values[name] is None:
                    self.fault(f"valve.{name}", f"missing; it goes with {', '.join(given)}")
        head = values.get("head_diameter")
        stem, throat = values.get("stem_diameter"), values.get("throat_diameter")
        for name, smaller in (("stem_diameter", stem), ("throat_diameter", throat)):
            if head and smaller and smaller.si >= head.si:
                self.fault(f"valve.{name}", f"{smaller} is not smaller than the head, {head}")
        if stem and throat and throat.si <= stem.si < (head.si if head else math.inf):
            self.fault("valve.throat_diameter", f"{throat} is not larger than the stem, {stem}")
        width, angle = values.get("seat_width"), values.get("seat_angle")
        if head and width and angle and 2 * width.si * math.cos(angle.si) >= head.si:
            self.fault("valve.seat_width", f"{width} is too wide for a head of {head}")

    def readings(self, values: Values) -> None:
        """The two arrays, their units, and what was left out."""
        if "readings" not in self.content:
            self.fault("readings", "missing; the table [readings] holds the lifts and flows")
            return
        table = self.table("readings")
        self.unknown("readings", table, READINGS)
        lift_unit = self.unit_of(table, "lift_unit", LENGTHS)
        flow_unit = self.unit_of(table, "flow_unit", (*FLOWS, "%"))
        kind = values.get("reading_kind")
        if flow_unit and kind and (flow_unit == "%") != (kind == PERCENT_OF_RANGE):
            self.fault("readings.flow_unit", f"'{flow_unit}' does not go with reading = \"{kind}\"")
            flow_unit = None
        lifts = self.lifts(table, lift_unit)
        flows = self.flows(table, lifts, flow_unit, values)
        if lifts is not None and flows is not None and len(lifts) != len(flows):
            self.fault("readings.flow", f"{len(flows)} rows for {len(lifts)} lifts")
        values |= {
            "lift_unit": lift_unit,
            "flow_unit": flow_unit,
            "lifts": tuple(lifts or ()),
            "flows": tuple(flows or ()),
            "excluded": self.excluded(),
        }

    def unit_of(self, table: Mapping[str, Any], name: str, allowed: tuple[str, ...]) -> str | None:
        """The unit of one of the arrays."""
        found = table.get(name)
        path = f"readings.{name}"
        if found is None:
            self.fault(path, f"missing; use one of {', '.join(allowed)}")
        elif not isinstance(found, str):
            self.fault(path, 'must be text, as "mm"')
        elif found not in allowed:
            folded = {symbol.lower(): symbol for symbol in allowed}
            near = difflib.get_close_matches(found.lower(), folded, n=1)
            hint = f"did you mean '{folded[near[0]]}'?" if near else f"use {', '.join(allowed)}"
            self.fault(path, f"unknown unit '{found}'; {hint}")
        else:
            return found
        return None

    def lifts(self, table: Mapping[str, Any], unit: str | None) -> list[Decimal] | None:
        """The lifts: above zero, strictly increasing."""
        found = table.get("lift")
        if not isinstance(found, list) or not found:
            missing = "missing" if found is None else "must be an array with at least one lift"
            self.fault("readings.lift", missing)
            return None
        lifts: list[Decimal] = []
        clean = True
        for row, item in enumerate(found, start=1):
            try:
                lift = _number(item)
                if units.to_si(float(lift), unit or "m") <= 0.0:
                    raise _RefusedError(f"{item} is not above 0")
                if lifts and lift <= lifts[-1]:
                    raise _RefusedError(f"{item} is not above the lift before it, {lifts[-1]}")
                lifts.append(lift)
            except _RefusedError as refused:
                clean = False
                self.fault(f"readings.lift[{row}]", f"row {row}: {refused}")
        return lifts if clean else None

    def flows(
        self,
        table: Mapping[str, Any],
        lifts: list[Decimal] | None,
        unit: str | None,
        values: Values,
    ) -> list[tuple[Decimal, ...]] | None:
        """The runs at each lift: not negative, above the leakage."""
        found = table.get("flow")
        if not isinstance(found, list):
            self.fault(
                "readings.flow",
                "missing" if found is None else "must be an array of arrays, one row per lift",
            )
            return None
        leakage = _leakage(values)
        flows = []
        for row, runs in enumerate(found, start=1):
            at = f" (lift {lifts[row - 1]})" if lifts and row <= len(lifts) else ""
            where = f"row {row}{at}"
            key = f"readings.flow[{row}]"
            if not isinstance(runs, list):
                self.fault(key, f"{where}: must be an array of runs, as [45.0, 45.5]")
                continue
            if not runs:
                self.fault(key, f"{where}: no run at this lift")
                continue
            flows.append(self.runs(key, where, runs, unit, values.get("range"), leakage))
        return flows

    def runs(
        self,
        key: str,
        where: str,
        runs: list[Any],
        unit: str | None,
        full_scale: units.Quantity | None,
        leakage: float | None,
    ) -> tuple[Decimal, ...]:
        """The runs of one row."""
        clean = []
        for place, item in enumerate(runs, start=1):
            try:
                flow = _number(item)
                if flow < 0:
                    raise _RefusedError(f"negative reading {item}")
                # On a percent bench without its range there is nothing to hold the leakage to.
                comparable = unit is not None and (unit != "%" or full_scale is not None)
                if leakage is not None and comparable and unit is not None:
                    net = indicated(float(flow), unit, full_scale) - leakage
                    if not math.isfinite(net):
                        raise _RefusedError(f"{item} is too large a number")
                    if net <= 0.0:
                        raise _RefusedError(f"reading {item} is not above the leakage")
                clean.append(flow)
            except _RefusedError as refused:
                self.fault(key, f"{where}, run {place}: {refused}")
        return tuple(clean)

    def excluded(self) -> tuple[ExcludedRun, ...]:
        """Readings taken but left out, each with its reason."""
        found = self.content.get("excluded", [])
        if not isinstance(found, list):
            self.fault("excluded", "must be tables, [[excluded]]")
            return ()
        clean = []
        for row, item in enumerate(found, start=1):
            key = f"excluded[{row}]"
            if not isinstance(item, Mapping):
                self.fault(key, "must be a table with lift, run, flow and reason")
                continue
            self.unknown(key, item, EXCLUDED)
            try:
                clean.append(_excluded_run(item))
            except _RefusedError as refused:
                self.fault(key, str(refused))
        return tuple(clean)


def _excluded_run(item: Mapping[str, Any]) -> ExcludedRun:
    for name in EXCLUDED:
        if name not in item:
            raise _RefusedError(f"'{name}' is missing")
    lift, flow = _number(item["lift"]), _number(item["flow"])
    run, reason = item["run"], item["reason"]
    if lift <= 0 or flow < 0:
        raise _RefusedError("lift must be above 0 and flow not negative")
    if isinstance(run, bool) or not isinstance(run, int) or run < 1:
        raise _RefusedError("'run' must be a whole number from 1")
    if not isinstance(reason, str) or not reason.strip():
        raise _RefusedError("'reason' must say why the reading was left out")
    return ExcludedRun(lift, run, flow, reason)


def _leakage(values: Values) -> float | None:
    leakage = values.get("leakage")
    if leakage is None:
        return None
    if leakage.unit != "%":
        return float(leakage.si)
    full_scale = values.get("range")
    return indicated(float(leakage.number), "%", full_scale) if full_scale else None


def _number(item: Any) -> Decimal:
    """A number as typed. Raises _RefusedError on anything else."""
    if isinstance(item, bool) or not isinstance(item, int | float | Decimal):
        raise _RefusedError(f"{item!r} is not a number")
    number = Decimal(repr(item)) if isinstance(item, float) else Decimal(item)
    if not number.is_finite() or not math.isfinite(float(number)):
        raise _RefusedError(f"{item} is not a finite number")
    return number


def _read(key: Key, table: Mapping[str, Any]) -> Any:
    """A key's value, or its default. Raises _RefusedError."""
    if key.name not in table:
        if key.required:
            raise _RefusedError("missing")
        return _default(key)
    found = table[key.name]
    if key.dimension == "text":
        if not isinstance(found, str):
            raise _RefusedError(f"must be text in quotes, not {found!r}")
        return found
    if key.dimension == "moment":
        if not isinstance(found, datetime):
            raise _RefusedError("must be a date and time, as 2026-03-14T10:30:00-06:00")
        return found
    if key.dimension in _CHOICES:
        return _choice(found, _CHOICES[key.dimension])
    if key.dimension == "count":
        return _count(found)
    if key.dimension == "number":
        number = _number(found)
        if not float(number) > 0.0:
            raise _RefusedError(f"{found} is not above 0")
        return number
    return _quantity(key, found)


_CHOICES = {"side": ("intake", "exhaust"), "reading": (VOLUME_FLOW, PERCENT_OF_RANGE)}


def _default(key: Key) -> Any:
    if not key.default:
        return "" if key.dimension == "text" else None
    if key.dimension == "count":
        return int(key.default)
    if key.dimension == "number":
        return Decimal(key.default)
    return key.default if key.dimension in _CHOICES else _quantity(key, key.default)


def _choice(found: Any, choices: tuple[str, ...]) -> str:
    if found not in choices:
        raise _RefusedError(f"{found!r} is not one of {', '.join(choices)}")
    return str(found)


def _count(found: Any) -> int:
    if isinstance(found, bool) or not isinstance(found, int):
        raise _RefusedError(f"{found!r} is not a whole number")
    if not 1 <= found <= 1000:
        raise _RefusedError(f"{found} is not a number of valves")
    return found


def _quantity(key: Key, found: Any) -> units.Quantity:
    if not isinstance(found, str):
        raise _RefusedError(
            f'must be a quantity in quotes with its unit, as "28 inH2O", not {found!r}'
        )
    try:
        if key.dimension == "leakage":
            quantity = _leakage_quantity(found)
        else:
            quantity = units.parse(found, key.dimension, UNITS[key.dimension])
    except units.UnitError as error:
        raise _RefusedError(str(error)) from None
    if key.bound == "positive" and not quantity.si > 0.0:
        nothing = "absolute zero" if key.dimension == "temperature" else "0"
        raise _RefusedError(f"{found} is not above {nothing}")
    if key.bound == "not negative" and quantity.si < 0.0:
        raise _RefusedError(f"{found} is below 0")
    if key.field == "humidity" and quantity.si > 1.0:
        raise _RefusedError(f"{found} is above 100 %")
    if key.field == "seat_angle" and not 1.0 <= float(quantity.number) <= 89.0:
        raise _RefusedError(f"{found} is outside 1 to 89 deg")
    return quantity


def _leakage_quantity(found: str) -> units.Quantity:
    dimension = "ratio" if found.rstrip().endswith("%") else "volume flow"
    return units.parse(found, dimension, UNITS[dimension])
