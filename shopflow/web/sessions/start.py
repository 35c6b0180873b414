"""What a flow test's form starts from."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from flask import request

from shopflow.models import JobHead
from shopflow.services import benches, entries, opentests, sessions
from shopflow.web.addresses import LARGEST_KEY
from shopflow.web.auth import signed_in
from shopflow.web.context import local_zone, system, today
from shopflow.web.db import db
from shopflow.web.sessions.forms import start_values


def values(stay: JobHead) -> dict[str, Any]:
    """The test being taken as it was typed, else a new one set up as far as it is known."""
    going_on = opentests.of_head(db(), stay)
    page = {"writer": opentests.new_key()}
    if going_on is not None:
        seen = {"entry": going_on.key, "seen": str(going_on.count)}
        return nested(going_on.typed) | page | seen
    return _new(stay) | page | {"entry": opentests.new_key(), "seen": "0"}


def nested(typed: Mapping[str, str]) -> dict[str, Any]:
    """A form's values from its fields' names, as "rows-0-lift"."""
    found: dict[str, Any] = {}
    rows: dict[int, dict[str, str]] = {}
    for name, text in typed.items():
        table, _, rest = name.partition("-")
        if not rest:
            found[name] = text
        elif table == "rows":
            place, _, column = rest.partition("-")
            rows.setdefault(int(place), {})[column] = text
        else:
            found.setdefault(table, {})[rest] = text
    return found | {"rows": [rows[place] for place in sorted(rows)]}


def _new(stay: JobHead) -> dict[str, Any]:
    """The head's last session carried over, the valve as last measured, the bench as asked."""
    last = sessions.latest(db(), stay)
    values = start_values(sessions.document(last)) if last else _blank()
    values["operator"] = signed_in().name
    values["measured_at"] = f"{datetime.now(local_zone()):%Y-%m-%d %H:%M}"
    values["stage"], values["title"] = "", ""
    done = [step for step in stay.operations if not step.is_open]
    values["after"] = str(done[-1].id) if done else ""
    _use_measurements(values, stay)
    range_id = request.args.get("range", "")
    if range_id.isdecimal() and int(range_id) <= LARGEST_KEY:
        _use_range(values, int(range_id))
    return values


def _use_measurements(values: dict[str, Any], stay: JobHead) -> None:
    """The valve and port as last measured, which counts for more than the last test's."""
    side, cylinder = values.get("side") or "intake", values.get("cylinder") or ""
    found = entries.measured(stay, side, cylinder)
    area = found.pop("area", None)
    values["valve"] = {**values.get("valve", {}), **found}
    if area:
        values["port"] = {"area": area}


def _blank() -> dict[str, Any]:
    """A set-up in the shop's own units."""
    us = system().unit("flow") == "cfm"
    return {
        "air": {"humidity": "50 %"},
        "valve": {"count": "1"},
        "bench": {"test_pressure": "28 inH2O", "leakage": "0 cfm", "calibration_factor": "1.0"},
        "lift_unit": "in" if us else "mm",
        "flow_unit": "cfm" if us else "L/s",
        "rows": [{"lift": f"{0.05 * step:.3f}" if us else str(step)} for step in range(1, 11)],
    }


def _use_range(values: dict[str, Any], range_id: int) -> None:
    """Set up for a range of a bench, with the calibration in force today."""
    chosen = benches.get_range(db(), range_id)
    bench = values["bench"] = {**values.get("bench", {}), "name": chosen.bench.name}
    bench["reading"] = chosen.bench.reading.value
    if chosen.full_scale is not None:
        bench["range"] = chosen.full_scale.text
        values["flow_unit"] = "%"
    if chosen.element_kind:
        values["flow_unit"] = "inH2O" if system().unit("flow") == "cfm" else "Pa"
        bench |= benches.element_as_typed(chosen)
    calibration = chosen.calibration_on(today())
    if calibration is not None:
        bench["calibration_id"] = calibration.identifier
        bench["calibration_factor"] = str(calibration.factor)
        stated = calibration.expanded_uncertainty.text
        values["uncertainty"] = {**values.get("uncertainty", {}), "calibration": stated}
