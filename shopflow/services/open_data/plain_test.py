"""A flow test in the terms of open data: flows as corrected, in SI, and back to a test file."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any

from shopflow.calc.flowtest import FlowTest
from shopflow.calc.reduction import Reduction
from shopflow.texts import gettext

Plain = dict[str, Any]
DIGITS = 13
"""Significant digits of a number as imported: far beyond any reading."""

_SIZES = {"stem_diameter": "stem_diameter", "seat_angle": "angle", "seat_width": "width",
          "throat_diameter": "throat_diameter"}  # fmt: skip
_STATED = ("repeatability", "pressure", "density", "lift")


def plain_test(reduction: Reduction) -> Plain:
    """Settings and readings of a test, SI, with its effective areas; nothing that names anybody."""
    test, valve = reduction.test, reduction.test.valve
    sizes = {} if valve.seat is None else {
        name: float(getattr(valve.seat, attribute)) for name, attribute in _SIZES.items()
    }  # fmt: skip
    if test.port_area is not None:
        sizes["port_area"] = test.port_area
    return {
        "barometer": test.barometer,
        "temperature": test.temperature,
        "humidity": test.humidity,
        "head_diameter": valve.head_diameter,
        "valve_count": valve.count,
        **sizes,
        "test_pressure": test.test_pressure,
        "reference_pressure": test.reference_pressure,
        "uncertainty": _uncertainty(reduction),
        "lifts": reduction.lifts.tolist(),
        "flows": _flows(reduction),
        "effective_area": reduction.effective_area.tolist(),
    }


def _flows(reduction: Reduction) -> list[list[float]]:
    """The runs at each lift, corrected and brought to the test pressure, m3/s."""
    terms, test = reduction.terms, reduction.test
    if terms.by_run is not None:
        # Each through its own effective area, so that their mean gives the area of the test.
        return [
            [float(run.flow / run.flux * flux) for run in runs]
            for runs, flux in zip(terms.by_run, terms.flux.tolist(), strict=True)
        ]
    return [
        [float(factor * (run - leakage)) for run in runs]
        for runs, factor, leakage in zip(
            test.restated_runs, terms.factor.tolist(), terms.leakage.tolist(), strict=True
        )
    ]


def _uncertainty(reduction: Reduction) -> Plain:
    """Stated uncertainties of the readings; that of a fit and of a metering element is put into the
    calibration's."""
    test, factor = reduction.test, float(reduction.terms.factor.max())
    stated = test.uncertainty
    values = {name: getattr(stated, name) for name in _STATED}
    values["calibration"] = _calibration(test)
    values["leakage"] = None if stated.leakage is None else stated.leakage * factor
    values["resolution"] = None if test.divisions is None else max(test.divisions) * factor
    return {name: float(value) for name, value in values.items() if value is not None}


def _calibration(test: FlowTest) -> float | None:
    stated = test.uncertainty
    fitted = test.fitted_standard
    of_fit = float(max(fitted)) if hasattr(fitted, "__iter__") else float(fitted)
    others = math.hypot(of_fit, stated.element, stated.element_diameters, stated.element_expansion)
    if stated.calibration is None and not others:
        return None
    return math.hypot(stated.calibration or 0.0, 2.0 * others)


def file_content(plain: Mapping[str, Any], stage: str, cylinder: str) -> Plain:
    """A test of open data as the contents of a test file, ready to be described."""
    seat = {name: _quantity(plain[name], *_UNITS[name]) for name in _SIZES if name in plain}
    port = {"port": {"area": _quantity(plain["port_area"], 1e6, "mm2")}}
    return {
        "schema": 1,
        "title": gettext("Imported open data"),
        "stage": stage,
        "side": plain["side"],
        "cylinder": cylinder,
        "measured_at": datetime.fromisoformat(f"{plain['month']}-01T00:00:00"),
        "air": {
            "barometer": _quantity(plain["barometer"], 1.0, "Pa"),
            "temperature": _quantity(plain["temperature"], 1.0, "K"),
            "humidity": _quantity(plain["humidity"], 100.0, "%"),
        },
        "valve": {
            "head_diameter": _quantity(plain["head_diameter"], 1e3, "mm"),
            "count": plain["valve_count"],
            **seat,
        },
        **(port if "port_area" in plain else {}),
        "bench": {
            "test_pressure": _quantity(plain["test_pressure"], 1.0, "Pa"),
            "reference_pressure": _quantity(plain["reference_pressure"], 1.0, "Pa"),
        },
        "uncertainty": {
            name: _quantity(value, *_UNITS_OF_UNCERTAINTY[name])
            for name, value in plain.get("uncertainty", {}).items()
        },
        "readings": {
            "lift_unit": "mm",
            "flow_unit": "L/s",
            "lift": [_number(lift, 1e3) for lift in plain["lifts"]],
            "flow": [[_number(run, 1e3) for run in runs] for runs in plain["flows"]],
        },
    }


_UNITS = {
    "stem_diameter": (1e3, "mm"),
    "seat_angle": (180.0 / math.pi, "deg"),
    "seat_width": (1e3, "mm"),
    "throat_diameter": (1e3, "mm"),
}
_UNITS_OF_UNCERTAINTY = {
    **dict.fromkeys(("calibration", "repeatability", "pressure", "density"), (100.0, "%")),
    "lift": (1e3, "mm"),
    "leakage": (1e3, "L/s"),
    "resolution": (1e3, "L/s"),
}


def _number(value: float, scale: float) -> Decimal:
    """A number in another unit, without digits that only a change of unit makes."""
    return Decimal(f"{value * scale:.{DIGITS}g}")


def _quantity(value: float, scale: float, unit: str) -> str:
    return f"{_number(value, scale)} {unit}"
