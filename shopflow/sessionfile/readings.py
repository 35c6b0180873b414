"""Checking the arrays of a session file: lifts, runs, and the runs left out."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from shopflow import units
from shopflow.errors import Fault
from shopflow.sessionfile.document import ExcludedRun, indicated, length
from shopflow.sessionfile.keys import EXCLUDED
from shopflow.sessionfile.values import RefusedError, number, shown, suggestion


@dataclass(frozen=True, slots=True)
class Scale:
    """What the arrays are typed in, as far as it could be read."""

    lift_unit: str | None
    flow_unit: str | None
    full_scale: units.Quantity | None
    """What 100 % stands for."""

    leakage: float | None
    """As indicated, m3/s."""

    def flow(self, typed: Decimal) -> float | None:
        """A typed reading in m3/s; None where its unit or range could not be read."""
        if self.flow_unit is None or (self.flow_unit == "%" and self.full_scale is None):
            return None
        return indicated(float(typed), self.flow_unit, self.full_scale)


def unit_of(
    table: Mapping[str, Any], name: str, allowed: tuple[str, ...], faults: list[Fault]
) -> str | None:
    """The unit of one of the arrays."""
    found = table.get(name)
    if isinstance(found, str) and found in allowed:
        return found
    if found is None:
        message = f"missing; use one of {', '.join(allowed)}"
    elif not isinstance(found, str):
        message = f'must be text, as "{allowed[0]}", not {shown(found)}'
    else:
        near = suggestion(found, allowed) or f"; use one of {', '.join(allowed)}"
        message = f"unknown unit {shown(found)}{near}"
    faults.append(Fault(f"readings.{name}", message))
    return None


def read_lifts(table: Mapping[str, Any], scale: Scale, faults: list[Fault]) -> list[Decimal | None]:
    """The lifts, above zero and strictly increasing; None for one that is refused."""
    lifts: list[Decimal | None] = []
    last: Decimal | None = None
    for row, item in enumerate(_array(table, "lift", faults), start=1):
        try:
            last = _lift(item, last, scale.lift_unit)
            lifts.append(last)
        except RefusedError as refused:
            lifts.append(None)
            faults.append(Fault(f"readings.lift[{row}]", f"row {row}: {refused}"))
    return lifts


def _lift(item: Any, last: Decimal | None, unit: str | None) -> Decimal:
    lift = number(item)
    metres = length(lift, unit or "m")
    if metres <= 0.0:
        raise RefusedError(f"{shown(item)} is not above 0")
    if last is not None and metres <= length(last, unit or "m"):
        raise RefusedError(f"{shown(item)} is not above the lift before it, {shown(last)}")
    return lift


def read_flows(
    table: Mapping[str, Any], lifts: list[Decimal | None], scale: Scale, faults: list[Fault]
) -> list[tuple[Decimal, ...]]:
    """The runs at each lift: one or more, not negative, above the leakage."""
    flows = []
    for row, runs in enumerate(_array(table, "flow", faults), start=1):
        where = _row(row, lifts, scale.lift_unit)
        key = f"readings.flow[{row}]"
        if not isinstance(runs, list | tuple):
            message = f"must be an array of runs, as [45.0, 45.5], not {shown(runs)}"
            faults.append(Fault(key, f"{where}: {message}"))
        elif not runs:
            faults.append(Fault(key, f"{where}: no run at this lift"))
        else:
            flows.append(_runs(key, where, runs, scale, faults))
    return flows


def _row(row: int, lifts: list[Decimal | None], unit: str | None) -> str:
    """A row in words, as "row 3 (lift 5.08 mm)"."""
    lift = lifts[row - 1] if row <= len(lifts) else None
    return f"row {row}" if lift is None else f"row {row} (lift {shown(lift)} {unit or ''})"


def _runs(
    key: str, where: str, runs: Sequence[Any], scale: Scale, faults: list[Fault]
) -> tuple[Decimal, ...]:
    clean = []
    for place, item in enumerate(runs, start=1):
        try:
            clean.append(_run(item, scale))
        except RefusedError as refused:
            faults.append(Fault(key, f"{where}, run {place}: {refused}"))
    return tuple(clean)


def _run(item: Any, scale: Scale) -> Decimal:
    typed = number(item)
    if typed < 0:
        raise RefusedError(f"negative reading {shown(item)}")
    flow = scale.flow(typed)
    if flow is not None and scale.leakage is not None and flow <= scale.leakage:
        raise RefusedError(f"reading {shown(item)} is not above the leakage")
    return typed


def _array(table: Mapping[str, Any], name: str, faults: list[Fault]) -> list[Any]:
    """One of the arrays; empty where it is missing or none."""
    found = table.get(name)
    if isinstance(found, list | tuple) and found:
        return list(found)
    if found is None:
        message = "missing"
    elif isinstance(found, list | tuple):
        message = "must have at least one row"
    else:
        message = f"must be an array, not {shown(found)}"
    faults.append(Fault(f"readings.{name}", message))
    return []


def read_excluded(
    found: Any, lifts: list[Decimal | None], flows: list[tuple[Decimal, ...]], faults: list[Fault]
) -> tuple[ExcludedRun, ...]:
    """Readings taken but left out, each with its reason and a place of its own."""
    if not isinstance(found, list | tuple):
        faults.append(Fault("excluded", "must be tables, [[excluded]]"))
        return ()
    clean = []
    for row, item in enumerate(found, start=1):
        try:
            clean.append(_excluded_run(item))
        except RefusedError as refused:
            faults.append(Fault(f"excluded[{row}]", str(refused)))
    if len(clean) == len(found):
        _hold_to_places(clean, lifts, flows, faults)
    return tuple(clean)


def _excluded_run(item: Any) -> ExcludedRun:
    if not isinstance(item, Mapping):
        raise RefusedError("must be a table with lift, run, flow and reason")
    for name in item:
        if name not in EXCLUDED:
            raise RefusedError(f"unknown key {shown(name)}{suggestion(name, EXCLUDED)}")
    for name in EXCLUDED:
        if name not in item:
            raise RefusedError(f"'{name}' is missing")
    lift, flow = number(item["lift"]), number(item["flow"])
    run, reason = item["run"], item["reason"]
    if lift <= 0 or flow < 0:
        raise RefusedError("lift must be above 0 and flow not negative")
    if isinstance(run, bool) or not isinstance(run, int) or run < 1:
        raise RefusedError("'run' must be a whole number from 1")
    if not isinstance(reason, str) or not reason.strip():
        raise RefusedError("'reason' must say why the reading was left out")
    return ExcludedRun(lift, run, flow, reason)


def _hold_to_places(
    excluded: list[ExcludedRun],
    lifts: list[Decimal | None],
    flows: list[tuple[Decimal, ...]],
    faults: list[Fault],
) -> None:
    """Refuse places that the runs at a lift, those kept and those left out, cannot have."""
    taken: dict[Decimal, int] = defaultdict(int)
    for lift, runs in zip(lifts, flows, strict=False):
        if lift is not None:
            taken[lift] += len(runs)
    for item in excluded:
        taken[item.lift] += 1
    places = set()
    for row, item in enumerate(excluded, start=1):
        place = (item.lift, item.run)
        if item.run > taken[item.lift] or place in places:
            message = f"lift {shown(item.lift)} has no run {item.run} left out"
            if place in places:
                message = f"run {item.run} at lift {shown(item.lift)} is left out twice"
            faults.append(Fault(f"excluded[{row}]", message))
        places.add(place)
