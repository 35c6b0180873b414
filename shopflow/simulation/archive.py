"""An export for simulation as CSV, as JSON, and as both with a README in one zip archive."""

from __future__ import annotations

import io
import json
from collections.abc import Sequence
from datetime import datetime
from typing import Any
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from shopflow.calc.simulation_results import ON_MORE_AREAS
from shopflow.simulation.columns import COLUMNS
from shopflow.simulation.port import TestedPort, untested
from shopflow.simulation.readme import JSON, README, TABLE, readme
from shopflow.spreadsheet import csv_text
from shopflow.testfile.results import results_json
from shopflow.units import Quantity

FORMAT, VERSION = "shopflow simulation", 1

_SIZES = (
    "head_diameter", "stem_diameter", "seat_angle", "seat_width", "throat_diameter", "port_area",
    "barometer", "temperature", "humidity", "test_pressure", "reference_pressure",
)  # fmt: skip
"""Quantities of a test that its JSON states in SI."""


def csv_of(ports: Sequence[TestedPort]) -> str:
    """The table, a row for each lift of each test (RFC 4180)."""
    rows = (
        row
        for port in ports
        for row in zip(*(column.cells(port) for column in COLUMNS), strict=True)
    )
    return csv_text([column.name for column in COLUMNS], rows)


def json_of(ports: Sequence[TestedPort]) -> dict[str, Any]:
    """The tests in SI, each under the keys of `shopflow reduce --json` with more beside them."""
    return {
        "format": FORMAT,
        "version": VERSION,
        "tests": [_test(port) for port in ports],
        "not_tested": [
            {"side": side, "direction": direction} for side, direction in untested(ports)
        ],
    }


def archive(ports: Sequence[TestedPort], at: datetime) -> bytes:
    """Table, JSON and README in a zip archive."""
    file = io.BytesIO()
    content = json.dumps(json_of(ports), allow_nan=False, ensure_ascii=False, indent=1)
    texts = {README: readme(ports, at), TABLE: csv_of(ports), JSON: content + "\n"}
    with ZipFile(file, "w") as zipped:
        for name, text in texts.items():
            entry = ZipInfo(name, at.timetuple()[:6])
            entry.compress_type = ZIP_DEFLATED
            zipped.writestr(entry, text)
    return file.getvalue()


def _test(port: TestedPort) -> dict[str, Any]:
    document, reduction = port.document, port.reduction
    results = results_json(document, reduction)
    more = {row.key: row.of(reduction) for row in ON_MORE_AREAS}
    for index, point in enumerate(results["points"]):
        point |= {
            key: None if values is None else float(values[index]) for key, values in more.items()
        }
    points = results.pop("points")
    upstream, downstream = port.pressures
    return {
        **results,
        "test": port.number,
        "direction": port.direction,
        "engine_type": document.engine_type,
        "head": document.head,
        "cylinder": document.cylinder,
        "measured_at": document.measured_at.isoformat() if document.measured_at else None,
        "valve_count": document.valve_count,
        **{name: _si(getattr(document, name)) for name in _SIZES},
        "upstream_pressure": upstream,
        "downstream_pressure": downstream,
        "pressure_ratio": port.pressure_ratio,
        "upstream_density": port.upstream_density,
        "points": points,
    }


def _si(quantity: Quantity | None) -> float | None:
    return None if quantity is None else quantity.si
