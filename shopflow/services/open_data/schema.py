"""The file of open data, field by field: what is not listed here leaves no shop.

JSON Schema (draft 2020-12). Everything is in SI units: m, m2, m3/s, Pa, K, rad and plain ratios.
"""

from __future__ import annotations

from typing import Any

from shopflow.services.shop.built_in_kinds import STEP_CODES

FORMAT, VERSION = "shopflow open data", 1
KEY = "[0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}"
STAGES = ("as received", "after work")
MOST_HEADS, MOST_TESTS, MOST_LIFTS, MOST_RUNS = 20_000, 500, 200, 50
Schema = dict[str, Any]


def _object(required: Schema, optional: Schema | None = None) -> Schema:
    return {
        "type": "object",
        "properties": {**required, **(optional or {})},
        "required": list(required),
        "additionalProperties": False,
    }


def _positive(description: str) -> Schema:
    return {"type": "number", "exclusiveMinimum": 0, "description": description}


def _from_zero(description: str) -> Schema:
    return {"type": "number", "minimum": 0, "description": description}


def _count(description: str, most: int) -> Schema:
    return {"type": "integer", "minimum": 1, "maximum": most, "description": description}


def _list(items: Schema, most: int, description: str, least: int = 1) -> Schema:
    return {
        "type": "array",
        "items": items,
        "minItems": least,
        "maxItems": most,
        "description": description,
    }


ENGINE = _object(
    {
        "cylinders": _count("Number of cylinders", 64),
        "valves_per_cylinder": _count("Valves of a cylinder", 8),
    },
    {
        "bore": _positive("Bore, m"),
        "stroke": _positive("Stroke, m"),
        "family": {
            "type": "string",
            "maxLength": 200,
            "description": "Name of the engine type, only where the owner of the shop chose so",
        },
    },
)
UNCERTAINTY = _object(
    {},
    {
        "calibration": _from_zero("Expanded (k = 2), relative, of the calibration"),
        "repeatability": _from_zero("Standard, relative, of one reading"),
        "pressure": _from_zero("Standard, relative, of the test pressure"),
        "density": _from_zero("Standard, relative, of the air density"),
        "lift": _from_zero("Standard, of the lift, m"),
        "leakage": _from_zero("Standard, of the leakage, m3/s"),
        "resolution": _from_zero("One division of the scale, m3/s"),
    },
)
TEST = _object(
    {
        "side": {
            "enum": ["intake", "exhaust"],
            "description": "intake: air drawn into the cylinder; exhaust: air blown out of it",
        },
        "month": {
            "type": "string",
            "pattern": "[0-9]{4}-(0[1-9]|1[0-2])",
            "description": "Month of the test; days are not published",
        },
        "port": _count("Number of the port among those of its side", 64),
        "stage": {"enum": list(STAGES), "description": "Before or after the shop's work"},
        "steps": _list(
            {"enum": list(STEP_CODES)}, 50, "Steps that cut metal since the port's last test", 0
        ),
        "barometer": _positive("Of the room, absolute, Pa"),
        "temperature": _positive("Of the room's air, K"),
        "humidity": {
            **_from_zero("Relative humidity of the room's air, 0 to 1"),
            "maximum": 1,
        },
        "head_diameter": _positive("Diameter of the valve head, m"),
        "valve_count": _count("Valves lifted together", 8),
        "test_pressure": _positive("Across the head, Pa"),
        "reference_pressure": _positive("Flows are reported at, Pa"),
        "lifts": _list(_positive("m"), MOST_LIFTS, "Lifts, increasing, m"),
        "flows": _list(
            _list(_positive("m3/s"), MOST_RUNS, "Runs at one lift"),
            MOST_LIFTS,
            "Volume flow at room density and the test pressure, corrected for calibration and "
            "leakage: the runs at each lift, m3/s",
        ),
        "effective_area": _list(
            _positive("m2"), MOST_LIFTS, "Effective area at each lift, as shopflow reduce, m2"
        ),
    },
    {
        "stem_diameter": _positive("Diameter of the stem, m"),
        "seat_angle": _positive("From the plane of the valve head, rad"),
        "seat_width": _positive("On the cone face, m"),
        "throat_diameter": _positive("Diameter of the throat, m"),
        "port_area": _positive("Cross-section that velocity is quoted at, m2"),
        "uncertainty": UNCERTAINTY,
    },
)
HEAD = _object(
    {
        "id": {
            "type": "string",
            "pattern": KEY,
            "description": "Random identifier (UUID version 4); it says nothing of the head",
        },
        "engine": ENGINE,
        "tests": _list(TEST, MOST_TESTS, "Flow tests of the head, in their order"),
    }
)
SCHEMA: Schema = {
    "$schema": "https://json-schema.org/draft/2020-12/schema",
    "title": "Flow tests of cylinder heads as open data",
    "description": "Flow tests without names, in SI units.",
    **_object(
        {
            "format": {"const": FORMAT},
            "version": {"const": VERSION},
            "heads": _list(HEAD, MOST_HEADS, "Heads, in no order that says anything", 0),
        }
    ),
}
