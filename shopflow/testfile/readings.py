"""Checking the arrays of a session file: lifts, runs, and the runs left out."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from shopflow import units
from shopflow.errors import FieldError
from shopflow.testfile.document import ExcludedRun, leakage_at, length
from shopflow.testfile.keys import EXCLUDED, PRESSURES
from shopflow.testfile.meter import Meter
from shopflow.testfile.values import RefusedError, number, shown, suggestion
from shopflow.texts import gettext


@dataclass(frozen=True, slots=True)
class Scale:
    """Units of the arrays, as far as they could be read."""

    lift_unit: str | None
    flow_unit: str | None
    meter: Meter
    leakage: float | None
    """As indicated, m3/s."""

    leakage_pressure: float | None
    """Pressure at which it was measured, Pa."""

    test_pressure: float | None
    highest_pressure: float
    """Pressure that the one across the head must stay below, Pa."""

    pressure_unit: str | None = None

    def flow(self, typed: Decimal) -> float | None:
        """A typed reading in m3/s; None where its unit, range or element could not be read."""
        if self.flow_unit is None or not self.meter.reads(self.flow_unit):
            return None
        return self.meter.indicated(float(typed), self.flow_unit)

    def leakage_across(self, pressure: Decimal | None) -> float | None:
        """The leakage at a run's own pressure, or at the test pressure; None where unknown."""
        across = self.test_pressure if pressure is None else self.pressure(pressure)
        if self.leakage is None or self.leakage_pressure is None or across is None:
            return None
        return leakage_at(self.leakage, self.leakage_pressure, across)

    def pressure(self, typed: Decimal) -> float | None:
        """A typed pressure in Pa; None where its unit could not be read."""
        return None if self.pressure_unit is None else units.to_si(float(typed), self.pressure_unit)


def read_lifts(
    table: Mapping[str, Any], scale: Scale, faults: list[FieldError]
) -> list[Decimal | None]:
    """The lifts, above zero and strictly increasing; None for one that is refused."""
    lifts: list[Decimal | None] = []
    last: Decimal | None = None
    for row, item in enumerate(_array(table, "lift", faults), start=1):
        try:
            last = _lift(item, last, scale.lift_unit)
            lifts.append(last)
        except RefusedError as refused:
            lifts.append(None)
            faults.append(
                FieldError(
                    f"readings.lift[{row}]",
                    gettext("row {row}: {refused}", row=row, refused=refused),
                )
            )
    return lifts


def _lift(item: Any, last: Decimal | None, unit: str | None) -> Decimal:
    lift = number(item)
    metres = length(lift, unit or "m")
    if metres <= 0.0:
        raise RefusedError(gettext("{shown} is not above 0", shown=shown(item)))
    if last is not None and metres <= length(last, unit or "m"):
        raise RefusedError(
            gettext(
                "{shown} is not above the lift before it, {shown2}",
                shown=shown(item),
                shown2=shown(last),
            )
        )
    return lift


def read_flows(
    table: Mapping[str, Any],
    lifts: list[Decimal | None],
    pressures: list[tuple[Decimal, ...]],
    scale: Scale,
    faults: list[FieldError],
) -> list[tuple[Decimal, ...]]:
    """The runs at each lift: one or more, not negative, above the leakage."""
    flows = []
    for row, runs in _rows(table, "flow", lifts, scale, faults):
        across = pressures[row - 1] if row <= len(pressures) else ()
        clean = []
        for run, item in enumerate(runs, start=1):
            try:
                clean.append(_run(item, across[run - 1] if run <= len(across) else None, scale))
            except RefusedError as refused:
                faults.append(_fault_of_run("flow", row, run, lifts, scale, refused))
        flows.append(tuple(clean))
    return flows


def read_pressures(
    table: Mapping[str, Any], lifts: list[Decimal | None], scale: Scale, faults: list[FieldError]
) -> list[tuple[Decimal, ...]]:
    """The pressure across the head at each run, where the file has them."""
    if "pressure" not in table:
        return []
    pressures = []
    for row, runs in _rows(table, "pressure", lifts, scale, faults):
        clean = []
        for run, item in enumerate(runs, start=1):
            try:
                clean.append(_pressure(item, scale))
            except RefusedError as refused:
                faults.append(_fault_of_run("pressure", row, run, lifts, scale, refused))
        pressures.append(tuple(clean))
    return pressures


def _rows(
    table: Mapping[str, Any],
    name: str,
    lifts: list[Decimal | None],
    scale: Scale,
    faults: list[FieldError],
) -> Iterator[tuple[int, Sequence[Any]]]:
    """The rows of an array of arrays, each with its number; one that is none is a fault."""
    for row, runs in enumerate(_array(table, name, faults), start=1):
        where, key = _row(row, lifts, scale.lift_unit), f"readings.{name}[{row}]"
        if not isinstance(runs, list | tuple):
            message = gettext(
                "must be an array of runs, as [45.0, 45.5], not {runs}", runs=shown(runs)
            )
            faults.append(FieldError(key, f"{where}: {message}"))
        elif not runs:
            faults.append(FieldError(key, gettext("{where}: no run at this lift", where=where)))
        else:
            yield row, runs


def _fault_of_run(
    name: str,
    row: int,
    run: int,
    lifts: list[Decimal | None],
    scale: Scale,
    refused: RefusedError,
) -> FieldError:
    where = _row(row, lifts, scale.lift_unit)
    return FieldError(
        f"readings.{name}[{row}]",
        gettext("{where}, run {run}: {refused}", where=where, run=run, refused=refused),
    )


def _row(row: int, lifts: list[Decimal | None], unit: str | None) -> str:
    """A row in words, as "row 3 (lift 5.08 mm)"."""
    lift = lifts[row - 1] if row <= len(lifts) else None
    if lift is None:
        return gettext("row {row}", row=row)
    return gettext("row {row} (lift {lift} {unit})", row=row, lift=shown(lift), unit=unit or "")


def _run(item: Any, pressure: Decimal | None, scale: Scale) -> Decimal:
    typed = number(item)
    if typed < 0:
        raise RefusedError(gettext("negative reading {shown}", shown=shown(item)))
    air = scale.meter.metering.air if scale.meter.metering else None
    drop = scale.flow_unit if scale.flow_unit in PRESSURES else None
    if air is not None and drop and units.to_si(float(typed), drop) >= air.pressure:
        raise RefusedError(
            gettext("{shown} is not below the pressure upstream of the element", shown=shown(item))
        )
    flow, leakage = scale.flow(typed), scale.leakage_across(pressure)
    if flow is not None and leakage is not None and flow <= leakage:
        raise RefusedError(gettext("reading {shown} is not above the leakage", shown=shown(item)))
    return typed


def _pressure(item: Any, scale: Scale) -> Decimal:
    typed = number(item)
    across = scale.pressure(typed)
    if typed <= 0:
        raise RefusedError(gettext("pressure {shown} is not above 0", shown=shown(item)))
    if across is not None and across >= scale.highest_pressure:
        raise RefusedError(
            gettext("pressure {shown} is not below the barometer", shown=shown(item))
        )
    return typed


def _array(table: Mapping[str, Any], name: str, faults: list[FieldError]) -> list[Any]:
    """One of the arrays; empty where it is missing or none."""
    rows = table.get(name)
    if isinstance(rows, list | tuple) and rows:
        return list(rows)
    if rows is None:
        message = "missing"
    elif isinstance(rows, list | tuple):
        message = gettext("must have at least one row")
    else:
        message = gettext("must be an array, not {rows}", rows=shown(rows))
    faults.append(FieldError(f"readings.{name}", message))
    return []


def read_excluded(
    tables: Any,
    lifts: list[Decimal | None],
    flows: list[tuple[Decimal, ...]],
    with_pressures: bool,
    faults: list[FieldError],
) -> tuple[ExcludedRun, ...]:
    """Readings taken but left out, each with its reason and a place of its own."""
    if not isinstance(tables, list | tuple):
        faults.append(FieldError("excluded", gettext("must be tables, [[excluded]]")))
        return ()
    clean = []
    for row, item in enumerate(tables, start=1):
        try:
            clean.append(_excluded_run(item, with_pressures))
        except RefusedError as refused:
            faults.append(FieldError(f"excluded[{row}]", str(refused)))
    if len(clean) == len(tables):
        _hold_to_places(clean, lifts, flows, faults)
    return tuple(clean)


def _excluded_run(item: Any, with_pressures: bool) -> ExcludedRun:
    needed = (*EXCLUDED, "pressure") if with_pressures else EXCLUDED
    if not isinstance(item, Mapping):
        raise RefusedError(
            gettext(
                "must be a table with {needed} and {needed2}",
                needed=", ".join(needed[:-1]),
                needed2=needed[-1],
            )
        )
    for name in item:
        if name not in needed:
            raise RefusedError(
                gettext(
                    "unknown key {shown}{suggestion}",
                    shown=shown(name),
                    suggestion=suggestion(name, needed),
                )
            )
    for name in needed:
        if name not in item:
            raise RefusedError(gettext("'{name}' is missing", name=name))
    lift, flow = number(item["lift"]), number(item["flow"])
    pressure = number(item["pressure"]) if with_pressures else None
    run, reason = item["run"], item["reason"]
    if lift <= 0 or flow < 0:
        raise RefusedError(gettext("lift must be above 0 and flow not negative"))
    if pressure is not None and pressure <= 0:
        raise RefusedError(gettext("pressure must be above 0"))
    if isinstance(run, bool) or not isinstance(run, int) or run < 1:
        raise RefusedError(gettext("'run' must be a whole number from 1"))
    if not isinstance(reason, str) or not reason.strip():
        raise RefusedError(gettext("'reason' must say why the reading was excluded"))
    return ExcludedRun(lift, run, flow, reason, pressure)


def _hold_to_places(
    excluded: list[ExcludedRun],
    lifts: list[Decimal | None],
    flows: list[tuple[Decimal, ...]],
    faults: list[FieldError],
) -> None:
    """Refuse places that the runs at a lift, those kept and those left out, cannot have."""
    runs_at: dict[Decimal, int] = defaultdict(int)
    for lift, runs in zip(lifts, flows, strict=False):
        if lift is not None:
            runs_at[lift] += len(runs)
    for item in excluded:
        runs_at[item.lift] += 1
    keys = set()
    for row, item in enumerate(excluded, start=1):
        key = (item.lift, item.run)
        if item.run > runs_at[item.lift] or key in keys:
            message = gettext(
                "lift {lift} has no run {run} to exclude", lift=shown(item.lift), run=item.run
            )
            if key in keys:
                message = gettext(
                    "run {run} at lift {lift} is excluded twice",
                    run=item.run,
                    lift=shown(item.lift),
                )
            faults.append(FieldError(f"excluded[{row}]", message))
        keys.add(key)
