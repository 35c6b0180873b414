"""Defaults of a flow test's form."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from flask import request

from shopflow.calc.meterair import MeterKind
from shopflow.models import BenchSession, Visit
from shopflow.models.places import SIDES
from shopflow.services.bench import (
    bench_records,
    benches,
    calibration_points,
    captures,
    sessions,
    sizes,
    test_drafts,
)
from shopflow.services.bench.bench_records import BenchRecord
from shopflow.services.bench.sizes import Sizes
from shopflow.services.shop.settings import get_shop
from shopflow.texts import gettext
from shopflow.units import pretty_text
from shopflow.web.addresses import LARGEST_KEY
from shopflow.web.auth import signed_in
from shopflow.web.bench.sessions.forms import start_values
from shopflow.web.context import local_zone, system, today
from shopflow.web.db import db

LONGEST_CYLINDER = 20
AIR = ("barometer", "temperature", "humidity")
"""Room air, by the keys of the session file."""


def values(visit: Visit) -> dict[str, Any]:
    """The draft as it was typed, else the defaults of a new test.

    A draft without a reading gives way to the defaults of the port that the address asks for.
    """
    port = chosen_port()
    going_on = test_drafts.of_head(db(), visit)
    page = {"writer": test_drafts.new_key()}
    if going_on is not None:
        last = captures.of_test(db(), going_on.key)[-1:]
        draft = {
            "entry": going_on.key,
            "seen": str(going_on.count),
            "captured": str(last[0].id) if last else "0",
        }
        keeps = going_on.reading_count or port is None
        return (nested(going_on.typed) if keeps else _new(visit, port)) | page | draft
    return _new(visit, port) | page | _new_entry()


def _new_entry() -> dict[str, str]:
    return {"entry": test_drafts.new_key(), "seen": "0", "captured": "0"}


@dataclass(frozen=True)
class ChosenPort:
    """The port that a test is to be taken of; the cylinder is as typed, or empty."""

    side: str
    cylinder: str


def chosen_port() -> ChosenPort | None:
    """The port in the address, or none."""
    side = request.args.get("side", "")
    if side not in SIDES:
        return None
    return ChosenPort(side, request.args.get("cylinder", "").strip()[:LONGEST_CYLINDER])


def nested(typed: Mapping[str, str]) -> dict[str, Any]:
    """A form's values from its fields' names, as "rows-0-lift"."""
    values_by_name: dict[str, Any] = {}
    rows: dict[int, dict[str, str]] = {}
    for name, text in typed.items():
        table, _, rest = name.partition("-")
        if not rest:
            values_by_name[name] = text
        elif table == "rows":
            index, _, column = rest.partition("-")
            rows.setdefault(int(index), {})[column] = text
        else:
            values_by_name.setdefault(table, {})[rest] = text
    return values_by_name | {"rows": [rows[index] for index in sorted(rows)]}


def _new(visit: Visit, port: ChosenPort | None) -> dict[str, Any]:
    """The head's last session carried over, the valve as last measured, the bench as asked."""
    last = _last(visit, port)
    values = start_values(sessions.document(last)) if last else _blank()
    if port is not None:
        values["side"], values["cylinder"] = port.side, port.cylinder
    values["operator"] = signed_in().name
    values["measured_at"] = f"{datetime.now(local_zone()):%Y-%m-%d %H:%M}"
    values["stage"], values["title"] = "", ""
    # What the bench was off another day says nothing of today.
    values.get("uncertainty", {}).pop("day", None)
    done = visit.finished_steps
    values["after"] = str(done[-1].id) if done else ""
    values |= as_fields(sizes_of(visit, values))
    _drop_doubts_of_missing_sizes(values)
    values["air"] = air_of_today()
    altitude = get_shop(db()).altitude
    if altitude is not None:
        values["air"] = {**values["air"], "altitude": altitude.text}
    range_id = request.args.get("range", "")
    if range_id.isdecimal() and int(range_id) <= LARGEST_KEY:
        _use_range(values, int(range_id))
    return values


def _last(visit: Visit, port: ChosenPort | None) -> BenchSession | None:
    """The test whose set-up is carried over: the last of the side chosen, else the last of all."""
    of_side = sizes.last_test(db(), visit, port.side, port.cylinder) if port else None
    return of_side or sessions.latest(db(), visit)


def air_of_today() -> dict[str, str]:
    """Room air of the shop's last test, where that was taken today; else empty."""
    last = sessions.latest_of_shop(db())
    if last is None or _age(last) != 0:
        return {}
    readings = {key: getattr(last, key) for key in AIR}
    return {key: reading.text for key, reading in readings.items() if reading is not None}


def _drop_doubts_of_missing_sizes(values: dict[str, Any]) -> None:
    """Leave out the uncertainty of a size that the test does not start with."""
    sizes_typed = {**values["valve"], "port_area": values["port"]["area"]}
    values["uncertainty"] = {
        key: text
        for key, text in values.get("uncertainty", {}).items()
        if sizes_typed.get(key, "no size")
    }


def range_record(test_pressure: str) -> BenchRecord | None:
    """The record of the range that the page is set up for, at a test pressure as typed, or none."""
    range_id = request.args.get("range", "")
    if not range_id.isdecimal() or int(range_id) > LARGEST_KEY:
        return None
    chosen = benches.get_range(db(), int(range_id))
    return bench_records.of_range(db(), chosen, test_pressure, today())


def sizes_of(visit: Visit, values: Mapping[str, Any]) -> Sizes:
    """The sizes that a test of the side and cylinder in a form's values starts from."""
    return sizes.starting(
        db(), visit, values.get("side") or "intake", (values.get("cylinder") or "").strip()
    )


def as_fields(known_sizes: Sizes) -> dict[str, dict[str, str]]:
    """Sizes by the form's tables; unknown ones are blank."""
    typed = {key: known_sizes.typed.get(key, "") for key in (*sizes.NAMES, "count")}
    area = typed.pop("area")
    return {"valve": typed, "port": {"area": area}}


@dataclass(frozen=True)
class EarlierAir:
    """The room air of the head's last test, where that was made on an earlier day."""

    days: int
    typed: Mapping[str, str]

    @property
    def age(self) -> str:
        """Age of the readings, as "3 days ago"."""
        return "yesterday" if self.days == 1 else gettext("{days} days ago", days=self.days)

    @property
    def words(self) -> str:
        """Barometer, temperature and humidity, as "29.41 inHg, 71.5 degF, 48 %"."""
        return ", ".join(pretty_text(self.typed[key]) for key in AIR if self.typed.get(key))


def earlier_air(visit: Visit) -> EarlierAir | None:
    """Room air from an earlier day, which counts only once somebody confirms it.

    None where room air was read today.
    """
    last = sessions.latest(db(), visit)
    days = _age(last) if last is not None else 0
    if last is None or days <= 0 or air_of_today():
        return None
    return EarlierAir(days, {key: getattr(last, key).text for key in AIR})


def _age(row: BenchSession) -> int:
    """Days since a test was made, as the shop counts them."""
    return (today() - (row.measured_at or row.entered_at).astimezone(local_zone()).date()).days


def _blank() -> dict[str, Any]:
    """A set-up in the shop's own units."""
    us = system().unit("flow") == "cfm"
    return {
        "air": {},
        "valve": {"count": "1"},
        "bench": {"test_pressure": "28 inH2O", "calibration_factor": "1.0"},
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
    record = bench_records.of_range(db(), chosen, bench.get("test_pressure") or "", today())
    bench |= record.bench
    values["uncertainty"] = {**values.get("uncertainty", {}), **record.uncertainty}
    calibration = chosen.calibration_on(today())
    bench |= calibration_points.as_typed(calibration)
    if calibration is not None:
        bench["calibration_id"] = calibration.identifier
        bench["calibration_factor"] = str(calibration.factor)
        if calibration.scale_density is not None:
            bench |= {
                "meter": MeterKind.RESTRICTION.value,
                "scale_density": calibration.scale_density.text,
            }
        stated = calibration.expanded_uncertainty.text
        values["uncertainty"] = {**values.get("uncertainty", {}), "calibration": stated}
